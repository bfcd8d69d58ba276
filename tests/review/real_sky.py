"""Frames of the real sky, drawn by other means than the package's own.

Star places come from the IAU's own routines (ERFA through Astropy [astropy.coordinates.AltAz],
refraction included), catalogue rows are read straight from the table, and the lens is a gnomonic
projection written out here with its own roll and distortion.
"""

from __future__ import annotations

import csv
from importlib import resources
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from star_fields import draw_path, with_grain

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray


class Held(NamedTuple):
    """How a rendered frame was held; degrees, millimetres."""

    azimuth_deg: float
    pitch_deg: float
    roll_deg: float
    focal_mm: float
    distortion: float = 0.0
    width_px: int = 1500
    height_px: int = 1000
    sensor_mm: float = 36.0

    def pixels(
        self, azimuth_deg: NDArray[Any], altitude_deg: NDArray[Any]
    ) -> tuple[NDArray[Any], NDArray[Any]]:
        """Columns and rows of directions, from the top left pixel's middle; NaN behind."""
        az, alt = np.radians(azimuth_deg), np.radians(altitude_deg)
        seen = np.stack([np.sin(az) * np.cos(alt), np.cos(az) * np.cos(alt), np.sin(alt)])
        h, p, r = np.radians([self.azimuth_deg, self.pitch_deg, self.roll_deg])
        ahead = np.array([np.sin(h) * np.cos(p), np.cos(h) * np.cos(p), np.sin(p)])
        level = np.array([np.cos(h), -np.sin(h), 0.0])
        upright = np.cross(level, ahead)
        # Rolled clockwise as seen from behind: its own right side sinks.
        right = level * np.cos(r) - upright * np.sin(r)
        up = upright * np.cos(r) + level * np.sin(r)
        shape = np.shape(azimuth_deg)
        seen = seen.reshape(3, -1)
        depth = ahead @ seen
        with np.errstate(divide="ignore", invalid="ignore"):
            x = np.where(depth > 0.0, right @ seen / depth, np.nan) * self.focal_mm
            y = np.where(depth > 0.0, up @ seen / depth, np.nan) * self.focal_mm
        pitch = self.sensor_mm / self.width_px
        corner = np.hypot(self.width_px, self.height_px) * pitch / 2.0
        far = 1.0 + self.distortion * (x**2 + y**2) / corner**2
        column = x * far / pitch + (self.width_px - 1) / 2.0
        row = (self.height_px - 1) / 2.0 - y * far / pitch
        return column.reshape(shape), row.reshape(shape)


def catalogue_seen(
    *, lat: float, lon: float, height_m: float, time: dt.datetime
) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Azimuth, apparent altitude and V magnitude of the table's stars, by Astropy."""
    import astropy.units as u
    from astropy.coordinates import AltAz, EarthLocation, SkyCoord
    from astropy.time import Time
    from astropy.utils import iers

    text = (resources.files("backbearing") / "data" / "stars.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    ra, dec, mag = (
        np.array([float(row[k]) for row in rows]) for k in ("ra_deg", "dec_deg", "v_mag")
    )
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        site = EarthLocation(lat=lat * u.deg, lon=lon * u.deg, height=height_m * u.m)
        air = AltAz(
            obstime=Time(time),
            location=site,
            pressure=1013.25 * np.exp(-height_m / 8435.0) * u.hPa,
            temperature=10.0 * u.deg_C,
            relative_humidity=0.3,
            obswl=0.55 * u.micron,
        )
        seen = SkyCoord(ra=ra * u.deg, dec=dec * u.deg).transform_to(air)
    return seen.az.deg, seen.alt.deg, mag


def render(
    held: Held,
    azimuth_deg: NDArray[Any],
    altitude_deg: NDArray[Any],
    magnitude: NDArray[Any],
    *,
    horizon_deg: float = 2.0,
    noise: float = 0.002,
    sigma_px: float = 1.1,
    sky: float = 0.02,
    more_stars: int = 0,
    gradient: float = 0.0,
    seed: int = 1,
) -> NDArray[Any]:
    """Linear light of a frame: stars, land below an altitude, a town's gradient, grain.

    ``more_stars`` faint ones of no catalogue are strewn in.
    """
    rng = np.random.default_rng(seed)
    image = np.full((held.height_px, held.width_px), sky)
    image += gradient * np.linspace(0.0, 1.0, held.width_px)[None, :] ** 2
    column, row = held.pixels(azimuth_deg, altitude_deg)
    for x, y, alt, mag in zip(column, row, altitude_deg, magnitude, strict=True):
        if np.isfinite(x) and alt > horizon_deg:
            flux = 60.0 * 10.0 ** (-0.4 * mag)
            draw_path(image, np.array([x]), np.array([y]), flux, sigma_px)
    for _ in range(more_stars):
        spot = np.array([rng.uniform(0, held.width_px)]), np.array([rng.uniform(0, held.height_px)])
        draw_path(image, *spot, 60.0 * 10.0 ** (-0.4 * rng.uniform(5.5, 7.5)), sigma_px)
    return with_grain(image, noise, rng)
