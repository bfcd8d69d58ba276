"""Lights beside the cameras: where one is sought, and what shadow a person throws."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely

from backbearing.alignment.session.blind_patch import Eye, Light
from backbearing.alignment.session.light_positions import Stage
from backbearing.alignment.session.side_lights import (
    out_of_frames,
    shadows_of,
    side_lights,
)
from backbearing.alignment.stand.scene import Scene
from backbearing.alignment.view.frame_ground import HeldCamera
from backbearing.base.local_plane import LocalPlane
from backbearing.camera import Camera, Lens
from backbearing.outing.subject import Framing, Subject
from backbearing.sky import CORE

CAMERA = Camera(36.0, 24.0, 6000, 4000)
OAK = Subject(lat=36.0, lon=-84.0, height_m=6.0, width_m=1.0)


def stage(light_height_m: float = 0.5, north_m: float = -30.0) -> Stage:
    """One camera with a 200 mm lens straight south of a tree on level ground."""
    held = HeldCamera(Eye(0.0, north_m, 1.5), CAMERA, Lens(200.0), 0.0, 2.0)
    return Stage(
        scene=Scene(OAK, 0.0, CORE, CAMERA, Framing(), None),
        local=LocalPlane(OAK.lat, OAK.lon),
        light=Light(0.3, light_height_m),
        person_height_m=1.8,
        reach_m=40.0,
        names=("200 mm",),
        cameras=(held,),
    )


def _shown(there: Stage, height_m: float) -> list[shapely.Geometry]:
    """Where something so high shows in each frame."""
    return [there.shown(camera, [height_m])[0] for camera in there.cameras]


def _free(there: Stage) -> shapely.Geometry:
    """Where the light shows in no frame."""
    return out_of_frames(there, _shown(there, there.light.height_m))


def test_a_side_light_is_sought_sixty_degrees_off_the_cameras_side_and_near() -> None:
    # At the tree the frame is 5.4 m wide. Of the spots at three quarters of the tree's height,
    # the nearest that are tried, those at 60 degrees stand 3.9 m aside: well out of the frame.
    there = stage()
    left, right = side_lights(there, _free(there), (), _shown(there, 0.0))
    for light, sign in ((left, -1.0), (right, 1.0)):
        assert light.angle_deg == pytest.approx(60.0)
        assert light.distance_m == pytest.approx(4.5)
        east, north = there.local.metres(lat=light.lat, lon=light.lon)
        # Facing north, right is east.
        assert float(east) == pytest.approx(sign * 4.5 * math.sin(math.radians(60.0)), abs=1e-3)
        assert float(north) == pytest.approx(-4.5 * math.cos(math.radians(60.0)), abs=1e-3)


def test_a_persons_shadow_is_as_wide_as_they_are_and_grows_with_the_way() -> None:
    # Shoulders, tripod and bag take 0.6 m (common practice, no source). A lamp 3.6 m up, twice as
    # high as the person, throws a shadow as long as the lamp is away, twice as wide at its end.
    there = stage(3.6, -10.0)
    sides = side_lights(there, shapely.box(-40.0, -40.0, 40.0, 40.0), (), _shown(there, 0.0))
    for (name, index, shadow), side in zip(shadows_of(there, sides), sides, strict=True):
        assert (name, index) == (f"200 mm, light on the {side.side}", 0)
        light = np.array(there.local.metres(lat=side.lat, lon=side.lon))
        person = np.array([0.0, -10.0])
        apart = float(np.hypot(*(person - light)))
        assert shadow.area == pytest.approx(apart * (0.6 + 1.2) / 2.0, rel=1e-3)
        assert shadow.distance(shapely.Point(person)) == pytest.approx(0.0, abs=1e-6)
        end = person + (person - light)
        assert shadow.boundary.distance(shapely.Point(end)) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("away_m", "said"), [(4.9, True), (5.0, False)])
def test_a_person_in_the_lights_way_is_said(away_m: float, *, said: bool) -> None:
    # A second stand 120 degrees round to the east: the middle of the two looks from 60 degrees
    # off either, and the light on the right is sought on the line of the second stand, 4.5 m
    # out. The light is 0.3 m wide and the person 0.6: they touch up to 4.5 + 0.15 + 0.3 m.
    there = stage()
    east, north = away_m * math.sin(math.radians(60.0)), away_m * math.cos(math.radians(60.0))
    away = HeldCamera(Eye(east, north, 1.5), CAMERA, Lens(200.0), 60.0, 2.0)
    two = dataclasses.replace(there, cameras=(*there.cameras, away), names=("far", "near"))
    _, right = side_lights(two, _free(two), (), _shown(two, 0.0))
    assert right.bearing_deg == pytest.approx(60.0, abs=0.01)
    assert right.distance_m == pytest.approx(4.5)
    assert ("near stand throws a shadow on the subject" in right.sentence) is said
