"""Walks: the rule, the way by tracks, what lies on it."""

from __future__ import annotations

import dataclasses
from itertools import pairwise, permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.base.local_plane import LocalPlane
from backbearing.land.routes import straight_way, way_by_tracks
from backbearing.land.walks import walk_along, walking_speed_m_per_minute
from backbearing.plan.place import Place
from backbearing.terrain import Elevation

LOCAL = LocalPlane(36.2, -84.2)
OFF_TRACK = 0.6  # Tobler 1993, walking where there is no path


def slope_of(rise_per_m: float) -> Elevation:
    """A raster of 200 x 200 cells of about 30 m that rises to the east."""
    from affine import Affine

    cell = 0.0003
    columns = np.arange(200)
    metres = LocalPlane(36.2, -84.2).metres(lat=36.2, lon=-84.23 + cell * (columns + 0.5))[0]
    heights = np.tile(500.0 + rise_per_m * metres, (200, 1))
    transform = Affine(cell, 0.0, -84.23, 0.0, -cell, 36.23)
    return Elevation.from_array(heights.astype(np.float32), transform, "EPSG:4326")


def place(kind: str, access: str, geometry: shapely.Geometry, name: str = "it") -> Place:
    return Place(kind, name, "", access, LOCAL.to_earth(geometry))  # type: ignore[arg-type]


def walk(way, elevation=None, places=()):  # type: ignore[no-untyped-def]
    return walk_along(
        way, start="a", end="b", local=LOCAL, elevation=elevation, places=places, night_factor=1.5
    )


def test_level_and_unmarked_takes_the_rules_time() -> None:
    found = walk(straight_way((0.0, 0.0), (300.0, 400.0)))
    assert found.distance_m == pytest.approx(500.0)
    speed = 6000.0 / 60.0 * np.exp(-3.5 * 0.05) * 0.6
    assert found.minutes == pytest.approx(500.0 / speed)
    assert found.night_minutes == pytest.approx(1.5 * found.minutes)
    assert found.climb_m == found.descent_m == 0.0


def test_up_takes_longer_than_down() -> None:
    found = walk(straight_way((-500.0, 0.0), (500.0, 0.0)), slope_of(0.10))
    assert found.climb_m == pytest.approx(100.0, abs=1.0)
    assert found.descent_m == pytest.approx(0.0, abs=0.5)
    assert found.minutes == pytest.approx(1000.0 / (100 * np.exp(-3.5 * 0.15) * 0.6), rel=0.01)
    assert found.minutes_back == pytest.approx(1000.0 / (100 * np.exp(-3.5 * 0.05) * 0.6), rel=0.01)


def test_steep_and_unknown_ground_are_said() -> None:
    steep = walk(straight_way((-300.0, 0.0), (300.0, 0.0)), slope_of(0.5))
    assert steep.steepest_deg == pytest.approx(26.6, abs=0.3)
    assert any("Steep" in said for said in steep.cautions)
    gone = walk(straight_way((0.0, 0.0), (50_000.0, 0.0)), slope_of(0.0))
    assert np.isnan(gone.climb_m)
    assert any("unknown" in said for said in gone.cautions)


def test_a_wall_on_the_way_takes_the_time_of_the_steepest_ground_walked() -> None:
    from affine import Affine

    # 8000 m within a cell of 27 m: by the rule alone its minutes have some hundred digits.
    heights = np.where(np.arange(200) < 100, 0.0, 8000.0) * np.ones((200, 1))
    transform = Affine(0.0003, 0.0, -84.23, 0.0, -0.0003, 36.23)
    wall = Elevation.from_array(heights.astype(np.float32), transform, "EPSG:4326")
    found = walk(straight_way((-300.0, 0.0), (300.0, 0.0)), wall)
    assert found.steepest_deg > 89.0
    level = 600.0 / (100.0 * np.exp(-3.5 * 0.05) * 0.6)
    at_60_deg = 3.0 * 27.0 / (100.0 * np.exp(-3.5 * 1.8) * 0.6)
    assert level < found.minutes < level + at_60_deg
    assert level < found.minutes_back < level * 1.2 + at_60_deg


def test_closed_land_water_and_hazards_are_said() -> None:
    way = straight_way((-100.0, 0.0), (100.0, 0.0))
    field = shapely.box(-20.0, -20.0, 20.0, 20.0)
    found = walk(way, places=[place("land", "closed", field, "Sallow pits")])
    assert found.closed
    assert any("Sallow pits" in s and "closed" in s for s in found.cautions)
    assert any("does not name all the land" in s for s in found.cautions)
    asked = walk(way, places=[place("land", "ask first", field)])
    assert not asked.closed
    assert any("ask first" in s for s in asked.cautions)
    brook = shapely.LineString([(0.0, -50.0), (0.0, 50.0)])
    assert any(
        "crosses water" in s for s in walk(way, places=[place("water", "unknown", brook)]).cautions
    )
    edge = shapely.LineString([(-50.0, 12.0), (50.0, 12.0)])
    said = walk(way, places=[place("hazard", "unknown", edge, "old shaft")]).cautions
    assert any("passes within 12.0 m of hazard: old shaft" in s for s in said)
    whole = place("land", "open", shapely.box(-500.0, -500.0, 500.0, 500.0))
    assert walk(way, places=[whole]).cautions == ()
    for text in (*found.cautions, *asked.cautions):
        assert "safe" not in text


def test_tracks_are_followed_where_that_is_quicker() -> None:
    track = shapely.LineString([(0.0, 0.0), (500.0, 100.0), (1000.0, 0.0)])
    way = way_by_tracks((0.0, 0.0), (1000.0, -10.0), [track])
    assert way.on_track_m == pytest.approx(track.length, rel=0.02)
    far = shapely.LineString([(0.0, 900.0), (1000.0, 900.0)])
    assert way_by_tracks((0.0, 0.0), (1000.0, 0.0), [far]).on_track_m == 0.0
    assert way_by_tracks((0.0, 0.0), (10.0, 0.0), []).line.length == pytest.approx(10.0)


def test_tracks_that_cross_or_nearly_meet_are_joined() -> None:
    one = shapely.LineString([(0.0, 0.0), (600.0, 0.0)])
    two = shapely.LineString([(300.0, 3.0), (300.0, 800.0)])
    cross = shapely.LineString([(100.0, 700.0), (900.0, 700.0)])
    way = way_by_tracks((0.0, 0.0), (800.0, 700.0), [one, two, cross])
    assert way.on_track_m == pytest.approx(300.0 + 700.0 + 500.0, abs=10.0)


@given(st.integers(0, 10_000))
@settings(max_examples=25)
def test_no_other_path_over_the_tracks_is_quicker(seed: int) -> None:
    # Tracks between every pair of a few points; try every order of every stop by hand.
    rng = np.random.default_rng(seed)
    stops = [tuple(np.round(rng.uniform(0.0, 1000.0, 2), 3)) for _ in range(5)]
    pairs = [(i, j) for i in range(5) for j in range(i) if rng.random() < 0.5]
    tracks = [shapely.LineString([stops[i], stops[j]]) for i, j in pairs]
    way = way_by_tracks(stops[0], stops[1], tracks)
    lengths = np.diff(way.piece_ends_m(), prepend=0.0)
    cost = float(np.sum(lengths / np.where(way.on_track, 1.0, OFF_TRACK)))
    best = float(np.hypot(*np.subtract(stops[0], stops[1]))) / OFF_TRACK
    joined = {frozenset(pair) for pair in pairs}
    for size in range(4):
        for middle in permutations((2, 3, 4), size):
            legs = list(pairwise((0, *middle, 1)))
            if all(frozenset(leg) in joined for leg in legs):
                best = min(
                    best, sum(float(np.hypot(*np.subtract(stops[a], stops[b]))) for a, b in legs)
                )
    assert cost <= best + 0.01  # it may also cut corners where tracks cross
    assert way.line.coords[0] == pytest.approx(stops[0])
    assert way.line.coords[-1] == pytest.approx(stops[1])


def test_speed_is_highest_on_a_gentle_fall() -> None:
    slopes = np.linspace(-0.6, 0.6, 241)
    speed = walking_speed_m_per_minute(slopes)
    assert slopes[speed.argmax()] == pytest.approx(-0.05)
    assert speed.max() == pytest.approx(100.0)


def test_local_map_goes_there_and_back() -> None:
    lat, lon = LOCAL.places(east_m=[300.0, -20.0], north_m=[-40.0, 900.0])
    east, north = LOCAL.metres(lat=lat, lon=lon)
    assert east == pytest.approx([300.0, -20.0], abs=1e-6)
    assert north == pytest.approx([-40.0, 900.0], abs=1e-6)
    assert np.isnan(LOCAL.metres(lat=np.nan, lon=0.0)[0])
    area = shapely.box(0.0, 0.0, 100.0, 50.0)
    again = LOCAL.to_plane(LOCAL.to_earth(area))
    assert again.symmetric_difference(area).area < 1e-4
    assert dataclasses.is_dataclass(LOCAL)


@pytest.mark.parametrize(("away", "said"), [(19.0, True), (21.0, False)])
@pytest.mark.parametrize("kind", ["water", "hazard"])
def test_what_lies_within_twenty_metres_of_a_way_is_said(
    kind: str, away: float, *, said: bool
) -> None:
    edge = shapely.LineString([(-50.0, away), (50.0, away)])
    found = walk(
        straight_way((-100.0, 0.0), (100.0, 0.0)), places=[place(kind, "unknown", edge, "Fold")]
    )
    assert any(f"of {kind}: Fold" in s for s in found.cautions) is said


def stepped(fall_m: float, cell_m: float, beside_m: float = 0.0) -> Elevation:
    """Level ground in square cells that steps down north of a line so far north of the middle."""
    from affine import Affine
    from pyproj import Transformer

    x, y = Transformer.from_crs(4326, 32616, always_xy=True).transform(-84.2, 36.2)
    north = (60.0 - np.arange(121)) * cell_m
    heights = np.tile(np.where(north > beside_m, 500.0 - fall_m, 500.0)[:, None], (1, 121))
    transform = Affine(cell_m, 0, x - 60.5 * cell_m, 0, -cell_m, y + 60.5 * cell_m)
    return Elevation.from_array(heights, transform, "EPSG:32616")


@pytest.mark.parametrize(
    ("fall_m", "cell_m", "said"),
    [
        (4.7, 10.0, False),  # 25 degrees, but under five metres
        (5.3, 10.0, True),  # 28 degrees
        (6.0, 17.2, False),  # 19.2 degrees
        (6.0, 15.8, True),  # 20.8 degrees
    ],
)
def test_a_drop_beside_a_way_is_five_metres_and_twenty_degrees(
    fall_m: float, cell_m: float, *, said: bool
) -> None:
    # From west to east along a row of cells; the grid is turned a degree against true north.
    found = walk(straight_way((-60.0, 0.0), (60.0, 0.0)), stepped(fall_m, cell_m, beside_m=8.0))
    assert any("Beside the way the ground falls" in s for s in found.cautions) is said


@pytest.mark.parametrize(("beside_m", "said"), [(25.0, True), (35.0, False)])
def test_drops_are_looked_for_twenty_metres_to_either_side_and_a_cell(
    beside_m: float, *, said: bool
) -> None:
    # Cells of ten metres, the way 3 m south of a row of them: rows 23 m and 33 m off, and 30 m
    # are looked over.
    found = walk(straight_way((-20.0, -3.0), (20.0, -3.0)), stepped(30.0, 10.0, beside_m))
    assert any("Beside the way the ground falls 30 m" in s for s in found.cautions) is said


@pytest.mark.parametrize(("slope_deg", "said"), [(19.0, False), (21.0, True)])
def test_a_way_is_called_steep_from_twenty_degrees(slope_deg: float, *, said: bool) -> None:
    found = walk(
        straight_way((-300.0, 0.0), (300.0, 0.0)), slope_of(float(np.tan(np.radians(slope_deg))))
    )
    assert any("Steep ground on the way" in s for s in found.cautions) is said


@pytest.mark.parametrize(("gap_m", "joined"), [(4.5, True), (5.5, False)])
def test_track_ends_within_five_metres_are_taken_as_joined(gap_m: float, *, joined: bool) -> None:
    one = shapely.LineString([(0.0, 0.0), (600.0, 0.0)])
    two = shapely.LineString([(300.0, gap_m), (300.0, 800.0)])
    way = way_by_tracks((0.0, 0.0), (300.0, 800.0), [one, two])
    # Joined, all of its 1100 m are track; else the start hangs on the second track by a straight
    # line of 300 m over open ground.
    assert way.on_track_m == pytest.approx(1100.0 if joined else 800.0, abs=8.0)
