"""How to find a stand on the ground, and how far off the tripod may be.

The along figures are distances towards the subject, the across figures sideways; all are
one standard deviation, first order, independent parts.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.lens_questions import distances_on_lifted_ground_m
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.geodesy import line_between, point_along
from backbearing.base.numbers import num
from backbearing.base.reading_errors import (
    COMPASS_SIGMA_DEG,
    FOCAL_SIGMA,
    MIDDLE_SIGMA_M,
    TAPE_SIGMA,
)
from backbearing.base.wall_clock import hm
from backbearing.plan.placing import Placing, PlacingBearings, PlacingError, PlacingErrors
from backbearing.sky.magnetic import magnetic_declination

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.subject import Subject
    from backbearing.plan.stand import Stand
    from backbearing.sky.magnetic import MagneticDeclination
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

PACE_SIGMA: Final = 0.05
"""Of a length counted in paces (common practice, no source)."""

LINE_UP_SIGMA_DEG: Final = 0.5
"""Of setting a thing behind another by eye at night (common practice, no source)."""


class StandAsked(NamedTuple):
    """A settled stand to be placed, with its lens, as its scene frames it."""

    scene: Scene
    lens: Lens
    stand: Stand


def place_stand(
    scene: Scene, lens: Lens, stand: Stand, *, zone: str, pace_m: float | None = None
) -> Placing:
    """Do as `place_each` for one stand."""
    return place_each([StandAsked(scene, lens, stand)], zone=zone, pace_m=pace_m)[0]


def place_each(
    asked: Sequence[StandAsked], *, zone: str, pace_m: float | None = None
) -> list[Placing]:
    """Say how to put the tripod on stands from the subject outward, and how well.

    Parameters
    ----------
    asked : sequence of StandAsked
        Their scenes, with the lenses' own drops and shares, share subject and ground.
    zone : str
        Time zone of the clock times in the instructions.
    pace_m : float, optional
        The user's own pace.
    """
    grounds = _grounds_along_m(asked)
    return [
        _placing(*one, zone=zone, pace_m=pace_m, ground_along_m=ground)
        for one, ground in zip(asked, grounds, strict=True)
    ]


def _placing(  # a stand, and how it is told
    scene: Scene,
    lens: Lens,
    stand: Stand,
    *,
    zone: str,
    pace_m: float | None,
    ground_along_m: tuple[float, float],
) -> Placing:
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
        errors=_errors(scene, stand, found, ground_along_m),
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


def _errors(
    scene: Scene, stand: Stand, found: MagneticDeclination, ground_along_m: tuple[float, float]
) -> PlacingErrors:
    """What each way of placing is worth, and the parts common to all of them.

    A receiver puts the tripod beside the subject's coordinates, and errs by what they err;
    a tape starts at the subject itself.
    """
    distance = stand.distance_m
    raster, coordinates = ground_along_m
    model = FOCAL_SIGMA * distance
    size = scene.subject.size_doubt(scene.framing.share_of) * distance
    needle = math.hypot(found.error_deg, COMPASS_SIGMA_DEG) if found.known else math.nan
    if found.compass == "useless":
        needle = math.nan
    tape = math.hypot(TAPE_SIGMA * distance, MIDDLE_SIGMA_M)
    gps = math.hypot(scene.position_sigma_m, scene.subject.position_sigma_m)

    def error(along: float, across: float) -> PlacingError:
        return PlacingError(
            along_m=math.hypot(along, raster, model, coordinates, size),
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
        size_along_m=size,
    )


def _grounds_along_m(asked: Sequence[StandAsked]) -> list[tuple[float, float]]:
    """How far distances move with the errors of the ground's height, and of where it is read.

    The first by one standard deviation of the difference of two heights so near one another,
    which is little within a cell; the second by the raster's slopes about subject and stand,
    read aside by one standard deviation of the subject's place, north and east. A measured
    drop has neither.
    """
    found = [(0.0, 0.0)] * len(asked)
    elevation = asked[0].scene.elevation if asked else None
    on_raster = [i for i, one in enumerate(asked) if one.scene.framing.stand_drop_m is None]
    if elevation is None or not on_raster:
        return found
    some = [asked[i] for i in on_raster]
    errors = some[0].scene.height_errors.over(elevation.cell_size_m)
    lat, lon = (np.array([getattr(one.stand, key) for one in some]) for key in ("lat", "lon"))
    slope = np.tan(np.radians(np.atleast_1d(elevation.slope_at(lat=lat, lon=lon))))
    distance = np.array([one.stand.distance_m for one in some])
    sigma = np.asarray(errors.difference_sigma_m(distance, slope))
    aside = _lifts_aside_m(some[0].scene.subject, lat, lon, elevation)
    heights = np.stack([np.zeros_like(sigma), sigma, -sigma], axis=1)
    moved = distances_on_lifted_ground_m(
        [(one.scene, one.lens) for one in some],
        np.array([_outward_deg(one.scene, one.stand) for one in some]),
        np.nan_to_num(np.concatenate([heights, aside], axis=1)),
    )
    for i, row in zip(on_raster, np.abs(moved[:, 1:] - moved[:, :1]), strict=True):
        found[i] = _along_m(row)
    return found


def _along_m(off_m: Floats) -> tuple[float, float]:
    """Mean changes of a distance by lower and higher ground, and by ground read aside."""
    if np.isnan(off_m[:2]).all():
        return math.nan, math.nan
    pairs = (pair[np.isfinite(pair)] for pair in (off_m[2:4], off_m[4:6]))
    north, east = (pair.mean() if pair.size else 0.0 for pair in pairs)
    return float(np.nanmean(off_m[:2])), float(np.hypot(north, east))


def _lifts_aside_m(subject: Subject, lat: Floats, lon: Floats, elevation: Elevation) -> Floats:
    """How much higher over the subject's the ground at stands is, read aside; (n, 4), metres."""
    end = point_along(
        lat=np.append(lat, subject.lat)[:, None],
        lon=np.append(lon, subject.lon)[:, None],
        azimuth_deg=np.array([0.0, 180.0, 90.0, 270.0, 0.0]),
        distance_m=subject.position_sigma_m * np.array([1.0, 1.0, 1.0, 1.0, 0.0]),
    )
    heights = np.asarray(elevation.height_at(lat=end.lat, lon=end.lon))
    aside = heights[:, :4] - heights[:, 4:]
    return np.asarray(aside[:-1] if subject.ground_m is not None else aside[:-1] - aside[-1])


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
