"""How heights err together, against closed forms and drawn errors."""

from __future__ import annotations

import math

import numpy as np
import pytest

from backbearing.terrain.height_errors import StatedErrors
from backbearing.terrain.reading.products import ASSUMED_ERRORS, PRODUCTS
from correlated_errors import ErrorLaw, nearby_errors

FLAT, STEEP = 0.0, 0.5


@pytest.mark.parametrize("key", PRODUCTS)
def test_near_heights_err_alike_and_far_ones_apart(key: str) -> None:
    stated = PRODUCTS[key].errors
    errors = stated.over(30.0)
    way = np.geomspace(0.1, 1e6, 60)
    off = errors.difference_sigma_m(way)
    assert off[0] < 0.01 * stated.sigma_m
    assert np.all(np.diff(off) > -1e-9)
    # Beyond both ranges: the root of two variances, less what interpolating takes off.
    assert off[-1] == pytest.approx(math.sqrt(2.0) * stated.sigma_m, rel=0.05)
    assert errors.sigma_m == pytest.approx(stated.sigma_m)


@pytest.mark.parametrize(
    ("key", "slope", "le90_m"),
    [
        # Farr et al. 2007 (SRTM) and the Copernicus DEM Product Handbook, 90 % point to point.
        ("srtm", FLAT, 10.0),
        ("copernicus 30", FLAT, 2.0),
        ("copernicus 30", STEEP, 4.0),
    ],
)
def test_heights_a_kilometre_apart_err_as_published(key: str, slope: float, le90_m: float) -> None:
    off = float(PRODUCTS[key].errors.over(30.0).difference_sigma_m(1000.0, slope))
    assert off * 1.6449 == pytest.approx(le90_m, rel=0.08)


@pytest.mark.parametrize("away_cells", [0.2, 0.7, 1.5, 3.0, 6.0])
def test_points_between_heights_err_as_drawn(away_cells: float) -> None:
    # Drawn at the corners of cells, and interpolated at points anywhere in them.
    cell, errors = 30.0, StatedErrors(6.0, 4.0).over(30.0)
    law = ErrorLaw(
        errors.local_sigma_m, errors.local_range_m, errors.wide_sigma_m, errors.wide_range_m,
        errors.steep_local_sigma_m,
    )  # fmt: skip
    rng = np.random.default_rng(2)
    size = 16
    row, col = (v.ravel() * cell for v in np.mgrid[0:size, 0:size])
    drawn = nearby_errors(law, row, col, rng, 400).reshape(400, size, size)
    y, x = rng.uniform(7.0, 8.0, (2, 400))
    turn = rng.uniform(0.0, 2.0 * np.pi, 400)

    def read(y: np.ndarray, x: np.ndarray) -> np.ndarray:
        i, j = y.astype(int), x.astype(int)
        u, v, n = y - i, x - j, np.arange(400)
        top = drawn[n, i, j] * (1 - v) + drawn[n, i, j + 1] * v
        low = drawn[n, i + 1, j] * (1 - v) + drawn[n, i + 1, j + 1] * v
        return np.asarray(top * (1 - u) + low * u)

    off = read(y, x) - read(y + away_cells * np.sin(turn), x + away_cells * np.cos(turn))
    stated = float(errors.difference_sigma_m(away_cells * cell))
    assert np.sqrt(np.mean(off**2)) == pytest.approx(stated, rel=0.12)


def test_your_own_range_and_relative_error_count() -> None:
    wide = StatedErrors(5.0, 2.0, range_m=900.0).over(30.0)
    near = StatedErrors(5.0, 2.0).over(30.0)
    assert (wide.local_range_m, near.local_range_m) == (900.0, 150.0)
    assert wide.difference_sigma_m(200.0) < 0.5 * near.difference_sigma_m(200.0)
    assert near.local_sigma_m == pytest.approx(2.0 / math.sqrt(2.0))
    # A relative error cannot make a height worse than its absolute one.
    assert StatedErrors(1.0, 9.0).over(30.0).sigma_m == pytest.approx(1.0)


@pytest.mark.parametrize("cell_m", [1.0, 5.0, 10.0, 30.0])
def test_assumed_errors_do_not_make_fine_cells_rougher(cell_m: float) -> None:
    # Ground 30 m away is no more doubtful because the same unknown heights stand closer.
    fine = ASSUMED_ERRORS.over(cell_m)
    coarse = ASSUMED_ERRORS.over(30.0)
    for way_m in (30.0, 100.0, 300.0):
        off, known = (float(e.difference_sigma_m(way_m)) for e in (fine, coarse))
        assert off == pytest.approx(known, rel=0.2)
    # Beside the eye an angle, not 28 degrees.
    beside = float(fine.difference_sigma_m(29.0))
    assert math.degrees(math.atan2(beside, 29.0)) < 7.0


def test_assumed_errors_hold_together_over_five_coarse_cells() -> None:
    assert ASSUMED_ERRORS.over(90.0).local_range_m == pytest.approx(450.0)
    # What a user states of fine heights is theirs: no longer range is put on it.
    assert StatedErrors(0.3).over(1.0).local_range_m == pytest.approx(5.0)
