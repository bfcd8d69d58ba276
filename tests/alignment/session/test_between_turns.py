"""What one turn's stand does to the next: against one camera at a time, and rays past a post."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from backbearing.alignment.session.between_turns import (
    BetweenTurns,
    Post,
    StandsOf,
    shows_person,
)
from backbearing.alignment.session.blind_patch import Eye, Light, Screen, blind_from
from backbearing.alignment.view.frame_ground import HeldCamera
from backbearing.camera import Camera, Lens
from backbearing.outing.outline import Outline
from backbearing.outing.session_request import NO_WISHES, PictureRequest
from backbearing.outing.subject import Subject

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CAMERA = Camera(36.0, 24.0, 6000, 4000)
POST = Subject(lat=36.0, lon=-84.0, height_m=6.0, width_m=0.8)


def stands(seed: int, lens: Lens, count: int = 60, near_m: float = 4.0) -> StandsOf:
    """Stands all about a subject, each camera turned to it more or less."""
    rng = np.random.default_rng(seed)
    azimuth, distance = rng.uniform(0.0, 2.0 * np.pi, count), rng.uniform(near_m, 40.0, count)
    east, north = distance * np.sin(azimuth), distance * np.cos(azimuth)
    return StandsOf(
        CAMERA, lens, east, north, rng.normal(0.0, 1.0, count), 1.5,
        np.degrees(azimuth) + 180.0 + rng.normal(0.0, 5.0, count), rng.uniform(-5.0, 60.0, count),
    )  # fmt: skip


@pytest.mark.parametrize(
    "lens", [Lens(14.0), Lens(50.0), Lens(24.0, rise_mm=8.0), Lens(15.0, projection="equisolid")]
)
def test_somebody_shows_where_one_camera_sees_them(lens: Lens) -> None:
    before, later = stands(1, Lens(20.0)), stands(2, lens)
    s, t = (rows.ravel() for rows in np.meshgrid(np.arange(60), np.arange(60)))
    found = shows_person(before, s, later, t, 1.8)
    seen = []
    for one, two in zip(s, t, strict=True):
        eye = Eye(later.east_m[two], later.north_m[two], later.ground_m[two] + 1.5)
        held = HeldCamera(
            eye, CAMERA, lens, float(later.bearing_deg[two]), float(later.pitch_deg[two])
        )
        ground = before.ground_m[one]
        seen.append(
            held.shows(
                lambda e, _, up=ground: np.full(np.shape(e), up),
                float(before.east_m[one]), float(before.north_m[one]), height_m=1.8, width_m=0.6,
            )
        )  # fmt: skip
    assert 100 < sum(seen) < 3500
    np.testing.assert_array_equal(found, seen)


def between(subject: Subject, light: Light, wishes: PictureRequest) -> BetweenTurns:
    two = (stands(3, Lens(20.0), near_m=8.0), stands(4, Lens(35.0), near_m=8.0))
    # All within a quarter of the horizon, so that many pairs share a spot.
    turned = []
    for one in two:
        away, way = np.hypot(one.east_m, one.north_m), np.arctan2(one.east_m, one.north_m) / 6.0
        turned.append(
            dataclasses.replace(one, east_m=away * np.sin(way), north_m=away * np.cos(way))
        )
    post = Post.of(Screen(subject), light, subject.base_height_m)
    return BetweenTurns(tuple(turned), post, light.width_m, 30.0, 1.8, wishes)


@pytest.mark.parametrize("light", [Light(0.3, 0.5), Light(0.78, 0.5), Light(0.9, 0.4)])
def test_a_light_stays_where_the_shadows_of_a_post_meet(light: Light) -> None:
    # The shadows by the polygons of a post as high as a house, so that its top hides no light.
    tower = dataclasses.replace(POST, height_m=60.0)
    asked = between(tower, light, NO_WISHES)
    room = 0.05

    def patch(one: StandsOf, row: int) -> shapely.Geometry:
        eye = Eye(float(one.east_m[row]), float(one.north_m[row]), 1.5)
        wide = Light(light.width_m + 2.0 * room, light.height_m)
        found = blind_from(Screen(tower), wide, eye, 0.0, level, 30.0)
        ring = shapely.Point(0.0, 0.0).buffer(30.0 - room, quad_segs=256)
        nearest = 0.4 + 0.5 * light.width_m + 0.1 + room
        return found.intersection(ring).difference(
            shapely.Point(0.0, 0.0).buffer(nearest, quad_segs=256)
        )

    one, two = ([patch(stand, row) for row in range(25)] for stand in asked.stands)
    moves = asked.spoilt(0, 1, np.arange(25)[:, None], np.arange(25)[None, :]).light_moves
    checked = 0
    for i, a in enumerate(one):
        for j, b in enumerate(two):
            if 1e-9 < a.intersection(b).area < 2e-3 or 0.0 < a.distance(b) < 0.02:
                continue  # too close for polygons of strips
            assert bool(moves[i, j]) is not a.intersects(b), (i, j)
            checked += 1
    assert checked > 500
    assert light.width_m == 0.9 or 50 < moves.sum() < 600


def level(east: Floats, north: Floats) -> Floats:
    return np.zeros(np.broadcast(east, north).shape)


def test_a_post_is_as_wide_as_the_outline_at_its_narrowest_below_the_lights_top() -> None:
    mushroom = dataclasses.replace(
        POST, width_m=None,
        outline=Outline.of_widths([[0.0, 1.2], [1.0, 0.6], [2.0, 4.0], [6.0, 0.2]], height_m=6.0),
    )  # fmt: skip
    # From 1.2 m at the ground to 0.6 m at one metre: 0.9 m half way, at half a metre.
    assert Post.of(Screen(mushroom), Light(0.3, 0.5), 0.0).width_m == pytest.approx(0.9)
    assert Post.of(Screen(mushroom), Light(0.3, 1.5), 0.0).width_m == pytest.approx(0.6, abs=0.06)
    # On a wall half a metre high, from whose foot the light reaches to the base.
    raised = Post.of(Screen(mushroom), Light(0.3, 0.5), 0.5)
    assert raised.width_m == pytest.approx(1.2, abs=0.03)
    # Half the base, 1.2 m less what the slice that it is taken from tapers; half the light; 10 cm.
    assert raised.nearest_m == pytest.approx(0.6 + 0.15 + 0.1, abs=0.01)


def test_what_counts_nothing_is_not_looked_for_and_both_add_up() -> None:
    asked = between(POST, Light(0.3, 0.5), NO_WISHES)
    rows = np.arange(60)[:, None], np.arange(60)[None, :]
    assert asked.metres(0, 1, *rows) == 0.0
    wishes = PictureRequest(stand_before_shows_costs_m=3.0, light_moves_costs_m=500.0)
    both = dataclasses.replace(asked, wishes=wishes)
    spoilt = both.spoilt(0, 1, *rows)
    expected = 3.0 * spoilt.stand_before_shows + 500.0 * spoilt.light_moves
    np.testing.assert_array_equal(both.metres(0, 1, *rows), expected)
    assert set(np.unique(expected)) == {0.0, 3.0, 500.0, 503.0}
    one = both.metres(0, 1, 7, 9)
    assert float(one) == expected[7, 9]
