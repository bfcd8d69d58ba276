"""A lens's arc as drawn: round the subject, also where the target passes by the zenith."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from pyproj import Geod

from backbearing.drawing.arcs import arc_runs, at_time
from backbearing.drawing.map_origin import MapOrigin
from backbearing.drawing.map_window import hatching, stipple
from backbearing.plan.stand import ArcPoint

LAT, LON, FAR_M = -31.0, 149.0, 12.0
START = dt.datetime(2027, 6, 5, 12, tzinfo=dt.UTC)
GEOD = Geod(ellps="WGS84")


def lens_at(bearings_deg: list[float], limits: dict[int, tuple[Any, ...]] | None = None) -> Any:
    """A lens whose stands lie so far off, on these bearings to the subject, 2 min apart."""
    points = []
    for i, bearing in enumerate(bearings_deg):
        # By pyproj's geodesics and not ours.
        lon, lat, _ = GEOD.fwd(LON, LAT, bearing + 180.0, FAR_M)
        points.append(
            ArcPoint(
                START + dt.timedelta(minutes=2 * i), lat, lon, FAR_M, bearing % 360.0, 0.0, 80.0,
                0.0, 80.0, 0.5, 0.5, (limits or {}).get(i, ()),
            )
        )  # fmt: skip
    return SimpleNamespace(arc=tuple(points))


def from_subject(lat: float, lon: float) -> tuple[float, float]:
    bearing, _, distance = GEOD.inv(LON, LAT, lon, lat)
    return bearing % 360.0, distance


SWING = [100.0, 101.0, 104.0, 115.0, 150.0, 210.0, 245.0, 256.0, 259.0, 260.0]
"""Bearings of a target that passes two degrees off the zenith, about (made up)."""


def test_no_chord_is_thrown_past_the_subject() -> None:
    (run,) = arc_runs(MapOrigin(LAT, LON), lens_at(SWING))
    polar = [from_subject(*spot) for spot in run["line"]]
    assert all(distance == pytest.approx(FAR_M, abs=0.02) for _, distance in polar)
    # The drawn line itself, half-way between its points: the sagitta of 3 degrees at 12 m is
    # 12 (1 - cos 1.5 deg) = 4 mm.
    for one, other in pairwise(run["line"]):
        middle = [(a + b) / 2.0 for a, b in zip(one, other, strict=True)]
        assert from_subject(*middle)[1] == pytest.approx(FAR_M, abs=0.02)


def test_a_minute_between_two_points_lies_on_the_arc_and_at_its_time() -> None:
    lens = lens_at(SWING)
    spot = at_time(lens, START + dt.timedelta(minutes=9))  # half-way from 150 to 210
    assert spot is not None
    bearing, distance = from_subject(*spot)
    assert (bearing, distance) == pytest.approx((0.0, FAR_M), abs=0.02) or bearing == pytest.approx(
        360.0, abs=0.02
    )
    for i, point in enumerate(lens.arc):
        at = at_time(lens, START + dt.timedelta(minutes=2 * i))
        assert at == pytest.approx((point.lat, point.lon), abs=1e-12)


def test_through_north_the_short_way_round() -> None:
    (run,) = arc_runs(MapOrigin(LAT, LON), lens_at([350.0, 20.0]))
    bearings = [(from_subject(*spot)[0] - 180.0 + 180.0) % 360.0 for spot in run["line"]]
    assert all(169.9 <= b <= 200.1 for b in bearings)
    assert np.all(np.diff(bearings) > 0.0)


def test_which_way_round_is_not_guessed_at_the_zenith() -> None:
    lens = lens_at([100.0, 101.0, 279.0, 280.0])
    assert [len(run["line"]) for run in arc_runs(MapOrigin(LAT, LON), lens)] == [2, 2]
    assert at_time(lens, START + dt.timedelta(minutes=3)) is None


def test_roles_meet_half_way_round() -> None:
    lens = lens_at([100.0, 140.0], {1: ("ridge",)})
    one, other = arc_runs(MapOrigin(LAT, LON), lens)
    assert (one["role"], other["role"]) == ("usable", "ridge")
    assert one["line"][-1] == other["line"][0]
    bearing, distance = from_subject(*one["line"][-1])
    assert (bearing - 180.0, distance) == pytest.approx((120.0, FAR_M), abs=0.02)
    assert from_subject(*other["line"][-1])[0] == pytest.approx(320.0, abs=0.01)


def test_a_stipple_fills_an_area_and_nothing_else() -> None:
    from shapely import Point, box

    ring = box(0, 0, 900, 600).difference(box(300, 200, 600, 400))
    spots = list(stipple(ring, step=3.0))
    assert all(ring.contains(Point(spot)) for spot in spots)
    # One in every 3 by 3 points.
    assert len(spots) == pytest.approx(ring.area / 9.0, rel=0.02)
    assert list(stipple(box(0, 0, 1, 1).boundary, step=3.0)) == []
    assert list(hatching(ring, step=3.0, rising=True))
