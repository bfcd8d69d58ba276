"""What a group of candidates has after the nights are counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.candidate_stands import LensQuestion
    from backbearing.scouting.ranking.dark_minutes import DarkStretches
    from backbearing.scouting.ranking.lens_grid import LensGrid

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Tallied:
    """n candidates, l lenses.

    Attributes
    ----------
    questions, looks : lists of length l
    stretches : DarkStretches
    up : ndarray of bool, shape (n,)
        Whether the target is ever up in the dark.
    low, high : ndarray, shape (n, l, nodes)
        Good parts of the ways between nodes.
    minutes : ndarray of uint16, shape (n, nights, l)
    best : ndarray, shape (n, l, 4)
        Value (-1 when none), worth, which stretch, place in nodes.
    best_fit : ndarray, shape (n, l)
    """

    questions: list[LensQuestion]
    looks: list[LensGrid]
    stretches: DarkStretches
    up: NDArray[np.bool_]
    low: Floats
    high: Floats
    minutes: NDArray[np.uint16]
    best: Floats
    best_fit: Floats
