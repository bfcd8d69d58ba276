"""Skylines towards the target, from many stands at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene

    Floats = NDArray[np.float64]


class SkylineRays(NamedTuple):
    """Skyline altitude, distance, position and unknown share, in the shape of the azimuths."""

    altitude_deg: Floats
    distance_m: Floats
    lat: Floats
    lon: Floats
    unknown_share: Floats


def skyline_rays(
    scene: Scene, *, lat: Floats, lon: Floats, azimuth_deg: Floats, ground_m: Floats
) -> SkylineRays:
    """Look from each place on its azimuths; places of shape (n,), azimuths (..., n)."""
    elevation = scene.elevation
    assert elevation is not None  # noqa: S101  # callers ask only over a raster
    shape = azimuth_deg.shape
    each = [np.broadcast_to(v, shape).ravel() for v in (lat, lon, azimuth_deg, ground_m)]
    seen = elevation.skylines(
        lat=each[0],
        lon=each[1],
        azimuths_deg=each[2],
        eye_height_m=scene.framing.eye_height_m,
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
        ground_m=each[3],
        to_the_last_bit=False,
    )
    found = (
        seen.altitudes_deg,
        seen.distances_m,
        seen.skyline_lat,
        seen.skyline_lon,
        seen.unknown_share,
    )
    return SkylineRays(*(column.reshape(shape) for column in found))
