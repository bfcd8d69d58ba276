"""From an outing to what a night is settled from: ground, scene, zone, moments, darkness."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.cloud_seen import forecast_of
from backbearing.alignment.stand.cover_seen import cleared_at
from backbearing.alignment.stand.night_sky import NightSky
from backbearing.alignment.stand.scene import Scene, ground_at_subject
from backbearing.base import asked
from backbearing.base.errors import BackbearingError, OutingError
from backbearing.base.lazy import Later
from backbearing.land.dark_sky import dark_sky_of
from backbearing.sky.darkness import Searched, conditions_of, windows_of
from backbearing.sky.directions import direction
from backbearing.sky.events import Toggles
from backbearing.sky.instants import utc_array
from backbearing.sky.nights import SUNRISE_ALTITUDE_DEG, span_of_nights
from backbearing.sky.targets import Target
from backbearing.sky.window_reasons import Asked
from backbearing.sky.zones import at_clock, local_noon, named_zone, resolve_zone
from backbearing.terrain.cover.covered_elevation import covered_of
from backbearing.terrain.marks.marked_elevation import MarkedElevation

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.marks import marked_ground
    from backbearing.outing.request import NightRequest, Outing
    from backbearing.sky.nights import NightSpan
    from backbearing.terrain.elevation import Elevation
else:
    # Few outings have skyline marks.
    marked_ground = Later("backbearing.alignment.marks.marked_ground")

ARC_STEP: Final = dt.timedelta(minutes=2)
"""Sampling of the arcs; a good or bad stretch shorter than this can be missed."""

ANY_ALTITUDE_DEG: Final = -90.0


def open_elevation(outing: Outing) -> Elevation:
    """Open the outing's raster, with its skyline marks over it, if it has any.

    Heights that cannot be metres are refused.

    Raises
    ------
    TerrainError, OutingError
        With the file's name and what to write.
    """
    try:
        raster = outing.ground.open()
    except BackbearingError as problem:
        problem.at(outing.place("[ground]", "elevation"))
        raise
    if not outing.ground.marks:
        return raster
    marked = scene_of(outing, raster).elevation
    assert marked is not None  # noqa: S101  # a scene of an outing always has a raster
    return marked


def scene_of(outing: Outing, elevation: Elevation) -> Scene:
    """Join an outing and its ground, with the outing's skyline marks over it.

    Raises
    ------
    TerrainError, OutingError
        When the ground at the subject, or where marks were read, is not known.
    """
    ground = outing.ground
    try:
        elevation.height_at(lat=outing.subject.lat, lon=outing.subject.lon)
    except BackbearingError as problem:
        problem.at(outing.place("[ground]", "elevation"))
        raise
    try:
        at_subject = ground_at_subject(outing.subject, elevation)
    except BackbearingError as problem:
        problem.at(outing.place("[subject]"))
        raise
    covered = covered_of(elevation)
    if covered is not None and not isinstance(elevation, MarkedElevation):
        elevation = cleared_at(outing.subject, covered)
    if outing.ground.marks or isinstance(elevation, MarkedElevation):
        elevation = marked_ground.marked_ground(outing, elevation, at_subject)
    return Scene(
        subject=outing.subject,
        subject_ground_m=at_subject,
        target=outing.target,
        camera=outing.camera,
        framing=outing.framing,
        elevation=elevation,
        refraction_k=ground.refraction_k,
        reach_m=ground.reach_m,
        height_errors=outing.height_errors,
        position_sigma_m=outing.position_sigma_m,
        # One height for all ridges is not put on cover that is known.
        canopy_m=ground.canopy_m if covered is None else 0.0,
        clearing_m=ground.clearing_m,
        forecast=forecast_of(outing),
        dark_sky=dark_sky_of(outing, at_subject),
    )


def zone_of(outing: Outing) -> str:
    """Name the time zone to show: as asked, else the zone at the subject.

    Raises
    ------
    OutingError
        When there is no such zone.
    """
    try:
        return str(
            resolve_zone(outing.night.time_zone, lat=outing.subject.lat, lon=outing.subject.lon)
        )
    except BackbearingError as problem:
        raise outing.refuse("night", "time_zone", problem) from problem


class AskedMinute(NamedTuple):
    """A minute that was asked for: as its clock shows it, and as a moment in UTC."""

    clock: str
    time: dt.datetime


def asked_minute(outing: Outing, clock: str | None, zone: str) -> AskedMinute | None:
    """Find the moment of a local wall time in the outing's night; None when none is given.

    Raises
    ------
    OutingError
        When the night has no such time.
    """
    if not clock:
        return None
    clock = asked.text(clock, "at", OutingError)
    return AskedMinute(clock, moment_of(outing, clock, zone, "night", "at"))


def moment_of(outing: Outing, clock: str, zone: str, section: str, key: str) -> dt.datetime:
    """Read a local wall time of the outing's night, UTC; section and key are where it stands.

    Raises
    ------
    OutingError
        When the night has no such time.
    """
    try:
        return at_clock(outing.night.evening, clock, named_zone(zone)).astimezone(dt.UTC)
    except BackbearingError as problem:
        raise outing.refuse(section, key, problem) from problem


def sun_and_moon_asked(night: NightRequest, target: Target, span: NightSpan) -> Asked:
    """What is asked of Sun and Moon alone, whatever the target's altitude."""
    return Asked(
        span,
        target,
        night.sun_below_deg,
        night.moon,  # type: ignore[arg-type]  # checked when the file was read
        ANY_ALTITUDE_DEG,
        None,
        night.moon_adds_mag,
    )


def night_sky(night: NightRequest, scene: Scene, zone: str) -> NightSky:
    """Lay out the moments of the arcs and the windows of Sun and Moon alone."""
    span = span_of_nights(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        first_night=night.evening,
        nights=1,
        tz=zone,
    )
    asked = sun_and_moon_asked(night, scene.target, span)
    found = conditions_of(asked)
    moonless = replace(found, moon=Toggles(np.array([], dtype="datetime64[us]"), True))
    noon = local_noon(night.evening, named_zone(zone)).astimezone(dt.UTC)
    return NightSky(
        zone=zone,
        times=_worth_showing(scene, noon),
        dark=tuple(windows_of(asked, found)),
        sunless=tuple(windows_of(replace(asked, moon="any"), moonless)),
        clear_by_deg=night.clear_by_deg,
        searched=Searched(asked, found),
    )


def _worth_showing(scene: Scene, noon: dt.datetime) -> tuple[dt.datetime, ...]:
    """Moments of a day from noon on at which arcs are looked at."""
    steps = np.arange(int(dt.timedelta(days=1) / ARC_STEP) + 1)
    keep = worth_looking(scene, utc_array([noon]) + steps * np.timedelta64(ARC_STEP))
    return tuple(noon + i * ARC_STEP for i in np.flatnonzero(keep).tolist())


def worth_looking(scene: Scene, utc: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Whether the Sun is down and the target above the horizontal, shape (n,)."""
    lat, lon = scene.subject.lat, scene.subject.lon
    _, target_up = direction(
        scene.target, lat=lat, lon=lon, height_m=scene.subject_ground_m, times=utc
    )
    _, sun_up = direction(Target.body("sun"), lat=lat, lon=lon, times=utc, refraction=False)
    return np.asarray((target_up > 0.0) & (sun_up < SUNRISE_ALTITUDE_DEG))


def where_and_when(outing: Outing) -> tuple[object, ...]:
    """What the sky over a subject hangs on, but for the ground's height there."""
    subject = outing.subject
    return subject.lat, subject.lon, outing.target, outing.night


def same_raster(one: Outing, other: Outing) -> bool:
    """Whether two outings read the same files in the same way."""
    return all(
        getattr(one.ground, name) == getattr(other.ground, name)
        for name in (
            *("elevation", "vertical_unit", "voids"),
            *("cover", "product"),
        )
    )
