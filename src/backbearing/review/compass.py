"""A camera's compass set beside where the stars say that its lens pointed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.numbers import counted, num
from backbearing.review.told_by_stars import CompassOff, CompassSaid
from backbearing.sky.magnetic import magnetic_declination

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.review.exif_place import GpsFix


def compass_said(
    gps: GpsFix, *, azimuth_deg: float, lat: float, lon: float, height_m: float, time: dt.datetime
) -> CompassSaid | None:
    """Set one frame's compass beside the stars; None where it says nothing.

    Parameters
    ----------
    gps : GpsFix
    azimuth_deg : float
        True azimuth of the lens's axis, by the stars.
    lat, lon, height_m : float
        Of the stand, for the declination.
    time : datetime
    """
    said = gps.image_direction_deg
    if not math.isfinite(said):
        return None
    if not gps.from_magnetic:
        off = float(wrap_180_deg(said - azimuth_deg))
        sentence = f"The camera's compass said {num(said, 1)}° from true north: {_off(off)}."
        return CompassSaid(said, False, math.nan, off, 0.0, sentence)
    north = magnetic_declination(lat=lat, lon=lon, height_m=height_m, when=time)
    if not north.known:
        sentence = f"The camera's compass said {num(said, 1)}°. {north.sentence}"
        return CompassSaid(said, True, math.nan, math.nan, math.nan, sentence)
    declination = north.declination_deg
    off = float(wrap_180_deg(said + declination - azimuth_deg))
    side = "east" if declination >= 0.0 else "west"
    sentence = (
        f"The camera's compass said {num(said, 1)}° from magnetic north, "
        f"{num((said + declination) % 360.0, 1)}° true with {num(abs(declination), 1)}° {side} by "
        f"{north.model}: {_off(off)}."
    )
    return CompassSaid(said, True, declination, off, north.error_deg, sentence)


def compass_off(said: Sequence[CompassSaid]) -> CompassOff | None:
    """Join what the compass said over a night; None where it said nothing of use."""
    known = [one for one in said if math.isfinite(one.off_deg)]
    if not known:
        return None
    turns = np.radians([one.off_deg for one in known])
    mean = math.degrees(math.atan2(float(np.sin(turns).mean()), float(np.cos(turns).mean())))
    left = np.asarray(wrap_180_deg(np.degrees(turns) - mean))
    many = len(known)
    scatter = float(np.sqrt((left**2).sum() / (many - 1) / many)) if many > 1 else math.nan
    north = max(one.sigma_deg for one in known)
    sigma = math.hypot(scatter, north) if many > 1 else math.nan
    doubt = f", give or take {num(sigma, 1)}°" if many > 1 else ""
    sentence = (
        f"By {counted(many, 'frames') if many > 1 else 'one frame'} the camera's compass is "
        f"{_off(mean)}{doubt}."
    )
    return CompassOff(mean, sigma, many, sentence)


def _off(off_deg: float) -> str:
    way = "clockwise" if off_deg >= 0.0 else "anticlockwise"
    return f"{num(abs(off_deg), 1)}° {way} of the stars"
