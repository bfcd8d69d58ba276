"""What a picture of the skyline shows besides the skyline: nearer ground, and the Moon."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.plan.plan import GroundWithin, SkyPoint
from backbearing.sky.directions import direction
from backbearing.sky.targets import Target
from backbearing.terrain.cover.covered_elevation import covered_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.terrain.elevation import Elevation

WITHIN_M: Final = (500.0, 1_500.0, 5_000.0, 15_000.0)
"""Distances at which ground is drawn apart from what lies farther."""

EVERY: Final = 5
"""One moment in so many is enough for the Moon's path."""


def ground_within(
    scene: Scene, elevation: Elevation, *, lat: float, lon: float, step_deg: float
) -> tuple[GroundWithin, ...]:
    """Skylines of the bare ground within growing distances of a spot, nearest first.

    Where trees or buildings are known the last is that of all bare ground, so that what stands on
    it shows over it.
    """
    azimuths = np.arange(0.0, 360.0, step_deg)
    covered, found = covered_of(elevation), []
    ground = elevation if covered is None else covered.bare
    for within_m in WITHIN_M if covered is None else (*WITHIN_M, scene.reach_m):
        near = ground.horizon(
            lat=lat,
            lon=lon,
            eye_height_m=scene.framing.eye_height_m,
            azimuths_deg=azimuths,
            max_distance_m=min(within_m, scene.reach_m),
            refraction_k=scene.refraction_k,
        )
        found.append(GroundWithin(within_m, step_deg, tuple(map(float, near.altitudes_deg))))
    return tuple(found)


def moon_path(
    scene: Scene, *, lat: float, lon: float, times: Sequence[dt.datetime]
) -> tuple[SkyPoint, ...]:
    """Where the Moon stands through the night, while it is above the horizontal."""
    chosen = list(times[::EVERY])
    if not chosen:
        return ()
    azimuth, altitude = direction(
        Target.body("moon"), lat=lat, lon=lon, height_m=scene.subject_ground_m, times=chosen
    )
    return tuple(
        SkyPoint(time, float(a), float(h))
        for time, a, h in zip(chosen, azimuth, altitude, strict=True)
        if h > 0.0
    )
