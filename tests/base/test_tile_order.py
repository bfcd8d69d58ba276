"""The order of squares: every one once, neighbours one after another."""

from __future__ import annotations

import numpy as np

from backbearing.base.tile_order import place_on_curve


def test_each_square_touches_the_one_before_and_four_make_a_larger_one():
    row, col = (v.ravel() for v in np.mgrid[0:32, 0:32])
    order = np.argsort(place_on_curve(row, col))
    row, col = row[order], col[order]
    assert (np.abs(np.diff(row)) + np.abs(np.diff(col)) == 1).all()
    larger = (row // 2 * 16 + col // 2).reshape(-1, 4)
    assert (larger == larger[:, :1]).all()


def test_no_two_squares_share_a_place_on_either_side_of_zero():
    row, col = (v.ravel() for v in np.mgrid[-9:9, -7:11])
    assert len(np.unique(place_on_curve(row, col))) == len(row)
