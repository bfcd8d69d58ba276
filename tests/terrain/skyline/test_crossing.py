"""A straight way through one cell, against the cell looked at point by point."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from backbearing.terrain.skyline.crossing import rise_in_cell, tangents_in_cell

HEIGHTS = st.floats(-50.0, 50.0)
SHARES = st.floats(0.0, 1.0)
DROP = 6.8e-8  # (1 - 0.13) / (2 * 6371 km)


@given(
    heights=st.tuples(HEIGHTS, HEIGHTS, HEIGHTS, HEIGHTS),
    ends=st.tuples(SHARES, SHARES, SHARES, SHARES),
    near_m=st.floats(0.5, 5000.0),
    length_m=st.floats(0.1, 120.0),
    eye_m=st.floats(-30.0, 80.0),
    drop=st.sampled_from([0.0, DROP, 1e-3]),
)
@example((0.0, 0.0, 0.0, 0.0), (0.0, 0.0, 1.0, 1.0), 10.0, 30.0, 5.0, 1e-3)  # a summit within
@example((0.0, 30.0, 30.0, 0.0), (0.0, 0.0, 1.0, 1.0), 40.0, 42.0, 31.0, 0.0)
def test_the_highest_of_the_three_is_the_highest_on_the_way(
    heights: tuple[float, ...], ends: tuple[float, ...], near_m: float, length_m: float,
    eye_m: float, drop: float,
) -> None:  # fmt: skip
    # Heights of the bilinear surface by SciPy's map_coordinates, point by point.
    u0, v0, u1, v1 = ends
    first, below, beside, opposite = heights
    run = (u1 - u0) / length_m, (v1 - v0) / length_m
    way = rise_in_cell(heights, (u0, v0), run, eye_m)
    with np.errstate(divide="ignore", invalid="ignore"):
        enters, leaves, highest, top = tangents_in_cell(way, near_m, length_m, np.float64(drop))
    share = np.linspace(0.0, 1.0, 2001)
    surface = np.array([[first, beside], [below, opposite]])
    at = np.stack([u0 + share * (u1 - u0), v0 + share * (v1 - v0)])
    ground = map_coordinates(surface, at, order=1, mode="nearest")
    s = near_m + share * length_m
    seen = (ground - eye_m) / s - drop * s
    found = max(enters, leaves, highest)
    scale = 1.0 + np.abs(seen).max()
    assert enters == pytest.approx(seen[0], abs=1e-9 * scale)
    assert leaves == pytest.approx(seen[-1], abs=1e-9 * scale)
    # No point looks higher, and the points beside the highest come close to it.
    assert found >= seen.max() - 1e-9 * scale
    steepest = np.abs(np.diff(seen)).max()
    assert found <= seen.max() + steepest + 1e-9 * scale
    assert near_m <= top <= near_m + length_m
    rise, slope, curve = way
    x = top - near_m
    there = (rise + (slope + curve * x) * x) / top - drop * top
    assert highest == pytest.approx(there, abs=1e-9 * scale)


def test_arrays_and_numbers_give_the_same() -> None:
    rng = np.random.default_rng(2)
    corners = tuple(rng.uniform(-40.0, 40.0, 200) for _ in range(4))
    start, run = tuple(rng.uniform(0, 1, (2, 200))), tuple(rng.uniform(-0.01, 0.01, (2, 200)))
    near, length = rng.uniform(1.0, 900.0, 200), rng.uniform(1.0, 90.0, 200)
    with np.errstate(divide="ignore", invalid="ignore"):
        many = tangents_in_cell(rise_in_cell(corners, start, run, 20.0), near, length, DROP)
        assert (many[2] > np.maximum(many[0], many[1]) + 1e-6).any()
        for i in range(0, 200, 7):
            way = rise_in_cell(
                tuple(c[i] for c in corners), tuple(v[i] for v in start),
                tuple(v[i] for v in run), 20.0,
            )  # fmt: skip
            one = tangents_in_cell(way, near[i], length[i], DROP)
            assert [float(v) for v in one] == [float(v[i]) for v in many]


def test_level_ground_below_the_eye_looks_highest_at_the_crest() -> None:
    # Height -h over the eye at distance s: tangent -h / s - c s, highest at sqrt(h / c).
    way = rise_in_cell((0.0, 0.0, 0.0, 0.0), (0.0, 0.0), (1e-4, 1e-4), 2.0)
    enters, leaves, highest, top = tangents_in_cell(way, 4000.0, 3000.0, DROP)
    assert top == pytest.approx(math.sqrt(2.0 / DROP))
    assert highest == pytest.approx(-2.0 * math.sqrt(2.0 * DROP))
    assert highest > max(enters, leaves)
