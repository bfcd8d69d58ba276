"""Scored candidates put into rank order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.outing.known_cover import known_cover
from backbearing.plan.ranking import Ranking

if TYPE_CHECKING:
    from backbearing.scouting.ranking.columns import ChunkResult
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates


def ranking_of(
    task: ScoutTask, candidates: Candidates, result: ChunkResult, notes: tuple[str, ...]
) -> Ranking:
    """Put the joined chunks, rows as in the candidates' frame, into rank order.

    Ties keep the order of the file.
    """
    import pandas as pd

    score = result.columns["score"]
    order = np.lexsort((np.arange(len(score)), -np.nan_to_num(score, nan=-1.0)))
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
        cover_known=known_cover(task.ground),
    )
