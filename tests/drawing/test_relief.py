from __future__ import annotations

import io
import math

import numpy as np
from PIL import Image

from backbearing.drawing.contours import (
    UNITS_PER_PX,
    choose_interval_m,
    contour,
    height_labels,
    pack,
    packed,
    unpack,
)
from backbearing.drawing.mercator import MercatorGrid
from backbearing.drawing.relief import relief_picture, shade


def _cone(size: int = 201, slope: float = 4.0) -> MercatorGrid:
    row, col = np.mgrid[0:size, 0:size]
    middle = (size - 1) / 2
    heights = 800.0 - slope * np.hypot(row - middle, col - middle)
    return MercatorGrid(heights, -9_380_000.0, 4_340_000.0, 30.0)


def test_level_ground_takes_the_light_at_forty_five_degrees():
    light = shade(np.full((9, 9), 300.0), np.array([[25.0]]))
    np.testing.assert_allclose(light, math.sqrt(0.5), rtol=1e-12)


def test_the_north_west_side_of_a_hill_is_the_bright_one():
    grid = _cone()
    light = shade(grid.heights_m, grid.ground_step_m)
    assert light[40, 40] > math.sqrt(0.5) > light[160, 160]


def test_the_picture_is_see_through_exactly_where_the_ground_is_unknown():
    grid = _cone(60)
    grid.heights_m[10:20, 30:45] = np.nan
    image = Image.open(io.BytesIO(relief_picture(grid).webp))
    assert image.size == (60, 60)
    alpha = np.asarray(image.convert("RGBA"))[..., 3]
    np.testing.assert_array_equal(alpha == 0, ~np.isfinite(grid.heights_m))


def test_a_picture_of_nothing_known_is_wholly_see_through():
    grid = MercatorGrid(np.full((12, 12), np.nan), 0.0, 0.0, 30.0)
    alpha = np.asarray(Image.open(io.BytesIO(relief_picture(grid).webp)).convert("RGBA"))[..., 3]
    assert not alpha.any()


def test_contours_of_a_cone_are_circles_of_the_right_size():
    grid = _cone()
    lines = contour(grid, lines=20)
    assert lines.interval_m == 50.0
    for height_m in (500.0, 600.0, 700.0):
        (circle,) = lines.lines[height_m]
        radius = np.hypot(circle[:, 0] - 100.0, circle[:, 1] - 100.0)
        np.testing.assert_allclose(radius, (800.0 - height_m) / 4.0, atol=0.1)


def test_packed_contours_lie_on_the_picture_to_well_under_a_pixel():
    grid = _cone()
    text = packed(grid, contour(grid, lines=20, stride=2))
    off = []
    for line in unpack(text["index"]) + unpack(text["plain"]):
        heights = 800.0 - 4.0 * np.hypot(line[:, 0] - 100.0, line[:, 1] - 100.0)
        nearest = np.rint(heights.mean() / 50.0) * 50.0
        off.append(np.abs(heights - nearest).max() / 4.0)
    assert len(off) >= 10
    assert max(off) < 0.5


def test_packing_keeps_points_to_a_sixteenth_of_a_pixel_and_splits_long_steps():
    lines = [
        np.array([[0.0, 0.0], [900.25, 13.5], [900.3, 700.0], [2.2, 699.7]]),
        np.array([[5.0, 5.0], [5.5, 5.25]]),
    ]
    one, two = unpack(pack(lines))
    assert len(one) > 4
    for point in lines[0]:
        assert np.hypot(*(one - point).T).min() <= math.hypot(1, 1) / (2 * UNITS_PER_PX)
    # Split steps stay on the straight line between the corners.
    along = one[one[:, 0] < 900.0][:-1]
    first = along[np.abs(along[:, 1]) < 14.0]
    assert np.abs(first[:, 1] - first[:, 0] * 13.5 / 900.25).max() < 0.2
    np.testing.assert_allclose(two, lines[1], atol=1 / UNITS_PER_PX)


def test_contours_end_at_unknown_ground():
    grid = _cone()
    grid.heights_m[90:110, :] = np.nan
    for lines in contour(grid, lines=20).lines.values():
        for line in lines:
            assert not ((line[:, 1] > 90.0) & (line[:, 1] < 109.0)).any()


def test_ground_that_is_nowhere_known_has_no_contours():
    grid = MercatorGrid(np.full((20, 20), np.nan), 0.0, 0.0, 30.0)
    assert contour(grid, lines=20).lines == {}


def test_heights_are_written_on_index_contours_and_never_upside_down():
    grid = _cone()
    lines = contour(grid, lines=20)
    labels = height_labels(grid, lines)
    assert {height for *_, height in labels} <= {500, 750, 250}
    assert all(-90.0 <= turn <= 90.0 for _, _, turn, _ in labels)
    every = height_labels(grid, lines, every=True)
    assert {550, 600, 650} <= {height for *_, height in every}


def test_the_interval_follows_the_relief():
    assert choose_interval_m(840.0, lines=45) == 20.0
    assert choose_interval_m(30.0, lines=24) == 2.0
    assert choose_interval_m(0.0, lines=24) == 1.0
    assert choose_interval_m(8000.0, lines=24) == 500.0 or choose_interval_m(8000, lines=24) == 1000
