"""When twilight lights the ground as asked, and a frame of the ground in the blue hour."""

from __future__ import annotations

import datetime as dt
import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.angles import angle_between_deg
from backbearing.base.numbers import figures, num
from backbearing.base.wall_clock import hm
from backbearing.camera.exposure import STANDARD_SHUTTERS_S
from backbearing.camera.exposure_model import electrons_a_pixel, signal_to_noise
from backbearing.camera.photometry import (
    luminance_of_face_cd_m2,
    lux_for_luminance,
    stops_between,
    surface_named,
)
from backbearing.camera.sensor import Sensor
from backbearing.plan.lamp import BlueHour, GroundFrame
from backbearing.sky.directions import direction
from backbearing.sky.glow import twilight_nl
from backbearing.sky.instants import utc_array
from backbearing.sky.luminance import magnitude_of_cd_m2
from backbearing.sky.moonlight import luminance_cd_m2, magnitude
from backbearing.sky.targets import SUN
from backbearing.sky.twilight_ground import TWILIGHT_SIGMA_STOPS, twilight_lux

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.light_request import LampRequest
    from backbearing.outing.request import Outing
    from backbearing.plan.lamp import SkyParts
    from backbearing.plan.stand import LensPlan, Stand

    Floats = NDArray[np.float64]

GROUND_BELOW_CLIPPING_STOPS: Final = 3.0
"""Where a frame of the ground puts it: about the middle of what a picture shows (common
practice, no source)."""


class _Sun:
    """The Sun at one place through one night, minute by minute."""

    def __init__(self, lat: float, lon: float, height_m: float, evening: dt.date) -> None:
        # Local noon by the Sun itself, to a quarter of an hour or so.
        noon = dt.datetime.combine(evening, dt.time(12), dt.UTC) - dt.timedelta(hours=lon / 15.0)
        self.times = [noon + dt.timedelta(minutes=m) for m in range(1441)]
        self._place: dict[str, Any] = {
            "lat": lat,
            "lon": lon,
            "height_m": height_m,
        }
        self._seen: dict[dt.datetime, tuple[float, float]] = {}
        _, self.altitude_deg = direction(
            SUN, **self._place, times=utc_array(self.times), refraction=False
        )

    def when_at(self, altitude_deg: float) -> tuple[dt.datetime | None, dt.datetime | None]:
        """When it sinks to an altitude, and when it rises to it; to a second or so."""
        over = self.altitude_deg - altitude_deg
        found: dict[bool, dt.datetime] = {}
        for i in np.flatnonzero(np.sign(over[:-1]) != np.sign(over[1:])):
            share = float(over[i] / (over[i] - over[i + 1]))
            found[bool(over[i] > 0.0)] = self.times[i] + dt.timedelta(minutes=share)
        return found.get(True), found.get(False)

    def towards(self, time: dt.datetime) -> tuple[float, float]:
        """Azimuth and altitude, degrees."""
        if time not in self._seen:
            azimuth, altitude = direction(SUN, **self._place, times=time, refraction=False)
            self._seen[time] = float(azimuth), float(altitude)
        return self._seen[time]


@lru_cache(maxsize=8)
def _sun_of_night(lat: float, lon: float, height_m: float, evening: dt.date) -> _Sun:
    """Work out the Sun once for all minutes that a desk asks about."""
    return _Sun(lat, lon, height_m, evening)


def blue_hour(
    outing: Outing,
    scene: Scene,
    sky: NightSky,
    lenses: Sequence[LensPlan],
    skies: Sequence[SkyParts],
) -> BlueHour | None:
    """Find the minutes, and a frame for every lens; None where the night's sky is unknown."""
    asked = outing.exposure.lamp
    assert asked is not None  # noqa: S101  # asked only of an outing with [light]
    night = [one.sky_cd_m2 for one in skies if math.isfinite(one.sky_cd_m2)]
    if not night:
        return None
    ground = surface_named(asked.ground)
    wanted = float(np.median(night)) * 2.0**-asked.ground_stops_under_sky
    lux = float(lux_for_luminance(cd_m2=wanted, reflectance=ground.reflectance))
    subject = scene.subject
    sun = _sun_of_night(subject.lat, subject.lon, scene.subject_ground_m, outing.night.evening)
    dusk, dawn = sun.when_at(_depth_for(lux))
    low, high = sun.when_at(asked.foreground_sun_deg)
    frames = []
    for lens in lenses:
        assert lens.stand is not None  # noqa: S101  # asked only of lenses that have one
        ends = [at for at in (low, high) if at is not None]
        if ends:
            _, nearest = min((abs(at - lens.stand.time), at) for at in ends)
            frames.append(_frame(outing, scene, lens, (nearest, sun.towards(nearest))))
    return BlueHour(lux, dusk, dawn, tuple(frames), _words(lux, dusk, dawn, asked, sky))


@lru_cache(maxsize=1)
def _twilight_by_depth() -> tuple[Floats, Floats]:
    altitude = np.arange(-18.0, 5.0, 0.01)
    return altitude, np.log(twilight_lux(altitude))


def _depth_for(lux: float) -> float:
    """The Sun's altitude at which a clear sky gives so much; NaN beyond twilight's table."""
    altitude, log_lux = _twilight_by_depth()
    if not log_lux[0] <= math.log(lux) <= log_lux[-1]:
        return math.nan
    return float(np.interp(math.log(lux), log_lux, altitude))


def _frame(
    outing: Outing,
    scene: Scene,
    lens: LensPlan,
    at: tuple[dt.datetime, tuple[float, float]],
) -> GroundFrame:
    asked, chip = outing.exposure.lamp, outing.exposure.sensor or Sensor()
    assert asked is not None  # noqa: S101  # asked only of an outing with [light]
    assert lens.stand is not None  # noqa: S101  # asked only of lenses that have one
    time, sun = at
    lux = float(twilight_lux(sun[1]))
    ground = float(
        luminance_of_face_cd_m2(lux=lux, reflectance=surface_named(asked.ground).reflectance)
    )
    mag = float(magnitude_of_cd_m2(ground))
    camera, kit = scene.camera, lens.lens
    rate = float(electrons_a_pixel(camera, kit, chip, mag_arcsec2=mag, shutter_s=1.0))
    clipping = chip.clipping_e(camera.pixel_pitch_um, asked.foreground_iso)
    exact = clipping * 2.0**-GROUND_BELOW_CLIPPING_STOPS / rate
    shutter = min(STANDARD_SHUTTERS_S, key=lambda s: abs(math.log2(s / exact)))
    shutter = exact if exact > max(STANDARD_SHUTTERS_S) else shutter
    snr = float(signal_to_noise(rate * shutter, 0.0, chip.read_noise_e))
    over = float(stops_between(_sky_then(lens.stand, sun), ground))
    return GroundFrame(
        lens=kit.label,
        time=time,
        sun_altitude_deg=sun[1],
        ground_lux=lux,
        ground_cd_m2=ground,
        sky_over_ground_stops=over,
        iso=asked.foreground_iso,
        shutter_s=shutter,
        ground_snr=snr,
        sentence=(
            f"{figures(shutter)} s at f/{num(kit.f_number)}, ISO {num(asked.foreground_iso)} "
            f"put the ground {num(GROUND_BELOW_CLIPPING_STOPS)} stops under clipping, its "
            f"signal-to-noise {num(snr, 0)} a pixel; the sky in the same frame stands "
            f"{num(over, 1)} stops over it."
        ),
    )


def _sky_then(stand: Stand, sun: tuple[float, float]) -> float:
    """Twilight where the stand's frame has the target at its own minute, candela a square metre.

    The night's own light is little beside it and is left out.
    """
    azimuth, altitude = stand.target_azimuth_deg, max(stand.target_altitude_deg, 0.0)
    apart = angle_between_deg(lon1_deg=sun[0], lat1_deg=sun[1], lon2_deg=azimuth, lat2_deg=altitude)
    glow = twilight_nl(
        sun_altitude_deg=sun[1],
        separation_deg=np.maximum(apart, 1.0),
        zenith_distance_deg=90.0 - altitude,
    )
    return float(luminance_cd_m2(magnitude(glow)))


def _words(
    lux: float,
    dusk: dt.datetime | None,
    dawn: dt.datetime | None,
    asked: LampRequest,
    sky: NightSky,
) -> str:
    stops = asked.ground_stops_under_sky
    under = "under" if stops >= 0.0 else "over"
    wanted = (
        f"Twilight lights {asked.ground} {num(abs(stops))} stops {under} the night's sky with "
        f"{figures(lux)} lux on level ground"
    )
    when = [f"{hm(at, sky.zone)}" for at in (dusk, dawn) if at is not None]
    if not when:
        return f"{wanted}, which no minute of this night's twilight gives."
    return (
        f"{wanted}: at {' and '.join(when)}, from the same stand with the same settings as the "
        f"sky's frame. Twilight is good to {num(TWILIGHT_SIGMA_STOPS)} stop under a clear sky, "
        "some minutes; cloud is a stop or more: try one and look."
    )
