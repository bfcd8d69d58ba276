"""Lenses that found no turn: why, and what would save them: each change was tried."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from backbearing.alignment.session.late_stands import spoilers
from backbearing.plan.session import LeftOut

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.schedule import Schedule
    from backbearing.alignment.session.session_setup import Work
    from backbearing.alignment.session.tasks import Task

EARLIER_MINUTES: Final = (15, 30, 45, 60, 90, 120, 180)
FEWER_SHARES: Final = (0.75, 0.5, 0.25)
SHARES: Final = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4)


def left_out(work: Work, starts: Sequence[Starts], chosen: Schedule, i: int) -> LeftOut:
    """Say why a lens has no turn and what would give it one beside those that have theirs."""
    task = work.tasks[i]
    alone = bool(starts[i].allowed.any()) if work.times else False
    kept = {turn.job for turn in chosen.turns}
    tried = [
        _earlier(work, starts, kept, i),
        _later(work, starts, kept, i),
        _without_breaks(work, starts, kept, i),
        _fewer_minutes(work, starts, kept, i),
        _other_share(work, starts, kept, i),
        _instead(work, starts, kept, i),
    ]
    remedies = [one for one in tried if one]
    if not alone and not task.night.usable and not task.night.compromises:
        remedies.append("`backbearing nights` lists the evenings that have a window.")
    if not alone:
        remedies += [one.sentence for one in task.night.compromises[:3]]
    return LeftOut(task.lens, task.minutes, _why(work, task, starts, alone, i), tuple(remedies))


def _why(work: Work, task: Task, starts: Sequence[Starts], alone: bool, i: int) -> str:
    if alone:
        return "It could have a turn alone, but not beside the others."
    if not work.times or not task.night.usable:
        return task.night.sentence
    causes = starts[i].causes
    # The starts that the fewest things spoil are the ones worth speaking of.
    count = np.sum(list(causes.values()), axis=0)
    near = count == count.min()
    names = [name for name, holds in causes.items() if holds[near].any()]
    most = f"its frames take {task.minutes.frames_minutes:g} min"
    return f"No start holds for all of its turn ({most}): {spoilers(names)}."


def _fits(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> bool:
    """Whether all that had a turn keep one, and the lens gets one too."""
    if not starts[i].allowed.any():
        return False
    which = sorted(kept | {i})
    found = work.best([work.tasks[j] for j in which], [starts[j] for j in which])
    return len(found.turns) == len(which)


def _all_with(work: Work, limits_change: dict[str, object]) -> tuple[Work, list[Starts]]:
    changed = replace(work, limits=replace(work.limits, **limits_change))  # type: ignore[arg-type]
    return changed, [changed.starts(task) for task in changed.tasks]


def _earlier(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    first = work.limits.not_before
    if first is None or not work.times:
        return ""
    free, without = _all_with(work, {"not_before": None})
    if not _fits(free, without, kept, i):
        return ""
    for minutes in EARLIER_MINUTES:
        sooner = first - dt.timedelta(minutes=minutes)
        again, changed = _all_with(work, {"not_before": sooner})
        if _fits(again, changed, kept, i):
            return f"Begin {minutes} min earlier, at {_clock(work, sooner)}: then it fits."
    return "Begin earlier than not_before by more than three hours: then it fits."


def _later(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    if work.limits.not_after is None or not work.times:
        return ""
    free, without = _all_with(work, {"not_after": None})
    if not _fits(free, without, kept, i):
        return ""
    return f"Stay later than {_clock(work, work.limits.not_after)}: then it fits."


def _without_breaks(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    if not work.limits.pauses or not work.times:
        return ""
    free, without = _all_with(work, {"pauses": ()})
    return "Leave out the breaks: then it fits." if _fits(free, without, kept, i) else ""


def _fewer_minutes(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    task = work.tasks[i]
    asked = task.minutes.frames_minutes
    fewer = {max(1.0, float(round(asked * share))) for share in FEWER_SHARES}
    if task.night.stand is not None:
        # From one stand frames can run for twice the play, half before and half after.
        fewer.add(max(1.0, float(int(2.0 * task.night.stand.play_minutes))))
    for frames in sorted((f for f in fewer if f < asked), reverse=True):
        shorter = replace(task, minutes=replace(task.minutes, frames_minutes=frames))
        if _fits_as(work, starts, kept, i, shorter):
            return f"Give its frames {frames:g} min instead of {asked:g}."
    return ""


def _other_share(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    task = work.tasks[i]
    asked = task.scene.framing.share
    for factor in SHARES:
        share = round(asked * factor, 2)
        smaller = replace(
            task,
            scene=task.scene.with_share(share),
            request=replace(task.request, share=share),
        )
        if share > 0.0 and _fits_as(work, starts, kept, i, smaller):
            return f"Ask for a share of {share:g} instead of {asked:g}: then it fits."
    return ""


def _fits_as(work: Work, starts: Sequence[Starts], kept: set[int], i: int, task: Task) -> bool:
    if not work.times:
        return False
    tasks = tuple(task if j == i else other for j, other in enumerate(work.tasks))
    changed = [work.starts(task) if j == i else other for j, other in enumerate(starts)]
    return _fits(replace(work, tasks=tasks), changed, kept, i)


def _instead(work: Work, starts: Sequence[Starts], kept: set[int], i: int) -> str:
    """Name a lens that would have to stay behind for this one."""
    for other in sorted(kept):
        if _fits(work, starts, kept - {other}, i):
            return f"It fits if {work.tasks[other].lens.label} stays behind."
    return ""


def _clock(work: Work, time: dt.datetime) -> str:
    return f"{time.astimezone(ZoneInfo(work.zone)):%H:%M}"
