"""How a tripod is put on its stand without a receiver, as data."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from backbearing.base.grouped import FieldOf


@dataclass(frozen=True, slots=True)
class PlacingError:
    """One standard deviation of a tripod put down in one way, metres.

    ``across_deg`` is the sideways figure as an angle at the subject.
    """

    along_m: float
    across_m: float
    across_deg: float


@dataclass(frozen=True, slots=True)
class PlacingErrors:
    """How far off a tripod may be, put down in each of three ways, metres.

    Attributes
    ----------
    by_gps, by_tape, lined_up : PlacingError
        Put down by a receiver; by tape (or paces) and compass; by tape and by lining up
        subject and target at the clock time.
    raster_along_m, model_along_m, coordinates_along_m, size_along_m : float
        What the heights of the raster, the lens's focal length, the error of the subject's
        coordinates (the raster is read in the wrong place) and that of its measured size
        add along, already in the three errors.
    """

    by_gps: PlacingError
    by_tape: PlacingError
    lined_up: PlacingError
    raster_along_m: float
    model_along_m: float
    coordinates_along_m: float
    size_along_m: float

    @property
    def _best(self) -> tuple[PlacingError, str]:
        """The nearer of receiver and tape with compass, and its name."""
        if self.by_gps.across_m < self.by_tape.across_m or math.isnan(self.by_tape.across_m):
            return self.by_gps, "receiver"
        return self.by_tape, "tape and compass"

    @property
    def along_m(self) -> float:
        """The one stated figure along: of the better way that needs no sky."""
        return self._best[0].along_m

    @property
    def across_m(self) -> float:
        """The same across."""
        return self._best[0].across_m

    @property
    def way(self) -> str:
        """Which way that is: ``"tape and compass"``, or ``"receiver"`` where it is nearer."""
        return self._best[1]


@dataclass(frozen=True, slots=True)
class PlacingBearings:
    """Bearings between subject and stand.

    Attributes
    ----------
    outward_deg, outward_magnetic_deg : float
        From the subject to the stand, true and magnetic (NaN where unknown).
    inward_deg, inward_magnetic_deg : float
        From the stand to the subject.
    magnetic_model : str
        Model and date, ``"WMM2025, 2027-06-06"``; empty where it is not known.
    magnetic_sigma_deg : float
        One standard deviation of the model's declination; NaN where unknown.
    """

    outward_deg: float
    outward_magnetic_deg: float
    inward_deg: float
    inward_magnetic_deg: float
    magnetic_model: str
    magnetic_sigma_deg: float


@dataclass(frozen=True, slots=True)
class Placing:
    """How to put the tripod on its stand without a receiver, and how far off it may be.

    Attributes
    ----------
    tape_m : float
        From the ground at the subject's base to the ground at the stand, along the slope.
    paces, pace_m : float
        The level distance in paces, and their length; NaN when no pace was given.
    bearings : PlacingBearings
    target_above_top_deg, target_right_deg : float
        Where the target stands at the clock time: over the subject's top, and right of
        the subject's middle.
    errors : PlacingErrors
    instructions : tuple of str
        From the subject outward, one step each; local times.

    Notes
    -----
    What ``bearings`` and ``errors`` hold can be read from the placing itself, as
    ``placing.outward_deg`` or ``placing.along_m``, and JSON shows it so.
    """

    tape_m: float
    paces: float
    pace_m: float
    bearings: PlacingBearings
    outward_deg: ClassVar[FieldOf[float]] = FieldOf("bearings")
    outward_magnetic_deg: ClassVar[FieldOf[float]] = FieldOf("bearings")
    inward_deg: ClassVar[FieldOf[float]] = FieldOf("bearings")
    inward_magnetic_deg: ClassVar[FieldOf[float]] = FieldOf("bearings")
    magnetic_model: ClassVar[FieldOf[str]] = FieldOf("bearings")
    magnetic_sigma_deg: ClassVar[FieldOf[float]] = FieldOf("bearings")
    target_above_top_deg: float
    target_right_deg: float
    errors: PlacingErrors
    by_gps: ClassVar[FieldOf[PlacingError]] = FieldOf("errors")
    by_tape: ClassVar[FieldOf[PlacingError]] = FieldOf("errors")
    lined_up: ClassVar[FieldOf[PlacingError]] = FieldOf("errors")
    raster_along_m: ClassVar[FieldOf[float]] = FieldOf("errors")
    model_along_m: ClassVar[FieldOf[float]] = FieldOf("errors")
    coordinates_along_m: ClassVar[FieldOf[float]] = FieldOf("errors")
    size_along_m: ClassVar[FieldOf[float]] = FieldOf("errors")
    along_m: ClassVar[FieldOf[float]] = FieldOf("errors")
    across_m: ClassVar[FieldOf[float]] = FieldOf("errors")
    way: ClassVar[FieldOf[str]] = FieldOf("errors")
    instructions: tuple[str, ...] = ()
