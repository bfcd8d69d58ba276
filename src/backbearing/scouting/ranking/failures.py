"""Why a candidate cannot be ranked: hard failures, kept apart from low scores."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.numbers import num
from backbearing.sky.targets import CORE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.candidate_stands import CandidateGroup
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.tally import Tallied
    from backbearing.sky.targets import Target


def failures(
    context: Context, group: CandidateGroup, tallied: Tallied, closed: NDArray[np.bool_]
) -> list[str]:
    """Say for each candidate what rules it out; empty where nothing does.

    Parameters
    ----------
    closed : ndarray of bool, shape (n,)
        Whether the candidate's own land is marked closed.
    """
    has = np.asarray((tallied.best[:, :, 0] >= 0.0).any(axis=1))
    said = []
    for i, (fine, shut) in enumerate(zip(has.tolist(), closed.tolist(), strict=True)):
        if shut:
            said.append("It stands on land marked closed.")
        else:
            said.append("" if fine else _why(context, group, tallied, i))
    return said


def _why(context: Context, group: CandidateGroup, tallied: Tallied, i: int) -> str:  # noqa: PLR0911
    task, name = context.task, target_word(context.task.target)
    if not np.isfinite(group.ground_m[i]):
        state = context.elevation.state_at(lat=float(group.lat[i]), lon=float(group.lon[i]))
        where = state.name.lower().replace("_", " ")
        return {
            "outside": "It lies outside the elevation raster.",
            "sea": "It stands in open water, as the elevation raster has it.",
        }.get(where, f"The ground under it is unknown to the elevation raster ({where}).")
    stretches = tallied.stretches
    if not stretches.darkness[i]:
        return f"The Sun never goes {num(-task.night.sun_below_deg)}° down on these nights."
    if stretches.first[i] == stretches.first[i + 1]:
        return "The Moon is up, and brighter than asked, in all the dark time of these nights."
    if not tallied.up[i]:
        return f"The {name} is never above the horizontal in the dark time of these nights."
    if not any(np.isfinite(question.asked.level_m[i]) for question in tallied.questions):
        return "It is too low to fill the asked share of any lens's frame from eye height."
    if not any(one.solved[i] for one in tallied.looks):
        return "No lens has a stand: the ground where they would be is unknown or unfit."
    if not any(one.feasible[i] for one in tallied.looks):
        return (
            "No lens has a feasible stand: the ground is unknown, steeper than "
            f"{num(task.request.steepest_deg)}°, or barred."
        )
    if not any(one.framed[i] for one in tallied.looks):
        return (
            f"No lens holds it and the {name} in one frame in the dark time, as asked, with the "
            f"{name} not behind it."
        )
    return _never_clear(tallied, i, name, task.night.clear_by_deg)


def _never_clear(tallied: Tallied, i: int, name: str, asked_deg: float) -> str:
    most = np.array([one.most_clear_deg[i] for one in tallied.looks])
    if np.isnan(most).all():
        return f"The skyline towards the {name} is unknown from every stand."
    best = float(np.nanmax(most))
    if best >= asked_deg:
        return f"The {name} clears the ridge only when no lens's frame holds it in the dark."
    where = f"{num(-best, 1)}° below" if best < 0.0 else f"{num(best, 1)}° above"
    return (
        f"The {name} never stands {num(asked_deg)}° clear of the ridge in the dark: at best it is "
        f"{where} it."
    )


def target_word(target: Target) -> str:
    """Call the target in a sentence: ``core``, or its name."""
    return "core" if target == CORE else target.name
