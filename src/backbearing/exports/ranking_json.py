"""A ranking as a plain document for JSON; versioned, told in ``docs/scouting.md``."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from backbearing.plan.ranking import Ranking

VERSION: Final = 1


def ranking_document(ranking: Ranking) -> dict[str, Any]:
    """Give a ranking as lists and dictionaries; unknown numbers are null.

    Each candidate's ``minutes`` are one list a night, with one number a lens.
    """
    frame = ranking.frame
    candidates = []
    for i, row in enumerate(frame.drop(columns="geometry").to_dict("records")):
        one = {str(key): _plain(value) for key, value in row.items()}
        one["lat"], one["lon"] = float(frame.geometry.y.iloc[i]), float(frame.geometry.x.iloc[i])
        one["minutes"] = ranking.minutes[i].tolist()
        candidates.append(one)
    return {
        "format": "backbearing-scouting",
        "version": VERSION,
        "first_night": ranking.first_night.isoformat(),
        "nights": ranking.nights,
        "zone": ranking.zone,
        "lenses_mm": list(ranking.lenses_mm),
        "lens_names": list(ranking.lens_names),
        "weights": asdict(ranking.weights),
        "candidates": candidates,
        "rejected": [{"row": one.row, "reason": one.reason} for one in ranking.rejected],
        "notes": list(ranking.notes),
    }


def _plain(value: Any) -> Any:
    import pandas as pd

    if value is pd.NA or (isinstance(value, float | np.floating) and not np.isfinite(value)):
        return None
    return value.item() if isinstance(value, np.generic) else value
