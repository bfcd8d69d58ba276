"""The ranking: one row a candidate, in order, with every part and reason beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.notebook import told

if TYPE_CHECKING:
    import datetime as dt

    import geopandas
    from numpy.typing import NDArray

    from backbearing.outing.scouting_request import Weights
    from backbearing.scouting.ranking.columns import ChunkResult
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates, Rejected

SHOWN: Final = ("rank", "name", "kind", "score", "night_label", "best_lens_mm", "reasons")
"""Columns of the table that a notebook shows."""

SHOWN_ROWS: Final = 10


@dataclass(frozen=True, eq=False)
class Ranking:
    """Candidates in rank order.

    Attributes
    ----------
    frame : geopandas.GeoDataFrame
        One row a candidate, EPSG:4326 points: first the ranked by score, then the hard
        failures. Columns are told in ``docs/scouting.md``.
    minutes : ndarray of uint16, shape (n, nights, lenses)
        Dark minutes with the target clear of the terrain from a feasible stand, the framing
        held; rows as in the frame.
    first_night : date
        Evening of the first night.
    nights : int
    lenses_mm : tuple of float
    lens_names : tuple of str
        Prefixes of the lenses' columns.
    zone : str
        Time zone of the clock times.
    weights : Weights
    rejected : tuple of Rejected
        Rows of the file that were left out, and why.
    notes : tuple of str
        What the numbers stand on, and what the data cannot show.
    """

    frame: geopandas.GeoDataFrame
    minutes: NDArray[np.uint16]
    first_night: dt.date
    nights: int
    lenses_mm: tuple[float, ...]
    lens_names: tuple[str, ...]
    zone: str
    weights: Weights
    rejected: tuple[Rejected, ...]
    notes: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.frame)

    @property
    def ranked(self) -> int:
        """How many candidates have a rank; the rest failed."""
        return int(self.frame["rank"].notna().sum())

    def top(self, n: int = 3) -> geopandas.GeoDataFrame:
        """The first n of the ranked candidates."""
        return self.frame.iloc[: min(n, self.ranked)]

    def _repr_html_(self) -> str:
        """Show the first rows as a table; every text is escaped."""
        rows = [[row[name] for name in SHOWN] for _, row in self.top(SHOWN_ROWS).iterrows()]
        count = f"{self.ranked} of {len(self)} candidates ranked"
        said = f"{count}, {self.nights} nights from {self.first_night}, times in {self.zone}."
        return told(said, [name.replace("_", " ") for name in SHOWN], rows, self.notes)


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
    )
