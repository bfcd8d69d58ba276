"""Scored candidates put into rank order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.outing.known_cover import known_cover
from backbearing.plan.ranking import Ranking, RankingAsked

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.scouting.ranking.columns import ChunkResult
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates


def sort_key(score: NDArray[np.float64]) -> NDArray[np.float64]:
    """What rises from the best to the worst; failures, which have no score, come last."""
    return -np.nan_to_num(score, nan=-1.0)


def ranking_of(
    task: ScoutTask, candidates: Candidates, result: ChunkResult, notes: tuple[str, ...]
) -> Ranking:
    """Put the joined chunks, rows as in the candidates' frame, into rank order.

    Ties keep the order of the file.
    """
    import pandas as pd

    score = result.columns["score"]
    order = np.lexsort((np.arange(len(score)), sort_key(score)))
    frame = candidates.frame.iloc[order].reset_index(drop=True)
    ranked = np.isfinite(score[order])
    rank = pd.array(np.where(ranked, np.arange(1, len(order) + 1), 0), dtype="Int64")
    rank[~ranked] = pd.NA
    columns: dict[str, Any] = {"rank": rank}
    for name, values in result.columns.items():
        columns[name] = values[order]
    table = pd.DataFrame(columns, index=frame.index)
    clash = [name for name in table.columns if name in frame.columns]
    joined = pd.concat([frame.drop(columns=clash), table], axis=1)
    return Ranking(
        frame=joined,
        minutes=result.minutes[order],
        first_night=task.first_night,
        nights=task.nights,
        lenses_mm=task.lenses_mm,
        lens_names=task.lens_names,
        zone=task.zone,
        weights=task.request.weights,
        rejected=candidates.rejected,
        notes=notes,
        asked=asked_of(task),
        cover_known=known_cover(task.ground),
    )


def asked_of(task: ScoutTask) -> RankingAsked:
    """Gather what the numbers of a task's ranking are made of."""
    request = task.request

    def name(path: Path | None) -> str:
        return "" if path is None else path.name

    return RankingAsked(
        target=f"{task.target.name}: {task.target.source}",
        eye_height_m=task.framing.eye_height_m,
        refraction_k=task.ground.refraction_k,
        clear_by_deg=task.night.clear_by_deg,
        sun_below_deg=task.night.sun_below_deg,
        moon=task.night.moon,
        least_minutes=request.least_minutes,
        longest_walk_m=request.longest_walk_m,
        steepest_deg=request.steepest_deg,
        vertical_sigma_m=task.height_errors.sigma_m,
        position_sigma_m=task.position_sigma_m,
        elevation=", ".join(path.name for path in task.ground.elevation),
        ways=name(request.ways) or name(task.ground.places),
        towns=name(request.towns),
        sky_brightness=name(request.sky_brightness),
    )
