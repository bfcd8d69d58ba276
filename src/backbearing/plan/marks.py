"""What a plan says of measured skyline marks: how they and the raster differ, values only."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from backbearing.base.numbers import counted, num

if TYPE_CHECKING:
    from collections.abc import Iterator

Stands = Literal["over", "as the raster", "below", "unknown"]


@dataclass(frozen=True, slots=True)
class MarkBesideRaster:
    """One mark as it is used, and the bare raster's skyline on its azimuth from the same eye.

    Attributes
    ----------
    azimuth_deg, altitude_deg, sigma_deg : float
        True azimuth, apparent altitude and one standard deviation of it.
    distance_m : float
        Of the thing; NaN where it was not told.
    raster_deg, raster_sigma_deg : float
        The raster's own skyline and its doubt; NaN where it knows none.
    over_deg : float
        How much higher than the raster the mark stands.
    stands : str
        ``over`` or ``below`` beyond the doubt of both, else ``as the raster``.
    """

    azimuth_deg: float
    altitude_deg: float
    sigma_deg: float
    distance_m: float
    raster_deg: float
    raster_sigma_deg: float
    over_deg: float
    stands: Stands


@dataclass(frozen=True, slots=True)
class MarkErrors:
    """What the readings of one set have wrong alike, as found against the raster; degrees.

    A reading's altitude is ``tilt_deg`` too high, its azimuth ``turn_deg`` too large; NaN where
    that cannot be told, and ``why`` says it. ``tilt_taken_deg`` and ``turn_taken_deg`` are what
    the plan took off, because the outing says so.
    """

    tilt_deg: float
    tilt_sigma_deg: float
    turn_deg: float
    turn_sigma_deg: float
    why: str
    tilted: bool
    turned: bool
    tilt_taken_deg: float
    turn_taken_deg: float


@dataclass(frozen=True, slots=True)
class MarksFromEye:
    """The marks that were read from one place.

    Attributes
    ----------
    read_from : str
        The place in words, such as ``the subject``.
    lat, lon, eye_m : float
        WGS84 degrees, and the reader's eye above sea level, metres.
    marks : tuple of MarkBesideRaster
        In order of azimuth.
    errors : MarkErrors
    """

    read_from: str
    lat: float
    lon: float
    eye_m: float
    marks: tuple[MarkBesideRaster, ...]
    errors: MarkErrors


@dataclass(frozen=True, slots=True)
class MarksAtStand:
    """What marks do to the skyline below the target at a lens's stand, at its minute.

    Attributes
    ----------
    lens : str
    raises_deg : float
        By how much a mark raises the skyline there; 0 where the raster's own stands.
    out_of_reach : int
        Marks whose distance nobody told and that were read too far away to hold there.
    """

    lens: str
    raises_deg: float
    out_of_reach: int


@dataclass(frozen=True, slots=True)
class RidgeMark:
    """A mark as another eye sees it, for a table or a picture; degrees, metres."""

    azimuth_deg: float
    altitude_deg: float
    sigma_deg: float
    distance_m: float
    over_deg: float


@dataclass(frozen=True, slots=True)
class PlanMarks:
    """All marks of a plan.

    Attributes
    ----------
    sets : tuple of MarksFromEye
    at_stands : tuple of MarksAtStand
        Of the lenses that have a stand.
    holds_within_m : float
        How far from where it was read a mark without a distance holds.
    at_viewpoint : tuple of RidgeMark
        Those that hold at the plan's viewpoint, as seen from there.
    """

    sets: tuple[MarksFromEye, ...]
    at_stands: tuple[MarksAtStand, ...]
    holds_within_m: float
    at_viewpoint: tuple[RidgeMark, ...] = ()

    @property
    def all(self) -> tuple[MarkBesideRaster, ...]:
        """Every mark, set by set."""
        return tuple(mark for one in self.sets for mark in one.marks)

    @property
    def highest(self) -> MarkBesideRaster | None:
        """The mark that stands highest over the raster beyond doubt, if one does."""
        over = [one for one in self.all if one.stands == "over"]
        return max(over, key=lambda one: one.over_deg) if over else None

    @property
    def lowest(self) -> MarkBesideRaster | None:
        """The mark that stands lowest below the raster beyond doubt, if one does."""
        below = [one for one in self.all if one.stands == "below"]
        return min(below, key=lambda one: one.over_deg) if below else None


def marks_line(marks: PlanMarks) -> str:
    """Say in one line how marks and raster differ."""
    said = f"Marks: {counted(len(marks.all), 'readings')}; "
    highest, lowest = marks.highest, marks.lowest
    if highest is not None:
        said += (
            f"over the raster by {num(highest.over_deg, 1)}° at "
            f"{num(highest.azimuth_deg, 0)}° (trees?)"
        )
    elif any(math.isfinite(one.over_deg) for one in marks.all):
        said += "none stands over the raster beyond doubt"
    else:
        said += "the raster knows no ground behind them"
    if lowest is not None:
        said += (
            f"; below bare ground by {num(-lowest.over_deg, 1)}° at "
            f"{num(lowest.azimuth_deg, 0)}°: tilt?"
        )
    wrong = [words for one in marks.sets for words in _wrong_alike(one.errors)]
    return f"{said}. {' '.join(wrong)}".strip() if wrong else f"{said}."


def marks_notes(marks: PlanMarks) -> tuple[str, ...]:
    """Say in sentences what the marks are, for which eyes they hold, and what is wrong alike."""
    return tuple(_notes(marks))


def _notes(marks: PlanMarks) -> Iterator[str]:
    for one in marks.sets:
        told = sum(math.isfinite(mark.distance_m) for mark in one.marks)
        said = f"{counted(len(one.marks), 'skyline marks')} read from {one.read_from}"
        said += " stand over the raster where they are higher."
        if told:
            said += f" {told} with a distance count for every stand."
        if told < len(one.marks):
            said += (
                f" {len(one.marks) - told} without one count only within "
                f"{num(marks.holds_within_m)} m of there: farther off nobody knows how they shift."
            )
        yield said
        yield from _wrong_alike(one.errors)
        if one.errors.why:
            yield f"What these readings have wrong alike: {one.errors.why}."
    beyond = [one for one in marks.at_stands if one.out_of_reach]
    if beyond:
        most = max(one.out_of_reach for one in beyond)
        yield (
            f"Too far from where marks were read for {counted(most, 'marks')} without a distance: "
            f"the stands of {', '.join(one.lens for one in beyond)}. There the raster stands alone."
        )


def _wrong_alike(errors: MarkErrors) -> Iterator[str]:
    """Say a tilt or turn that is beyond its doubt, and whether it was taken off."""
    if errors.tilted and not errors.tilt_taken_deg:
        yield (
            f"The readings look {num(abs(errors.tilt_deg), 1)}° ± "
            f"{num(errors.tilt_sigma_deg, 1)}° too {'high' if errors.tilt_deg > 0 else 'low'}."
        )
    if errors.turned and not errors.turn_taken_deg:
        way = "clockwise" if errors.turn_deg > 0 else "anticlockwise"
        yield (
            f"Their azimuths look turned {num(abs(errors.turn_deg), 1)}° ± "
            f"{num(errors.turn_sigma_deg, 1)}° {way}."
        )
    if errors.tilt_taken_deg or errors.turn_taken_deg:
        yield (
            f"Taken off: {num(errors.tilt_taken_deg, 1)}° of altitude, "
            f"{num(errors.turn_taken_deg, 1)}° of azimuth."
        )
