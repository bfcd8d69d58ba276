"""Skyline marks beside the raster, as a table on the terminal."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Final, TypeVar

from backbearing.base.numbers import num
from backbearing.base.text import compass_point, degrees, terminal_safe

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.marks import MarkBesideRaster, PlanMarks, RidgeMark

_Mark = TypeVar("_Mark")

MOST_ROWS: Final = 60
"""Marks in a table; of more, every so many."""

HEADS: Final = ("azimuth", "mark", "raster", "over it", "thing is", "")


def print_marks(out: Screen, marks: PlanMarks, units: Units, *, most: int = MOST_ROWS) -> None:
    """Print every set of marks with the raster's skyline behind it, and what they do."""
    for number, one in enumerate(marks.sets):
        if number:
            out.blank()
        out.title(f"Skyline marks read from {terminal_safe(one.read_from)}")
        rows = _thinned(one.marks, most)
        out.listing(HEADS, [_row(mark, units) for mark in rows], words={""})
        if len(rows) < len(one.marks):
            out.say(f"{len(rows)} of {len(one.marks)} are shown.")
    if marks.at_stands:
        out.blank()
    for at in marks.at_stands:
        if at.raises_deg > 0.0:
            said = f"a mark raises the skyline below the target by {num(at.raises_deg, 1)}°"
        elif at.out_of_reach:
            said = "marks without a distance were read too far away; the raster stands alone"
        else:
            said = "no mark stands over the raster below the target"
        out.labelled(at.lens, f"{said}.")


def print_ridge_marks(out: Screen, marks: Sequence[RidgeMark], units: Units) -> None:
    """Print marks as an eye elsewhere sees them."""
    out.title("Skyline marks as seen from here")
    rows = _thinned(marks)
    out.listing(
        HEADS[:-1],
        [
            (
                _azimuth(mark.azimuth_deg),
                f"{degrees(mark.altitude_deg)} ± {degrees(mark.sigma_deg)}",
                degrees(mark.altitude_deg - mark.over_deg),
                _over(mark.over_deg),
                units.length(mark.distance_m) if isfinite(mark.distance_m) else "unknown",
            )
            for mark in rows
        ],
    )
    out.blank()


def ridge_marks_line(marks: Sequence[RidgeMark]) -> str:
    """Say in a line how marks stand to the raster from here."""
    known = [one for one in marks if isfinite(one.over_deg)]
    said = f"{len(marks)} skyline marks hold here"
    if not known:
        return f"{said}."
    highest = max(known, key=lambda one: one.over_deg)
    if highest.over_deg <= 0.0:
        return f"{said}; none is higher than the raster."
    return (
        f"{said}; the highest over the raster by {num(highest.over_deg, 1)}° at "
        f"{num(highest.azimuth_deg, 0)}°."
    )


def _row(mark: MarkBesideRaster, units: Units) -> tuple[str, ...]:
    return (
        _azimuth(mark.azimuth_deg),
        f"{degrees(mark.altitude_deg)} ± {degrees(mark.sigma_deg)}",
        f"{degrees(mark.raster_deg)} ± {degrees(mark.raster_sigma_deg)}",
        _over(mark.over_deg),
        units.length(mark.distance_m) if isfinite(mark.distance_m) else "unknown",
        "below bare ground: tilt?" if mark.stands == "below" else mark.stands,
    )


def _azimuth(azimuth_deg: float) -> str:
    return f"{num(azimuth_deg, 1)}° {compass_point(azimuth_deg)}"


def _over(over_deg: float) -> str:
    return f"{num(over_deg, 1, sign=True)}°" if isfinite(over_deg) else "unknown"


def _thinned(marks: Sequence[_Mark], most: int = MOST_ROWS) -> Sequence[_Mark]:
    """All marks, or every so many."""
    step = -(-len(marks) // most) or 1
    return marks[::step]
