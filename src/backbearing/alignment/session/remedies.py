"""Lenses that found no turn: why, and what would save them: each change was tried."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.late_stands import spoilers
from backbearing.base.numbers import num
from backbearing.plan.session import LeftOut

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.schedule import Schedule
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.session.tasks import Task

EARLIER_MINUTES: Final = (15, 30, 45, 60, 90, 120, 180)
FEWER_SHARES: Final = (0.75, 0.5, 0.25)
SHARES: Final = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4)


def left_out(setup: SessionSetup, starts: Sequence[Starts], chosen: Schedule, i: int) -> LeftOut:
    """Say why a lens has no turn and what would give it one beside those that have theirs."""
    task = setup.tasks[i]
    alone = bool(starts[i].allowed.any()) if setup.times else False
    kept = {turn.job for turn in chosen.turns}
    tried = [
        _earlier(setup, starts, kept, i),
        _later(setup, starts, kept, i),
        _without_breaks(setup, starts, kept, i),
        _fewer_minutes(setup, starts, kept, i),
        _other_share(setup, starts, kept, i),
        _instead(setup, starts, kept, i),
    ]
    remedies = [one for one in tried if one]
    if not alone and not task.night.usable and not task.night.compromises:
        remedies.append("`backbearing nights` lists the evenings that have a window.")
    if not alone:
        remedies += [one.sentence for one in task.night.compromises[:3]]
    return LeftOut(task.lens, task.minutes, _why(setup, task, starts, alone, i), tuple(remedies))


def _why(setup: SessionSetup, task: Task, starts: Sequence[Starts], alone: bool, i: int) -> str:
    if alone:
        return "It could have a turn alone, but not beside the others."
    if not setup.times or not task.night.usable:
        return task.night.sentence
    causes = starts[i].causes
    # The starts that the fewest things spoil are the ones worth speaking of.
    count = np.sum(list(causes.values()), axis=0)
    near = count == count.min()
    names = [name for name, holds in causes.items() if holds[near].any()]
    most = f"its frames take {num(task.minutes.frames_minutes)} min"
    return f"No start holds for all of its turn ({most}): {spoilers(names)}."


def _fits(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> bool:
    """Whether all that had a turn keep one, and the lens gets one too."""
    if not starts[i].allowed.any():
        return False
    which = sorted(kept | {i})
    found = setup.best([setup.tasks[j] for j in which], [starts[j] for j in which])
    return len(found.turns) == len(which)


def _all_with(
    setup: SessionSetup, limits_change: dict[str, object]
) -> tuple[SessionSetup, list[Starts]]:
    changed = replace(setup, limits=replace(setup.limits, **limits_change))  # type: ignore[arg-type]
    return changed, changed.starts(changed.tasks)


def _earlier(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    first = setup.limits.not_before
    if first is None or not setup.times:
        return ""
    free, without = _all_with(setup, {"not_before": None})
    if not _fits(free, without, kept, i):
        return ""
    for minutes in EARLIER_MINUTES:
        sooner = first - dt.timedelta(minutes=minutes)
        again, changed = _all_with(setup, {"not_before": sooner})
        if _fits(again, changed, kept, i):
            return f"Begin {minutes} min earlier, at {setup.sky.clock(sooner)}: then it fits."
    return "Begin earlier than not_before by more than three hours: then it fits."


def _later(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    if setup.limits.not_after is None or not setup.times:
        return ""
    free, without = _all_with(setup, {"not_after": None})
    if not _fits(free, without, kept, i):
        return ""
    return f"Stay later than {setup.sky.clock(setup.limits.not_after)}: then it fits."


def _without_breaks(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    if not setup.limits.pauses or not setup.times:
        return ""
    free, without = _all_with(setup, {"pauses": ()})
    return "Leave out the breaks: then it fits." if _fits(free, without, kept, i) else ""


def _fewer_minutes(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    task = setup.tasks[i]
    asked = task.minutes.frames_minutes
    fewer = {max(1.0, float(round(asked * share))) for share in FEWER_SHARES}
    if task.night.stand is not None:
        # From one stand frames can run for twice the play, half before and half after.
        fewer.add(max(1.0, float(int(2.0 * task.night.stand.play_minutes))))
    for frames in sorted((f for f in fewer if f < asked), reverse=True):
        shorter = replace(task, minutes=replace(task.minutes, frames_minutes=frames))
        if _fits_as(setup, starts, kept, i, shorter):
            return f"Give its frames {num(frames)} min instead of {num(asked)}."
    return ""


def _other_share(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    task = setup.tasks[i]
    asked = task.scene.framing.share
    for factor in SHARES:
        share = round(asked * factor, 2)
        smaller = replace(
            task,
            scene=task.scene.with_share(share),
            request=replace(task.request, share=share),
        )
        if share > 0.0 and _fits_as(setup, starts, kept, i, smaller):
            return f"Ask for a share of {num(share)} instead of {num(asked)}: then it fits."
    return ""


def _fits_as(
    setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int, task: Task
) -> bool:
    if not setup.times:
        return False
    tasks = tuple(task if j == i else other for j, other in enumerate(setup.tasks))
    own = setup.starts([task])[0]
    changed = [own if j == i else other for j, other in enumerate(starts)]
    return _fits(replace(setup, tasks=tasks), changed, kept, i)


def _instead(setup: SessionSetup, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    """Name a lens that would have to stay behind for this one."""
    for other in sorted(kept):
        if _fits(setup, starts, kept - {other}, i):
            return f"It fits if {setup.tasks[other].lens.label} stays behind."
    return ""
