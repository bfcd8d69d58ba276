"""Where a fixed target stands at evenly spaced hour angles over many sites.

The sky turns as one: at one site azimuth and altitude of a fixed target depend on its hour
angle alone. Its apparent declination moves by some arcseconds in a season (aberration and
nutation); that of the season's middle is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import azimuth_altitude_of
from backbearing.scouting.ranking.task import NODE_STEP_DEG
from backbearing.sky import earth
from backbearing.sky.directions import air_factor_at, local_axes
from backbearing.sky.refraction import bending_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NODES: Final = round(360.0 / NODE_STEP_DEG)

NEWTON_STEPS: Final = 6
SLOPE_DEG: Final = 1e-5


@dataclass(frozen=True)
class TargetGrid:
    """The target over n sites at m hour angles.

    Attributes
    ----------
    nodes : ndarray of int, shape (m,)
        Which of the evenly spaced hour angles: node i stands at ``i * NODE_STEP_DEG``.
    azimuth_deg, altitude_deg : ndarray, shape (n, m)
        True azimuth, and altitude as seen.
    """

    nodes: NDArray[np.int64]
    azimuth_deg: Floats
    altitude_deg: Floats


def directions_at(
    *, hour_angle_deg: Floats, dec_deg: float, lat: Floats, height_m: Floats
) -> tuple[Floats, Floats]:
    """Azimuth and apparent altitude, degrees, at hour angles; the inputs broadcast.

    The same rotation, diurnal aberration and air as `backbearing.sky.direction`.
    """
    site = earth.sites(lat=lat, lon=0.0, height_m=height_m)
    turn, dec = np.radians(hour_angle_deg), np.radians(dec_deg)
    shape = np.broadcast_shapes(turn.shape, np.shape(lat))
    vector = np.stack(
        [
            np.broadcast_to(np.cos(dec) * np.cos(turn), shape),
            np.broadcast_to(-np.cos(dec) * np.sin(turn), shape),
            np.full(shape, np.sin(dec)),
        ]
    )
    azimuth, true = azimuth_altitude_of(*local_axes(vector, site, fixed=True))
    return azimuth, seen_altitude_deg(true, height_m)


def seen_altitude_deg(true_altitude_deg: Floats, height_m: Floats) -> Floats:
    """Altitude as seen through the standard air of a height, degrees; the inputs broadcast.

    The inverse of `backbearing.sky.refraction.true_altitude_deg` by a fixed number of Newton
    steps, so that the last bit does not depend on what else is in the array.
    """
    air = air_factor_at(height_m)
    seen = true_altitude_deg + bending_deg(true_altitude_deg, air)
    for _ in range(NEWTON_STEPS):
        bent = bending_deg(seen, air)
        slope = (bending_deg(seen + SLOPE_DEG, air) - bent) / SLOPE_DEG
        seen = seen - (seen - bent - true_altitude_deg) / (1.0 - slope)
    return np.asarray(seen)


def target_grid(
    *, nodes: NDArray[np.int64], dec_deg: float, lat: Floats, height_m: Floats
) -> TargetGrid:
    """Directions at some of the nodes over n sites."""
    azimuth, altitude = directions_at(
        hour_angle_deg=nodes[None, :].astype(np.float64) * NODE_STEP_DEG,
        dec_deg=dec_deg,
        lat=lat[:, None],
        height_m=np.nan_to_num(height_m)[:, None],
    )
    return TargetGrid(nodes, azimuth, altitude)
