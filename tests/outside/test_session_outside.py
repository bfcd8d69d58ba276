"""The session's walking times, paths and orders against sources outside the project."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest
import shapely

from backbearing.alignment.session.schedule import Jobs, best_schedule
from backbearing.land.routes import way_by_tracks
from backbearing.land.walks import OFF_TRACK, walking_speed_m_per_minute
from backbearing.outing.session_request import SessionRequest


@pytest.mark.parametrize(
    ("slope", "km_h"), [(0.0, 5.04), (-0.05, 6.0), (0.10, 3.55), (-0.15, 4.23)]
)
def test_hiking_function_at_its_printed_speeds(slope: float, km_h: float) -> None:
    # Tobler (1993), NCGIA technical report 93-1: about 5 km/h on the level, most, 6 km/h, on a
    # fall of 0.05 (2.86 degrees), as Wikipedia quotes and tabulates it: 5.04 and 6.00. The other
    # two are the formula worked by hand, 6 exp(-3.5 x 0.15) and 6 exp(-3.5 x 0.10).
    assert float(walking_speed_m_per_minute(slope)) * 0.06 == pytest.approx(km_h, abs=0.01)


def test_off_the_path_times_three_fifths() -> None:
    # Tobler (1993): off-path travel is at 3/5 of the speed on a path, as Wikipedia quotes it.
    assert OFF_TRACK == 0.6


def test_times_in_the_dark_are_never_shorter_than_naismiths() -> None:
    # W. W. Naismith, Scottish Mountaineering Club Journal 2 (3), 136 (1892): an hour for three
    # miles on the map and another for 2,000 feet of ascent, as Wikipedia quotes it. On the level
    # the two rules agree within 5 %; uphill Tobler's is the faster one, by a third at 1 in 10, so
    # that the default factor for the dark has to make up for it.
    level = 3.0 * 1609.344 / 60.0
    assert float(walking_speed_m_per_minute(0.0)) == pytest.approx(level, rel=0.05)
    slopes = np.linspace(0.0, 0.4, 41)
    naismith_minutes_per_m = 1.0 / level + slopes * 60.0 / 609.6
    dark = SessionRequest(minutes=()).night_factor / walking_speed_m_per_minute(slopes)
    assert np.all(dark >= naismith_minutes_per_m)


def test_shortest_way_agrees_with_scipy() -> None:
    # scipy.sparse.csgraph.dijkstra, an implementation of its own.
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    rng = np.random.default_rng(11)
    # Corners of a bent grid, so that no two tracks cross between corners.
    east, north = np.meshgrid(np.arange(6) * 100.0, np.arange(6) * 100.0)
    spots = np.column_stack([east.ravel(), north.ravel()]) + rng.uniform(-20.0, 20.0, (36, 2))
    spots = np.round(spots, 3)
    edges = [(i, i + 1) for i in range(36) if i % 6 < 5] + [(i, i + 6) for i in range(30)]
    edges = [edge for edge in edges if rng.random() < 0.85]
    weights = np.zeros((36, 36))
    for a, b in edges:
        weights[a, b] = np.hypot(*(spots[a] - spots[b]))
    theirs = dijkstra(csr_array(weights), directed=False, indices=0)
    tracks = [shapely.LineString([spots[a], spots[b]]) for a, b in edges]
    compared = 0
    for goal in (20, 28, 35):
        way = way_by_tracks(tuple(spots[0]), tuple(spots[goal]), tracks)
        if all(way.on_track):
            assert way.line.length == pytest.approx(theirs[goal], rel=1e-6)
            compared += 1
    assert compared >= 2


def test_orders_agree_with_an_assignment_solver() -> None:
    # With no walking and waiting free, the cheapest starts of jobs that can never collide are an
    # assignment; scipy.optimize.linear_sum_assignment is exact and knows nothing of orders.
    from scipy.optimize import linear_sum_assignment

    rng = np.random.default_rng(5)
    for _ in range(10):
        n, t = 6, 9
        cost = rng.uniform(0.0, 10.0, (n, t))
        nowhere = np.zeros((n, t))
        jobs = Jobs(
            minutes=np.arange(t) * 10.0,
            allowed=np.ones((n, t), dtype=bool),
            east_m=nowhere,
            north_m=nowhere,
            before=np.full(n, 5.0),
            walk_minutes=np.full(n, 1.0),
            during=np.full(n, 5.0),
            start_cost=cost,
            metres_per_minute=50.0,
            wait_costs_m=0.0,
        )
        rows, columns = linear_sum_assignment(cost)
        assert best_schedule(jobs).cost == pytest.approx(cost[rows, columns].sum())


def test_orders_agree_with_the_shortest_open_tour() -> None:
    # With waiting free and time to spare it is the open travelling salesman; all orders of the
    # corners of a polygon with known shortest path: along its sides.
    corners = np.radians(np.arange(7) * 360.0 / 7.0)
    n, t = 7, 20
    east = np.tile((10.0 * np.cos(corners))[:, None], (1, t))
    north = np.tile((10.0 * np.sin(corners))[:, None], (1, t))
    jobs = Jobs(
        np.arange(t) * 5.0, np.ones((n, t), dtype=bool), east, north, np.full(n, 2.0),
        np.full(n, 1.0), np.full(n, 2.0), np.zeros((n, t)), 50.0, 0.0,
    )  # fmt: skip
    side = 2.0 * 10.0 * np.sin(np.pi / 7.0)
    assert best_schedule(jobs).cost == pytest.approx(6.0 * side)
    tours = [
        sum(
            np.hypot(east[a, 0] - east[b, 0], north[a, 0] - north[b, 0]) for a, b in pairwise(order)
        )
        for order in permutations(range(n))
    ]
    assert min(tours) == pytest.approx(6.0 * side)
