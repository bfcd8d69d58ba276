"""How to find a stand on the ground, and how far off the tripod may be.

The along figures are distances towards the subject, the across figures sideways; all are
one standard deviation, first order, independent parts.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.lens_questions import distances_on_lifted_ground_m
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.geodesy import line_between, point_along
from backbearing.base.numbers import num
from backbearing.base.wall_clock import hm
from backbearing.plan.placing import Placing, PlacingBearings, PlacingError, PlacingErrors
from backbearing.sky.magnetic import magnetic_declination

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.stand import Stand
    from backbearing.sky.magnetic import MagneticDeclination
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

TAPE_SIGMA: Final = 0.01
"""Of a length taped over rough grass in the dark (common practice, no source)."""

PACE_SIGMA: Final = 0.05
"""Of a length counted in paces (common practice, no source)."""

COMPASS_SIGMA_DEG: Final = 2.0
"""Of a bearing read off a hand compass by head torch (common practice, no source)."""

LINE_UP_SIGMA_DEG: Final = 0.5
"""Of setting a thing behind another by eye at night (common practice, no source)."""

FOCAL_SIGMA: Final = 0.02
"""Of a marked focal length against the true one (common practice, no source)."""

MIDDLE_SIGMA_M: Final = 0.1
"""Of the subject's middle as one starts the tape there (common practice, no source)."""


def place_stand(
    scene: Scene, lens: Lens, stand: Stand, *, zone: str, pace_m: float | None = None
) -> Placing:
    """Say how to put the tripod on a stand from the subject outward, and how well.

    Parameters
    ----------
    scene : Scene
        With the lens's own drop and share, if it has them.
    stand : Stand
        A settled stand.
    zone : str
        Time zone of the clock times in the instructions.
    pace_m : float, optional
        The user's own pace.
    """
    outward = _outward_deg(scene, stand)
    found = _declination(scene, stand)
    placing = Placing(
        tape_m=math.hypot(stand.distance_m, scene.subject_ground_m - stand.ground_m),
        paces=stand.distance_m / pace_m if pace_m else math.nan,
        pace_m=pace_m or math.nan,
        bearings=PlacingBearings(
            outward_deg=outward,
            outward_magnetic_deg=wrap_360_deg(outward - found.declination_deg),
            inward_deg=stand.bearing_deg,
            inward_magnetic_deg=wrap_360_deg(stand.bearing_deg - found.declination_deg),
            magnetic_model=f"{found.model}, {found.date.isoformat()}" if found.known else "",
            magnetic_sigma_deg=found.error_deg,
        ),
        target_above_top_deg=stand.above_top_deg,
        target_right_deg=wrap_180_deg(stand.target_azimuth_deg - stand.bearing_deg),
        errors=_errors(scene, lens, stand, found),
    )
    return _with_instructions(placing, scene, stand, zone)


def _outward_deg(scene: Scene, stand: Stand) -> float:
    """Bearing from the subject to the stand, true."""
    line = line_between(
        lat1=scene.subject.lat, lon1=scene.subject.lon, lat2=stand.lat, lon2=stand.lon
    )
    return float(line.azimuth_deg)


def _declination(scene: Scene, stand: Stand) -> MagneticDeclination:

    return magnetic_declination(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        when=stand.time,
    )


def _errors(scene: Scene, lens: Lens, stand: Stand, found: MagneticDeclination) -> PlacingErrors:
    """What each way of placing is worth, and the parts common to all of them.

    A receiver puts the tripod beside the subject's coordinates, and errs by what they err;
    a tape starts at the subject itself.
    """
    distance = stand.distance_m
    raster, coordinates = _ground_along_m(scene, lens, stand)
    model = FOCAL_SIGMA * distance
    needle = math.hypot(found.error_deg, COMPASS_SIGMA_DEG) if found.known else math.nan
    if found.compass == "useless":
        needle = math.nan
    tape = math.hypot(TAPE_SIGMA * distance, MIDDLE_SIGMA_M)
    gps = math.hypot(scene.position_sigma_m, scene.subject.position_sigma_m)

    def error(along: float, across: float) -> PlacingError:
        return PlacingError(
            along_m=math.sqrt(along**2 + raster**2 + model**2 + coordinates**2),
            across_m=across,
            across_deg=math.degrees(math.atan2(across, distance)),
        )

    swept = distance * math.tan(math.radians(LINE_UP_SIGMA_DEG))
    by_needle = distance * math.tan(math.radians(needle))
    return PlacingErrors(
        by_gps=error(gps, gps),
        by_tape=error(tape, math.hypot(by_needle, MIDDLE_SIGMA_M)),
        lined_up=error(tape, math.hypot(swept, MIDDLE_SIGMA_M)),
        raster_along_m=raster,
        model_along_m=model,
        coordinates_along_m=coordinates,
    )


def _ground_along_m(scene: Scene, lens: Lens, stand: Stand) -> tuple[float, float]:
    """How far the distance moves with the errors of the ground's height, and of where it is read.

    The first by one standard deviation of the difference of two heights so near one another,
    which is little within a cell; the second by the raster's slopes about subject and stand,
    read aside by one standard deviation of the subject's place, north and east. A measured
    drop has neither.
    """
    elevation = scene.elevation
    if elevation is None or scene.framing.stand_drop_m is not None:
        return 0.0, 0.0
    errors = scene.height_errors.over(elevation.cell_size_m)
    slope = math.tan(math.radians(float(elevation.slope_at(lat=stand.lat, lon=stand.lon))))
    sigma = float(errors.difference_sigma_m(stand.distance_m, slope))
    aside = _lifts_aside_m(scene, stand, elevation)
    lifts = np.nan_to_num([0.0, sigma, -sigma, *aside])
    as_is, *moved = distances_on_lifted_ground_m(
        scene, lens, _outward_deg(scene, stand), lifts
    ).tolist()
    off = np.abs(np.array(moved) - as_is)
    if np.isnan(off[:2]).all():
        return math.nan, math.nan
    pairs = (pair[np.isfinite(pair)] for pair in (off[2:4], off[4:6]))
    north, east = (pair.mean() if pair.size else 0.0 for pair in pairs)
    return float(np.nanmean(off[:2])), float(np.hypot(north, east))


def _lifts_aside_m(scene: Scene, stand: Stand, elevation: Elevation) -> Floats:
    """How much higher over the subject's the ground at the stand is, read aside; (4,), metres."""
    subject = scene.subject
    end = point_along(
        lat=np.array([[stand.lat], [subject.lat]]),
        lon=np.array([[stand.lon], [subject.lon]]),
        azimuth_deg=np.array([0.0, 180.0, 90.0, 270.0, 0.0]),
        distance_m=subject.position_sigma_m * np.array([1.0, 1.0, 1.0, 1.0, 0.0]),
    )
    heights = np.asarray(elevation.height_at(lat=end.lat, lon=end.lon))
    at_stand, at_subject = heights[:, :4] - heights[:, 4:]
    return np.asarray(at_stand if subject.ground_m is not None else at_stand - at_subject)


def _with_instructions(placing: Placing, scene: Scene, stand: Stand, zone: str) -> Placing:
    """Put the steps into words, from the subject outward."""
    said = [
        _outward(placing),
        _along(placing, stand),
        _inward(placing),
        _line_up(placing, scene, stand, zone),
        _how_well(placing, scene, stand),
    ]
    return replace(placing, instructions=tuple(said))


def _outward(placing: Placing) -> str:
    needle = (
        f", {num(placing.outward_magnetic_deg, 0)}° by compass ({placing.magnetic_model}, give or "
        f"take {num(placing.magnetic_sigma_deg, 1)}° for the model alone)"
        if placing.magnetic_model
        else "; the compass bearing is not known for this date"
    )
    return (
        "Stand at the middle of the subject's base and face "
        f"{num(placing.outward_deg, 1)}° true{needle}."
    )


def _along(placing: Placing, stand: Stand) -> str:
    paced = ""
    if math.isfinite(placing.paces):
        paced = (
            f", or {num(placing.paces, 1)} paces of {num(placing.pace_m)} m "
            f"(within {num(PACE_SIGMA * stand.distance_m, 1)} m)"
        )
    slope = "" if abs(placing.tape_m - stand.distance_m) < 0.05 else " along the slope"
    return f"Lay {num(placing.tape_m, 1)} m of tape that way{slope}{paced}."


def _inward(placing: Placing) -> str:
    needle = (
        f", {num(placing.inward_magnetic_deg, 0)}° by compass" if placing.magnetic_model else ""
    )
    return f"Turn round: the subject bears {num(placing.inward_deg, 1)}° true{needle}."


def _line_up(placing: Placing, scene: Scene, stand: Stand, zone: str) -> str:
    right = placing.target_right_deg
    beside = (
        "right behind the subject"
        if abs(right) < 0.05
        else f"{num(abs(right), 1)}° to the {'right' if right > 0.0 else 'left'} of the subject"
    )
    over = placing.target_above_top_deg
    high = f"{num(abs(over), 1)}° {'over' if over >= 0.0 else 'below'} its top"
    return (
        f"At {hm(stand.time, zone)} {scene.target.name} stands {beside}, {high}. "
        "If it stands too far right, step left; too far left, step right, facing the subject."
    )


def _how_well(placing: Placing, scene: Scene, stand: Stand) -> str:
    play = stand.play_m
    if placing.way == "receiver":
        best = "A receiver does as well as tape and compass here"
    else:
        best = f"By {placing.way}"
    inside = (
        f"{num(play, 2)} m sideways is the play, so line up by eye."
        if not placing.across_m <= play
        else f"The play sideways is {num(play, 2)} m."
    )
    receiver = (
        f" A receiver alone ({num(placing.by_gps.across_m, 0)} m) puts the subject "
        f"{num(placing.by_gps.across_deg, 0)}° off."
        if placing.by_gps.across_m > play
        else ""
    )
    return (
        f"{best} the tripod is within {_within(placing)} (one standard deviation); lined up by "
        f"eye, {num(placing.lined_up.across_m, 1)} m across. {inside}{receiver}"
    )


def _within(placing: Placing) -> str:
    """Along and across; along is not known where other heights would leave no stand."""
    across = f"{num(placing.across_m, 1)} m across"
    if math.isfinite(placing.along_m):
        return f"{num(placing.along_m, 1)} m along and {across}"
    return f"{across}, along by as much as the raster's heights are off, which no stand allows for"
