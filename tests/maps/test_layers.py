from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from backbearing.base.geodesy import line_between
from backbearing.camera.angles import field_of_view
from backbearing.drawing.arcs import arc_runs, at_time, role_of
from backbearing.drawing.map_origin import MapOrigin
from backbearing.drawing.texts import Texts
from backbearing.drawing.wall_clock import WallClock
from backbearing.maps.dial_and_rings import dial_and_rings
from backbearing.maps.layers import layers
from backbearing.plan.turns import as_planned, order_of, turn_of_each
from backbearing.workflows.map_ground import map_ground


@pytest.fixture(scope="session")
def plan(deep_valley_plan):
    """Its skyline stands far behind the subject; the sample's begins at its foot."""
    return deep_valley_plan


@pytest.fixture(scope="module")
def drawn(plan, elevation):
    clock = WallClock(plan.zone)
    return {
        **layers(plan, clock, Texts()),
        **dial_and_rings(plan, map_ground(plan, elevation), clock),
    }


def test_ground_limits_outrank_those_of_the_sky():
    assert role_of(()) == "usable"
    assert role_of(("twilight", "ridge")) == "ridge"
    assert role_of(("moon", "frame")) == "frame"
    assert role_of(("moon",)) == "sky"
    assert role_of(("ridge", "no stand")) == "unknown"


def test_arc_stretches_meet_and_cover_every_placed_point(plan):
    for lens in plan.lenses:
        runs = arc_runs(MapOrigin.of(plan), lens)
        for one, other in pairwise(runs):
            assert one["role"] != other["role"]
            assert one["line"][-1] == other["line"][0]
        points = {tuple(p) for run in runs for p in run["line"]}
        assert all((round(p.lat, 8), round(p.lon, 8)) in points for p in lens.arc)
    assert {run["role"] for run in arc_runs(MapOrigin.of(plan), plan.lenses[0])} >= {
        "usable",
        "ridge",
    }


def test_a_moment_without_a_stand_leaves_a_gap(plan):
    lens = plan.lenses[0]
    middle = len(lens.arc) // 2
    gap = replace(lens.arc[middle], lat=math.nan, lon=math.nan, limits=("no stand",))
    torn = replace(lens, arc=(*lens.arc[:middle], gap, *lens.arc[middle + 1 :]))
    runs = arc_runs(MapOrigin.of(plan), torn)
    ends = [run["line"][-1] for run in runs]
    starts = [run["line"][0] for run in runs[1:]]
    assert sum(a != b for a, b in zip(ends, starts, strict=False)) == 1
    assert all(math.isfinite(v) for run in runs for p in run["line"] for v in p)


def test_the_sight_line_passes_over_the_subject_and_ends_at_the_skyline(plan, drawn):
    for lens, shown in zip(plan.lenses, drawn["lenses"], strict=True):
        sight, stand = shown["stand"]["sight"], lens.stand
        subject = line_between(
            lat1=sight[0][0], lon1=sight[0][1], lat2=plan.subject.lat, lon2=plan.subject.lon
        )
        end = line_between(lat1=sight[0][0], lon1=sight[0][1], lat2=sight[-1][0], lon2=sight[-1][1])
        aside = math.radians(float(subject.azimuth_deg - end.azimuth_deg)) * float(
            subject.distance_m
        )
        assert abs(aside) < 0.02
        miss = line_between(
            lat1=stand.skyline_lat, lon1=stand.skyline_lon, lat2=sight[-1][0], lon2=sight[-1][1]
        )
        assert float(miss.distance_m) < 2.0


def test_the_wedge_opens_by_the_lenss_horizontal_field(plan, drawn):
    for lens, shown in zip(plan.lenses, drawn["lenses"], strict=True):
        corner, left, right = (shown["stand"]["wedge"][i] for i in (0, 1, -1))
        az = [
            float(line_between(lat1=corner[0], lon1=corner[1], lat2=p[0], lon2=p[1]).azimuth_deg)
            for p in (left, right)
        ]
        wanted = field_of_view(plan.camera, lens.lens).horizontal_deg
        assert (az[1] - az[0]) % 360.0 == pytest.approx(wanted, abs=0.01)


def test_the_dial_tells_the_time_by_the_stands_direction(plan, drawn):
    clock = WallClock(plan.zone)
    by_text = {mark["text"]: mark for mark in drawn["dial"]["marks"]}
    lens = plan.lenses[-1]
    for point in lens.arc:
        shown = clock.hm(point.time)
        if shown in by_text and point.time.second == 0:
            expected = line_between(
                lat1=plan.subject.lat, lon1=plan.subject.lon, lat2=point.lat, lon2=point.lon
            ).azimuth_deg
            assert by_text[shown]["turn_deg"] == pytest.approx(float(expected), abs=0.05)
    minutes = {mark["minute"] for mark in drawn["dial"]["marks"]}
    assert minutes == {0, 15, 30, 45}


def test_a_place_on_the_arc_between_its_points(plan):
    lens = plan.lenses[0]
    one, other = lens.arc[10:12]
    half = at_time(lens, one.time + (other.time - one.time) / 2)
    assert half == pytest.approx(((one.lat + other.lat) / 2, (one.lon + other.lon) / 2))
    assert at_time(lens, lens.arc[0].time - dt.timedelta(minutes=1)) is None


def test_rings_lie_at_their_distances(plan, drawn):
    for ring in drawn["rings"]:
        for lat, lon in ring["line"][::18]:
            line = line_between(lat1=plan.subject.lat, lon1=plan.subject.lon, lat2=lat, lon2=lon)
            assert float(line.distance_m) == pytest.approx(ring["m"], abs=0.01)


def test_posts_are_the_rasters_own_points(plan, drawn, elevation):
    assert len(drawn["posts"]) > 10
    for lat, lon, height in drawn["posts"]:
        row, col = elevation.grid.pixels(lat=lat, lon=lon)
        assert float(row) == pytest.approx(round(float(row)), abs=1e-3)
        assert height == pytest.approx(
            float(elevation.heights_m[round(float(row)), round(float(col))]), abs=0.1
        )


def test_views_hold_what_they_promise(plan, drawn):
    (south, west), (north, east) = drawn["views"]["stands"]
    for lens in plan.lenses:
        assert south < lens.stand.lat < north
        assert west < lens.stand.lon < east
    (south, west), (north, east) = drawn["views"]["line"]
    for lens in plan.lenses:
        assert south - 1e-8 <= lens.stand.skyline_lat <= north + 1e-8
        assert west - 1e-8 <= lens.stand.skyline_lon <= east + 1e-8


def test_a_plan_without_any_stand_still_has_views(plan, elevation):
    none = replace(
        plan, lenses=tuple(replace(lens, stand=None, arc=(), usable=()) for lens in plan.lenses)
    )
    drawn = dial_and_rings(none, map_ground(none, elevation), WallClock(plan.zone))
    assert drawn["dial"]["marks"] == []
    assert all(len(corners) == 2 for corners in drawn["views"].values())
    assert drawn["declination_deg"] is None


def test_positions_across_the_antimeridian_stay_by_the_subject():
    origin = MapOrigin(-16.8, 179.9999)
    ring = origin.around([0.0, 90.0, 180.0, 270.0], 50.0)
    assert max(lon for _, lon in ring) - min(lon for _, lon in ring) < 0.001
    assert ring[1][1] > 180.0
    assert MapOrigin(-16.8, -179.9999).spot(-16.8, 179.9999)[1] == pytest.approx(-180.0001)


def test_the_dial_follows_the_core_round_the_zenith(south):
    plan, ground = south
    assert plan.session.shots
    drawn = dial_and_rings(as_planned(plan), map_ground(plan, ground), WallClock(plan.zone))
    rings = drawn["dial"]["rings"]
    assert rings
    swept = 0.0
    for ring in rings:
        lat, lon = np.array(ring).T
        line = line_between(lat1=plan.subject.lat, lon1=plan.subject.lon, lat2=lat, lon2=lon)
        # A chord between points 3 degrees apart keeps to the circle within 0.04 percent.
        half = [(lat[1:] + lat[:-1]) / 2.0, (lon[1:] + lon[:-1]) / 2.0]
        middle = line_between(
            lat1=plan.subject.lat, lon1=plan.subject.lon, lat2=half[0], lon2=half[1]
        )
        assert np.min(middle.distance_m) > 0.999 * np.max(line.distance_m)
        turns = np.degrees(np.unwrap(np.radians(line.azimuth_deg)))
        swept += float(np.ptp(turns))
    # The core culminates 2 degrees from the zenith there (declination -29.0): the direction
    # turns through more than half a circle in the night, most of it in an hour.
    assert swept > 180.0
    for mark in drawn["dial"]["marks"]:
        spots = np.array(mark["ticks"])
        far = line_between(
            lat1=plan.subject.lat, lon1=plan.subject.lon, lat2=spots[:, 0], lon2=spots[:, 1]
        ).distance_m
        assert (np.diff(far) >= -0.01).all()


def test_a_lens_without_a_turn_neither_stands_nor_widens_the_view(south):
    plan, ground = south
    planned = as_planned(plan)
    left = [lens for lens in planned.lenses if lens.stand is None]
    assert {one.lens.label for one in plan.session.left_out} == {x.lens.label for x in left}
    assert left
    drawn = dial_and_rings(planned, map_ground(plan, ground), WallClock(plan.zone))
    farthest = max(lens.stand.distance_m for lens in planned.lenses if lens.stand)
    (low, west), (high, east) = drawn["views"]["stands"]
    across = line_between(lat1=low, lon1=west, lat2=high, lon2=east)
    assert float(across.distance_m) < 6.0 * farthest


def test_with_a_session_the_turn_is_the_plan(plan):
    planned = as_planned(plan)
    assert order_of(plan) == tuple(
        i for shot in plan.session.shots for i, one in enumerate(turn_of_each(plan)) if one is shot
    )
    for lens, shot in zip(planned.lenses, turn_of_each(plan), strict=True):
        assert lens.stand is shot.stand
        assert lens.shutter_s == shot.figures.shutter_s
    alone = replace(plan, session=None)
    assert as_planned(alone) is alone
    times = [plan.lenses[i].stand.time for i in order_of(alone)]
    assert times == sorted(times)
    lost = replace(plan.lenses[0], stand=None)
    assert order_of(replace(alone, lenses=(lost, *plan.lenses[1:])))[-1] == 0
