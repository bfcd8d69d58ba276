"""What raster and places hold about a stand that may hurt or spoil.

Drops nearby, level ground like water, ground beyond the raster, and whose land it is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.cautions import STEEP_DEG
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import line_between
from backbearing.base.numbers import num
from backbearing.base.text import compass_point, length
from backbearing.land.access import place_cautions
from backbearing.terrain.slope_and_drops import flat_patches, largest_drop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.place import Place
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation

REACH_M = 100.0
"""How far round a stand drops and water-like ground are looked for."""

LEAST_FALL_M = 5.0
"""Falls smaller than this between neighbouring cells are not said."""


def with_surroundings(stand: Stand, scene: Scene, places: Sequence[Place]) -> Stand:
    """Return the stand with every caution of its surroundings about its own."""
    said = place_cautions(lat=stand.lat, lon=stand.lon, places=places)
    if scene.elevation is None:
        return replace(stand, cautions=(*said, *stand.cautions))
    ground = ground_cautions(scene.elevation, lat=stand.lat, lon=stand.lon) + beyond_cautions(
        scene.elevation,
        stand,
        eye_height_m=scene.framing.eye_height_m,
        refraction_k=scene.refraction_k,
        reach_m=scene.reach_m,
    )
    return replace(stand, cautions=(*said, *stand.cautions, *ground))


def ground_cautions(elevation: Elevation, *, lat: float, lon: float) -> tuple[str, ...]:
    """Say what the raster shows round a spot; that it shows nothing is no sign of safe ground."""
    try:
        return (*_drop(elevation, lat, lon), *_water(elevation, lat, lon))
    except TerrainError:
        return ("The ground round the stand is not known well enough to look for drops.",)


def beyond_cautions(
    elevation: Elevation, stand: Stand, *, eye_height_m: float, refraction_k: float, reach_m: float
) -> tuple[str, ...]:
    """Say whether ground beyond the raster could still hide the target from a stand.

    It is supposed to be as high as the raster's own highest ground, and no higher.
    """
    ray = elevation.horizon(
        lat=stand.lat,
        lon=stand.lon,
        eye_height_m=eye_height_m,
        azimuths_deg=[stand.target_azimuth_deg],
        max_distance_m=reach_m,
        refraction_k=refraction_k,
    )
    beyond = float(ray.could_be_hidden_from_m[0])
    if not np.isfinite(beyond):
        return ()
    said = (
        f"The raster ends {length(float(ray.reach_m[0]))} away towards the target: ground from "
        f"{length(beyond)} on, as high as its highest ({num(ray.highest_ground_m, 0)} m), could "
        "rise above the skyline found."
    )
    return (said,)


def _drop(elevation: Elevation, lat: float, lon: float) -> tuple[str, ...]:

    drop = largest_drop(elevation, lat=lat, lon=lon, within_m=REACH_M, least_slope_deg=STEEP_DEG)
    if drop is None or drop.fall_m < LEAST_FALL_M:
        return ()
    to = line_between(lat1=lat, lon1=lon, lat2=drop.foot_lat, lon2=drop.foot_lon)
    said = (
        f"The ground falls {num(drop.fall_m, 0)} m over {num(drop.over_m, 0)} m towards the "
        f"{compass_point(float(to.azimuth_deg))}, {length(drop.distance_m)} away; a true edge "
        "inside those cells is sharper."
    )
    return (said,)


def _water(elevation: Elevation, lat: float, lon: float) -> tuple[str, ...]:

    patches = flat_patches(elevation, lat=lat, lon=lon, within_m=REACH_M)
    if not patches:
        return ()
    nearest = patches[0]
    to = line_between(lat1=lat, lon1=lon, lat2=nearest.lat, lon2=nearest.lon)
    where = (
        "The stand lies on dead level ground"
        if nearest.distance_m < elevation.cell_size_m / 2.0
        else f"Dead level ground lies {length(nearest.distance_m)} to the "
        f"{compass_point(float(to.azimuth_deg))}"
    )
    return (f"{where} ({num(nearest.height_m, 0)} m): it may be open water.",)
