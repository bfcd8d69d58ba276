"""How a tripod is put on its stand without a receiver, as data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlacingError:
    """One standard deviation of a tripod put down in one way, metres.

    ``across_deg`` is the sideways figure as an angle at the subject.
    """

    along_m: float
    across_m: float
    across_deg: float


@dataclass(frozen=True, slots=True)
class Placing:
    """How to put the tripod on its stand without a receiver, and how far off it may be.

    Attributes
    ----------
    tape_m : float
        From the ground at the subject's base to the ground at the stand, along the slope.
    paces, pace_m : float
        The level distance in paces, and their length; NaN when no pace was given.
    outward_deg, outward_magnetic_deg : float
        Bearing from the subject to the stand, true and magnetic (NaN where unknown).
    inward_deg, inward_magnetic_deg : float
        Bearing from the stand to the subject.
    magnetic_model : str
        Model and date, ``"WMM2025, 2027-06-06"``; empty where it is not known.
    magnetic_sigma_deg : float
        One standard deviation of the model's declination; NaN where unknown.
    target_above_top_deg, target_right_deg : float
        Where the target stands at the clock time: over the subject's top, and right of
        the subject's middle.
    by_gps, by_tape, lined_up : PlacingError
        Put down by a receiver; by tape (or paces) and compass; by tape and by lining up
        subject and target at the clock time.
    raster_along_m, model_along_m : float
        What the heights of the raster and the lens's focal length add along, already in
        the three errors.
    along_m, across_m : float
        The one stated figure each: the best of the three ways that needs no sky, which
        is tape and compass, or the receiver where that is nearer.
    way : str
        Which way that is.
    instructions : tuple of str
        From the subject outward, one step each; local times.
    """

    tape_m: float
    paces: float
    pace_m: float
    outward_deg: float
    outward_magnetic_deg: float
    inward_deg: float
    inward_magnetic_deg: float
    magnetic_model: str
    magnetic_sigma_deg: float
    target_above_top_deg: float
    target_right_deg: float
    by_gps: PlacingError
    by_tape: PlacingError
    lined_up: PlacingError
    raster_along_m: float
    model_along_m: float
    along_m: float
    across_m: float
    way: str
    instructions: tuple[str, ...]
