"""Ways round closed land, water and hazards, against trying every corner."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.base.local_plane import LocalPlane
from backbearing.land.detours import Routed, walls_of, way_round
from backbearing.land.walks import walk_along
from backbearing.plan.place import Place

LOCAL = LocalPlane(36.2, -84.2)
START, END = (-50.0, 0.0), (50.0, 0.0)
FIELD = shapely.box(-10.0, -20.0, 10.0, 30.0)


def place(kind: str, access: str, geometry: shapely.Geometry, name: str = "it") -> Place:
    return Place(kind, name, "", access, LOCAL.to_earth(geometry))  # type: ignore[arg-type]


def routed(places, tracks=(), start=START, end=END) -> Routed:  # type: ignore[no-untyped-def]
    return way_round(start, end, tracks, walls_of(places, LOCAL, (start, end)))


@pytest.mark.parametrize(("kind", "access"), [("land", "closed"), ("water", "unknown")])
def test_the_way_bends_round_a_field_at_its_nearer_side(kind: str, access: str) -> None:
    found = routed([place(kind, access, FIELD, "Ferris field")])
    # By hand: two legs to the corners and one along the side between; the corners themselves
    # are the least that can be, corners a little off both sides the most.
    off = 1.1  # a metre, and a tenth for the rounding of corners
    least = 2.0 * float(np.hypot(40.0, 20.0)) + 20.0
    most = 2.0 * float(np.hypot(40.0 - off, 20.0 + off)) + 20.0 + 2.0 * off
    assert least < found.way.line.length < most
    assert found.longer_m == pytest.approx(found.way.line.length - 100.0)
    assert found.round_of == ("Ferris field",)
    assert 0.8 <= FIELD.distance(found.way.line) <= 1.2
    assert found.way.line.coords[0] == pytest.approx(START)
    assert found.way.line.coords[-1] == pytest.approx(END)
    assert f"{found.longer_m:.1f} m longer" in found.said[0]


@pytest.mark.parametrize("access", ["open", "ask first", "unknown"])
def test_other_land_is_walked_straight_over(access: str) -> None:
    found = routed([place("land", access, FIELD)])
    assert found.way.line.length == pytest.approx(100.0)
    assert (found.longer_m, found.round_of, found.said) == (0.0, (), ())


def test_where_there_is_no_way_round_that_is_said() -> None:
    ring = shapely.Point(END).buffer(30.0).difference(shapely.Point(END).buffer(10.0))
    found = routed([place("land", "closed", ring, "Sallow ring")])
    assert np.isnan(found.longer_m)
    assert found.way.line.length == pytest.approx(100.0)
    assert "No way round Sallow ring" in found.said[0]


def test_ground_on_which_the_way_ends_is_no_wall_but_is_said() -> None:
    field = place("land", "closed", shapely.Point(END).buffer(20.0), "Ferris field")
    found = routed([field])
    assert found.longer_m == 0.0
    walk = walk_along(
        found.way, start="a", end="b", local=LOCAL, elevation=None, places=[field],
        night_factor=1.5,
    )  # fmt: skip
    assert walk.closed
    assert any("Ferris field" in said for said in walk.cautions)


def test_a_track_through_closed_land_is_still_a_track() -> None:
    wide = place("land", "closed", shapely.box(-10.0, -500.0, 10.0, 500.0))
    track = shapely.LineString([(-40.0, 5.0), (40.0, 5.0)])
    found = routed([wide], [track])
    assert found.way.on_track_m == pytest.approx(80.0, abs=1.0)
    assert found.longer_m == 0.0


def test_a_brook_is_crossed_on_a_track_and_not_past_its_end() -> None:
    brook = place(
        "water", "unknown", shapely.LineString([(0.0, -60.0), (0.0, 60.0)]), "Averil beck"
    )
    track = shapely.LineString([(-20.0, 40.0), (20.0, 40.0)])
    found = routed([brook], [track])
    assert found.round_of == ("Averil beck",)
    crossing = found.way.line.intersection(shapely.LineString([(0.0, -60.0), (0.0, 60.0)]))
    assert crossing.y == pytest.approx(40.0)
    # The drawing ends, the brook does not: without a track it is crossed, as the walk says.
    bare = routed([brook])
    assert bare.way.line.length == pytest.approx(100.0)
    assert bare.said == ()


def test_hazards_are_kept_off() -> None:
    edge = shapely.LineString([(0.0, -8.0), (0.0, 30.0)])
    found = routed([place("hazard", "unknown", edge, "Delph edge")])
    assert found.round_of == ("Delph edge",)
    # Five metres off at least, and the metre and a bit that every corner is passed at.
    assert 5.0 <= edge.distance(found.way.line) <= 6.3
    shaft = shapely.Point(0.0, 0.0)
    away = shaft.distance(routed([place("hazard", "unknown", shaft)]).way.line)
    assert 5.0 <= away <= 6.3


def test_a_hazard_nearer_than_that_to_a_stand_is_still_gone_round() -> None:
    edge = shapely.LineString([(48.0, -8.0), (48.0, 30.0)])
    found = routed([place("hazard", "unknown", edge, "Delph edge")])
    assert found.round_of == ("Delph edge",)
    assert not edge.intersects(found.way.line)


@pytest.mark.parametrize(("gap_m", "walked"), [(1.5, True), (1.1, True), (0.6, False)])
def test_a_narrow_gap_is_walked_where_it_saves_a_long_way_and_is_said(
    gap_m: float, *, walked: bool
) -> None:
    # Two closed fields from far north to far south, with a gap between them on the line.
    north = place("land", "closed", shapely.box(-10.0, gap_m / 2.0, 10.0, 160.0), "North field")
    south = place("land", "closed", shapely.box(-10.0, -160.0, 10.0, -gap_m / 2.0), "South field")
    start, end = (-50.0, 3.0), (50.0, 3.0)
    found = routed([north, south], (), start, end)
    length = found.way.line.length
    assert (length < 101.0) == walked
    assert any("gap under 2 m" in said for said in found.said) == walked
    if not walked:
        assert length == pytest.approx(2.0 * np.hypot(40.0, 157.0) + 20.0, rel=0.02)


def test_the_way_keeps_its_distance_where_a_gap_saves_little() -> None:
    low = place("land", "closed", shapely.box(-10.0, -0.75 - 2.5, 10.0, -0.75), "Low field")
    high = place("land", "closed", shapely.box(-10.0, 0.75, 10.0, 60.0), "High field")
    found = routed([low, high], (), (-50.0, 3.0), (50.0, 3.0))
    assert found.way.line.bounds[1] < -3.25
    assert not any("gap" in said for said in found.said)


def test_ground_with_very_many_corners_is_gone_round_too() -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 4001)
    radius = 20.0 + 2.0 * np.sin(40.0 * angle)
    lake = shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    found = routed([place("water", "unknown", lake)])
    assert not lake.intersects(found.way.line)
    # A taut string round a disc of its outer radius is not much shorter.
    taut = 2.0 * np.sqrt(50.0**2 - 22.0**2) + 2.0 * 22.0 * np.arcsin(22.0 / 50.0)
    assert taut - 1.0 <= found.way.line.length <= 1.1 * taut


@given(st.integers(0, 10_000))
@settings(max_examples=25)
def test_no_way_over_the_corners_is_shorter(seed: int) -> None:
    # Every order of up to three corners of the fields, each leg tried on its own.
    rng = np.random.default_rng(seed)
    boxes = []
    for _ in range(3):
        x, y = rng.uniform(-30.0, 30.0, 2)
        wide, tall = rng.uniform(4.0, 25.0, 2)
        boxes.append(shapely.box(x - wide, y - tall, x + wide, y + tall))
    ground = shapely.union_all(boxes)
    start, end = (-90.0, 0.0), (90.0, 0.0)
    found = routed([place("land", "closed", box) for box in boxes], (), start, end)
    assert not ground.buffer(-0.05).intersects(found.way.line)
    outer = ground.buffer(1.3, join_style="mitre")
    corners = [tuple(xy) for xy in shapely.get_coordinates(outer)[:-1]]
    clear = {
        (a, b): not ground.intersects(shapely.LineString([a, b]))
        for a, b in permutations([start, end, *dict.fromkeys(corners)], 2)
    }
    best = 180.0 if clear[start, end] else np.inf
    for size in (1, 2, 3):
        for middle in permutations(dict.fromkeys(corners), size):
            legs = list(pairwise((start, *middle, end)))
            if all(clear[leg] for leg in legs):
                best = min(best, sum(float(np.hypot(*np.subtract(*leg))) for leg in legs))
    assert found.way.line.length <= best + 1.0
    assert found.way.line.length >= 180.0 - 1e-6


def test_a_brook_drawn_as_a_line_is_a_metre_wide() -> None:
    # Its bend lies in the way: half a metre of water, and a corner passed 0.8 to 1 m off that.
    brook = shapely.LineString([(-40.0, 60.0), (0.0, -10.0), (40.0, 60.0)])
    found = routed([place("water", "unknown", brook, "Averil beck")])
    assert found.round_of == ("Averil beck",)
    assert 1.25 <= brook.distance(found.way.line) <= 1.55
