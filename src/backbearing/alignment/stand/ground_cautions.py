"""What raster and places hold about a stand that may hurt or spoil.

Drops nearby, level ground like water, ground beyond the raster, and whose land it is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.stand_doubts import target_skylines
from backbearing.base.cautions import STEEP_DEG
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import line_between
from backbearing.base.numbers import num
from backbearing.base.text import compass_point, length
from backbearing.land.access import place_cautions
from backbearing.terrain.slope_and_drops import flat_patches_in, largest_drop_in
from backbearing.terrain.surroundings import Surroundings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.place import Place
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.skylines import Skylines

REACH_M = 100.0
"""How far round a stand drops and water-like ground are looked for."""

LEAST_FALL_M = 5.0
"""Falls smaller than this between neighbouring cells are not said."""


def with_surroundings(stand: Stand, scene: Scene, places: Sequence[Place]) -> Stand:
    """Return the stand with every caution of its surroundings about its own."""
    return each_with_surroundings([stand], [scene], places)[0]


def each_with_surroundings(
    stands: Sequence[Stand],
    scenes: Sequence[Scene],
    places: Sequence[Place],
    seen: Skylines | None = None,
) -> list[Stand]:
    """Do as `with_surroundings` for stands over one raster, each with its own scene.

    ``seen`` are their `target_skylines`, where they are known already.
    """
    beyond = _beyond(stands, scenes, seen)
    found = []
    for stand, scene, more in zip(stands, scenes, beyond, strict=True):
        said = place_cautions(lat=stand.lat, lon=stand.lon, places=places)
        ground: tuple[str, ...] = ()
        if scene.elevation is not None:
            ground = ground_cautions(scene.elevation, lat=stand.lat, lon=stand.lon)
        found.append(replace(stand, cautions=(*said, *stand.cautions, *ground, *more)))
    return found


def surroundings_of_each(
    stands: Sequence[Stand | None], scenes: Sequence[Scene], places: Sequence[Place]
) -> list[Stand | None]:
    """Do as `each_with_surroundings` for lenses of which some have no stand."""
    there = [i for i, stand in enumerate(stands) if stand is not None]
    known = [stand for stand in stands if stand is not None]
    told = each_with_surroundings(known, [scenes[i] for i in there], places)
    by_lens = dict(zip(there, told, strict=True))
    return [by_lens.get(i) for i in range(len(stands))]


def ground_cautions(elevation: Elevation, *, lat: float, lon: float) -> tuple[str, ...]:
    """Say what the raster shows round a spot; that it shows nothing is no sign of safe ground."""
    try:
        area = Surroundings.of(elevation, lat=lat, lon=lon, within_m=REACH_M)
        return (*_drop(elevation, area, lat, lon), *_water(elevation, area, lat, lon))
    except TerrainError:
        return ("The ground round the stand is not known well enough to look for drops.",)


def _beyond(
    stands: Sequence[Stand], scenes: Sequence[Scene], seen: Skylines | None
) -> list[tuple[str, ...]]:
    """Say whether ground beyond the raster could still hide the target from stands.

    It is supposed to be as high as the raster's own highest ground, and no higher.
    """
    elevation = scenes[0].elevation if scenes else None
    if elevation is None:
        return [()] * len(stands)
    rays = target_skylines(stands, scenes[0], elevation) if seen is None else seen
    return [
        _beyond_words(*row)
        for row in zip(
            rays.could_be_hidden_from_m.tolist(),
            rays.reach_m.tolist(),
            rays.highest_ground_m.tolist(),
            strict=True,
        )
    ]


def _beyond_words(beyond_m: float, reach_m: float, highest_m: float) -> tuple[str, ...]:
    if not np.isfinite(beyond_m):
        return ()
    said = (
        f"The raster ends {length(reach_m)} away towards the target: ground from "
        f"{length(beyond_m)} on, as high as its highest ({num(highest_m, 0)} m), could "
        "rise above the skyline found."
    )
    return (said,)


def _drop(elevation: Elevation, area: Surroundings, lat: float, lon: float) -> tuple[str, ...]:
    drop = largest_drop_in(area, elevation, within_m=REACH_M, least_slope_deg=STEEP_DEG)
    if drop is None or drop.fall_m < LEAST_FALL_M:
        return ()
    to = line_between(lat1=lat, lon1=lon, lat2=drop.foot_lat, lon2=drop.foot_lon)
    said = (
        f"The ground falls {num(drop.fall_m, 0)} m over {num(drop.over_m, 0)} m towards the "
        f"{compass_point(float(to.azimuth_deg))}, {length(drop.distance_m)} away; a true edge "
        "inside those cells is sharper."
    )
    return (said,)


def _water(elevation: Elevation, area: Surroundings, lat: float, lon: float) -> tuple[str, ...]:
    patches = flat_patches_in(area, elevation, within_m=REACH_M)
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
