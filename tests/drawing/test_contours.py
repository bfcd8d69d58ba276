"""Specks among the contours, and how coarsely lines are drawn."""

from __future__ import annotations

import numpy as np
import pytest

from backbearing.drawing.contours import contour
from backbearing.drawing.mercator import MercatorGrid


def pyramid(height_m: float, size: int = 41) -> MercatorGrid:
    """Sides that fall a metre a pixel along rows and columns: contours are squares on a corner."""
    row, col = np.mgrid[0:size, 0:size]
    heights = height_m - np.abs(row - size // 2) - np.abs(col - size // 2)
    return MercatorGrid(heights.astype(float), -9_380_000.0, 4_340_000.0, 30.0)


@pytest.mark.parametrize(
    ("over_m", "drawn"),
    [
        (1.0, 0),  # four sides of sqrt(2) pixels: 5.7 pixels round
        (1.1, 1),  # 6.2 pixels round
    ],
)
def test_lines_under_six_pixels_are_specks(over_m: float, drawn: int) -> None:
    lines = contour(pyramid(100.0 + over_m), lines=3).lines
    assert len(lines[100.0]) == drawn


def test_a_simplified_line_leaves_the_contour_by_less_than_half_a_pixel() -> None:
    row, col = np.mgrid[0:201, 0:201]
    heights = 800.0 - 4.0 * np.hypot(row - 100.0, col - 100.0)
    grid = MercatorGrid(heights, -9_380_000.0, 4_340_000.0, 30.0)
    (circle,) = contour(grid, lines=20).lines[500.0]
    # A circle of 75 pixels: a chord that leaves it by d is 2 sqrt(2 * 75 d) long, so by 0.4 of
    # a pixel it takes at least 471 / 15.5 = 30 points, and by a tenth 60 of them.
    middles = (circle[1:] + circle[:-1]) / 2.0
    off = 75.0 - np.hypot(middles[:, 0] - 100.0, middles[:, 1] - 100.0)
    assert 0.25 < off.max() < 0.45
    assert 30 <= len(circle) < 60
