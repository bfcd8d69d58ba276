"""What places and raster say about a stand's spot, put about its other cautions."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backbearing.alignment.stand.ground_cautions import beyond_cautions, ground_cautions
from backbearing.land.access import place_cautions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.place import Place
    from backbearing.plan.stand import Stand


def with_surroundings(stand: Stand, scene: Scene, places: Sequence[Place]) -> Stand:
    """Return the stand with every caution of its surroundings."""
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
