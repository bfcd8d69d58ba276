"""Where the stands lie should the subject be of another height than planned."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StandsByHeight:
    """Distances of the planned stands for other heights of the subject, each at its minute.

    Attributes
    ----------
    heights_m : tuple of float
        From low to high; the planned one is among them.
    planned : int
        Which of them is the planned one.
    lenses : tuple of int
        Numbers of the plan's lenses that have a stand, in the order of their minutes.
    distances_m : tuple of tuple of float
        A row for each height, a distance for each of ``lenses``; NaN where there is no stand.
    """

    heights_m: tuple[float, ...]
    planned: int
    lenses: tuple[int, ...]
    distances_m: tuple[tuple[float, ...], ...]
