"""How dim, bright and cloudy the sky of each start of a turn is, and what that counts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.cloud_seen import cloud_towards
from backbearing.plan.turn_picture import TurnSky
from backbearing.sky.extinction import kasten_young_air_mass
from backbearing.sky.luminance import magnitude_of_cd_m2
from backbearing.sky.moonlight import zenith_mag_for
from backbearing.sky.natural_sky import NATURAL_MAG
from backbearing.sky.night_light import night_light

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.session_request import PictureRequest
    from backbearing.plan.stand import Stand

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

NO_CORE_MAG: Final = float("inf")


class Towards(NamedTuple):
    """Where a lens's stands are and how they see the target, at moments; arrays of shape (t,)."""

    lat: Floats
    lon: Floats
    azimuth_deg: Floats
    altitude_deg: Floats
    times: Sequence[dt.datetime]

    def rows(self, some: NDArray[np.intp]) -> Towards:
        """Some of them."""
        return Towards(
            self.lat[some],
            self.lon[some],
            self.azimuth_deg[some],
            self.altitude_deg[some],
            [self.times[i] for i in some.tolist()],
        )


@dataclass(frozen=True, slots=True)
class TurnSkies:
    """The sky of one lens's starts, arrays of one shape; NaN where not known or not asked.

    Attributes
    ----------
    air_mag : ndarray
        How much dimmer than overhead the air makes the target.
    bright_mag : ndarray
        How much brighter the sky behind it is than a natural zenith, Moon and twilight included.
    cloud : ndarray
        Share of cloud in the line of sight, 0 to 1.
    """

    air_mag: Floats
    bright_mag: Floats
    cloud: Floats

    def costs_m(self, wishes: PictureRequest) -> tuple[Floats, Floats, Floats]:
        """What each counts, metres; what is unknown counts nothing."""
        weights = (
            wishes.air_costs_m_per_mag,
            wishes.bright_sky_costs_m_per_mag,
            wishes.cloud_costs_m,
        )
        air, bright, cloud = (
            weight * np.nan_to_num(value)
            for weight, value in zip(
                weights, (self.air_mag, self.bright_mag, self.cloud), strict=True
            )
        )
        return air, bright, cloud

    def rows(self, some: NDArray[np.intp]) -> TurnSkies:
        """Some of them."""
        return TurnSkies(self.air_mag[some], self.bright_mag[some], self.cloud[some])

    def cost_m(self, wishes: PictureRequest) -> Floats:
        """What they count together, metres."""
        air, bright, cloud = self.costs_m(wishes)
        return air + bright + cloud


def skies_of(scene: Scene, at: Towards, wanted: Flags, wishes: PictureRequest) -> TurnSkies | None:
    """Look at the sky of the wanted starts; None where none of it counts.

    What costs nothing is not looked for, and stays NaN.
    """
    asked = wishes.air_costs_m_per_mag, wishes.bright_sky_costs_m_per_mag, wishes.cloud_costs_m
    if not any(asked):
        return None
    rows = np.flatnonzero(wanted & np.isfinite(at.lat))
    some = at.rows(rows)
    looks = (_air_mag, _bright_mag, _cloud)
    columns = []
    for look, weight in zip(looks, asked, strict=True):
        column = np.full(wanted.shape, np.nan)
        if weight > 0.0 and rows.size:
            column[rows] = look(scene, some)
        columns.append(column)
    return TurnSkies(*columns)


def sky_of_stand(scene: Scene, stand: Stand, wishes: PictureRequest) -> TurnSky | None:
    """The sky of one settled turn in figures; None where none of it counts."""
    at = Towards(
        np.array([stand.lat]),
        np.array([stand.lon]),
        np.array([stand.target_azimuth_deg]),
        np.array([stand.target_altitude_deg]),
        [stand.time],
    )
    found = skies_of(scene, at, np.ones(1, dtype=np.bool_), wishes)
    if found is None:
        return None
    air, bright, cloud = (float(cost[0]) for cost in found.costs_m(wishes))
    return TurnSky(
        air_mag=float(found.air_mag[0]),
        bright_sky_mag=float(found.bright_mag[0]),
        cloud_share=float(found.cloud[0]),
        air_cost_m=air,
        bright_sky_cost_m=bright,
        cloud_cost_m=cloud,
    )


def _air_mag(scene: Scene, at: Towards) -> Floats:
    if scene.dark_sky is None:
        return np.full(at.lat.shape, np.nan)
    mass = kasten_young_air_mass(at.altitude_deg)
    return np.asarray(scene.dark_sky.extinction_mag * (mass - 1.0))


def _bright_mag(scene: Scene, at: Towards) -> Floats:
    dark, subject = scene.dark_sky, scene.subject
    if dark is None:
        return np.full(at.lat.shape, np.nan)
    night = night_light(
        scene.target,
        lat=subject.lat,
        lon=subject.lon,
        height_m=scene.subject_ground_m,
        evening=_evening(at.times[0], subject.lon),
    )
    mag = dark.towards(
        lat=at.lat, lon=at.lon, azimuth_deg=at.azimuth_deg, altitude_deg=at.altitude_deg
    ).mag_arcsec2
    zenith = zenith_mag_for(mag, at.altitude_deg) if dark.by_direction else mag
    light = night.luminance(at.times, dark_mag=mag, core_mag=NO_CORE_MAG, dark_zenith_mag=zenith)
    return np.maximum(NATURAL_MAG - magnitude_of_cd_m2(light.total), 0.0)


def _evening(time: dt.datetime, lon: float) -> dt.date:
    """The day on whose noon by the Sun the night of a moment began."""
    return (time + dt.timedelta(hours=round(lon / 15.0)) - dt.timedelta(hours=12)).date()


def _cloud(scene: Scene, at: Towards) -> Floats:
    if scene.forecast is None:
        return np.full(at.lat.shape, np.nan)
    return cloud_towards(
        scene.forecast,
        lat=at.lat,
        lon=at.lon,
        height_m=scene.subject_ground_m,
        azimuth_deg=at.azimuth_deg,
        altitude_deg=at.altitude_deg,
        times=at.times,
    )
