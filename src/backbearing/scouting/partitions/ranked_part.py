"""The answer to one parcel: its candidates with score and reasons, best first, as a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.scouting.partitions.geoparquet import parquet_bytes
from backbearing.scouting.ranking.rank_order import sort_key

if TYPE_CHECKING:
    import geopandas

    from backbearing.scouting.partitions.cut import Parcel
    from backbearing.scouting.ranking.columns import ChunkResult

ROW: Final = "row"
MINUTES: Final = "best_minutes"
"""Each night's minutes by its best lens: a list of so many numbers as there are nights."""


def ranked_part(parcel: Parcel, result: ChunkResult) -> geopandas.GeoDataFrame:
    """Join a parcel's candidates with what was found, best first, ties in the file's order.

    Columns as `Ranking.frame` without ``rank``, which no parcel knows, and with ``row`` (the
    place in the file of candidates) and ``best_minutes``.
    """
    import pandas as pd

    order = np.lexsort((parcel.rows, sort_key(result.columns["score"])))
    frame = parcel.frame.iloc[order].reset_index(drop=True)
    columns: dict[str, Any] = {name: values[order] for name, values in result.columns.items()}
    columns[ROW] = parcel.rows[order]
    columns[MINUTES] = list(result.minutes[order].max(axis=2))
    kept = frame.drop(columns=[name for name in columns if name in frame.columns])
    return pd.concat([kept, pd.DataFrame(columns, index=frame.index)], axis=1)


def ranked_bytes(parcel: Parcel, result: ChunkResult) -> bytes:
    """Give the answer to a parcel as the bytes of a GeoParquet file."""
    return parquet_bytes(ranked_part(parcel, result))
