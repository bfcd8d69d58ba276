"""The stars of a picture: the table, proper motion, the air's dimming, and who is in the frame."""

from __future__ import annotations

from functools import cache, lru_cache
from importlib import resources
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import unit_vectors
from backbearing.plan.view import Stars
from backbearing.sky.moonlight import EXTINCTION_MAG, dimming_mag
from backbearing.sky.stars import STARS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.view.sky_rotation import SkyTurn
    from backbearing.camera.framing import Frame

    Floats = NDArray[np.float64]


@cache
def star_table() -> tuple[NDArray[np.int64], Floats, Floats, Floats]:
    """Hipparcos numbers (n,), ICRS unit vectors (3, n) at J2000, V magnitudes and B-V (n,)."""
    text = (resources.files("backbearing") / "data" / "stars.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines()[1:]]
    hip = np.array([int(row[0]) for row in rows])
    ra, dec, mag = (np.array([float(row[i]) for row in rows]) for i in (1, 2, 3))
    b_v = np.array([float(row[4]) if row[4] else np.nan for row in rows])
    return hip, unit_vectors(lon_deg=ra, lat_deg=dec), mag, b_v


@lru_cache(maxsize=4)
def moved_vectors(year: float) -> Floats:
    """Star vectors of date: those with a known proper motion moved from J2000."""
    hip, vectors, _, _ = star_table()
    vectors = vectors.copy()
    place = {number: i for i, number in enumerate(hip.tolist())}
    for star in STARS.values():
        if star.hip not in place:
            continue
        ra, dec = np.radians(star.ra_deg), np.radians(star.dec_deg)
        east = np.array([-np.sin(ra), np.cos(ra), 0.0])
        north = np.array([-np.sin(dec) * np.cos(ra), -np.sin(dec) * np.sin(ra), np.cos(dec)])
        per_year = np.radians(1.0 / 3.6e6)
        step = (
            per_year * (year - 2000.0) * (star.ra_cos_dec_mas_yr * east + star.dec_mas_yr * north)
        )
        moved = unit_vectors(lon_deg=star.ra_deg, lat_deg=star.dec_deg) + step
        vectors[:, place[star.hip]] = moved / np.linalg.norm(moved)
    vectors.setflags(write=False)
    return vectors


def stars_in(
    frame: Frame, turn: SkyTurn, year: float, *, extinction_mag: float = EXTINCTION_MAG
) -> Stars:
    """Find the stars in a frame; those dimmed below the table's limit are left out."""
    hip, _, mag, b_v = star_table()
    azimuth, altitude = turn.horizontal(moved_vectors(year))
    dimmed = mag + dimming_mag(altitude, extinction_mag=extinction_mag)
    x, y = frame.place(azimuth, altitude)
    with np.errstate(invalid="ignore"):
        kept = (altitude > -1.0) & (x >= 0.0) & (x <= 1.0) & (y >= 0.0) & (y <= 1.0)
        kept &= dimmed < 7.0
    order = np.flatnonzero(kept)[::-1]
    return Stars(x[order], y[order], dimmed[order], b_v[order], hip[order])
