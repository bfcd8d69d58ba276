"""A tracked sky and its untracked foreground at a stand's minute."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.base.numbers import figures, num
from backbearing.camera.exposure import STANDARD_SHUTTERS_S
from backbearing.camera.tracking import (
    ARCSEC_RAD,
    pixel_arcsec,
    polar_drift_arcsec_s,
    seconds_to_drift,
)
from backbearing.plan.tracker import TrackerFacts
from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.stand import Stand

HALF_MINUTE: Final = dt.timedelta(seconds=30)


def tracker_facts(
    scene: Scene, lens: Lens, stand: Stand, polar_error_arcmin: float
) -> TrackerFacts:
    """Say how long the mount may track before a pixel is lost, and what becomes of the land."""
    polar = polar_drift_arcsec_s(polar_error_arcmin)
    air = _air_drift_arcsec_s(scene, stand)
    # The two may point the same way: added, not squared.
    drift = polar + (air if math.isfinite(air) else 0.0)
    longest = seconds_to_drift(scene.camera, lens, drift, pixels=1.0)
    shutter = _marked(longest)
    moved = SIDEREAL_RATE_RAD_S * _cos_declination(stand) / ARCSEC_RAD
    smear = moved * shutter / pixel_arcsec(scene.camera, lens)
    return TrackerFacts(
        polar_error_arcmin=polar_error_arcmin,
        polar_drift_arcsec_min=60.0 * polar,
        air_drift_arcsec_min=60.0 * air,
        pixel_s=longest,
        tracked_shutter_s=shutter,
        land_smear_px=smear,
        tracker_sentence=_words((longest, shutter, smear), polar_error_arcmin, 60.0 * air),
    )


def _air_drift_arcsec_s(scene: Scene, stand: Stand) -> float:
    """How fast refraction moves the target off where it would be without air."""
    times = [stand.time - HALF_MINUTE, stand.time + HALF_MINUTE]
    place: dict[str, Any] = {
        "lat": stand.lat,
        "lon": stand.lon,
        "height_m": scene.subject_ground_m,
    }
    _, seen = direction(scene.target, **place, times=times)
    _, true = direction(scene.target, **place, times=times, refraction=False)
    if float(np.min(seen)) <= 0.0:
        return math.nan
    lifted = np.asarray(seen) - np.asarray(true)
    return abs(float(lifted[1] - lifted[0])) * 3600.0 / 60.0


def _cos_declination(stand: Stand) -> float:
    """Cosine of the declination of the target as seen."""
    lat, azimuth, altitude = (
        math.radians(v) for v in (stand.lat, stand.target_azimuth_deg, stand.target_altitude_deg)
    )
    sine = math.sin(lat) * math.sin(altitude) + math.cos(lat) * math.cos(altitude) * math.cos(
        azimuth
    )
    return math.sqrt(max(0.0, 1.0 - sine * sine))


def _marked(seconds: float) -> float:
    """The longest marked shutter within, whole seconds where the shutter is held open."""
    if seconds >= max(STANDARD_SHUTTERS_S):
        return float(math.floor(seconds))
    return max((one for one in STANDARD_SHUTTERS_S if one <= seconds), default=math.nan)


def _words(
    found: tuple[float, float, float], polar_error_arcmin: float, air_arcsec_min: float
) -> str:
    longest, shutter, smear = found
    why = f"{num(polar_error_arcmin)} arcminutes of polar error"
    if math.isfinite(air_arcsec_min):
        why += f" and the air's {figures(air_arcsec_min)} arcseconds a minute at that height"
    return (
        f"On a tracking mount {why} drift a pixel in {figures(longest, 3)} s at worst: track up "
        f"to {num(shutter)} s. The land then smears over {figures(smear)} px: take its frame "
        "with the mount off, from the same stand and aim, straight after the sky's (or in the blue "
        "hour before), and join the two along the skyline, where a strip so wide must come from "
        "the still frame. The mount's own gears and wind are not counted."
    )
