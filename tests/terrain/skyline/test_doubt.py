"""The doubt of a skyline where it has a closed form, and what must always hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from affine import Affine

from backbearing.terrain import Elevation
from backbearing.terrain.height_errors import SightErrors, StatedErrors
from backbearing.terrain.skyline.doubt import design

CELL = 30.0
EYE = (300, 40)


def raster(heights: np.ndarray) -> Elevation:
    grid = Affine(CELL, 0.0, 500_000.0, 0.0, -CELL, 5.2e6)
    return Elevation.from_array(heights, grid, "EPSG:32632")


def wall(at_cells: int, height_m: float = 400.0) -> Elevation:
    """Level ground with one wall, three pixels thick, to the east of the eye."""
    heights = np.full((600, 600), 500.0)
    heights[:, EYE[1] + at_cells - 1 : EYE[1] + at_cells + 2] += height_m
    return raster(heights)


def sight(stated: StatedErrors, **other: float) -> SightErrors:
    given = {"eye_height_m": 0.0, "position_m": 0.0, "refraction_k": 0.0, **other}
    return SightErrors(stated.over(CELL), **given)


def seen_from(  # type: ignore[no-untyped-def]
    dem: Elevation, row: object, col: object, azimuth: object, eye_height_m: float = 1.6
):
    at = dem.grid.places(row=np.asarray(row, dtype=float), col=np.asarray(col, dtype=float))
    return dem.skylines(lat=at.lat, lon=at.lon, azimuths_deg=azimuth, eye_height_m=eye_height_m)


def test_a_lone_wall_beyond_all_ranges_errs_as_two_heights_do() -> None:
    # sqrt(2) of 8 m at 12 km, less what interpolating takes off; from a tower, so that no
    # other ground comes near.
    dem = wall(400)
    seen = seen_from(dem, [EYE[0]], [EYE[1]], [90.0], eye_height_m=200.0)
    tangent = math.tan(math.radians(seen.altitudes_deg[0]))
    away = float(seen.distances_m[0])
    expected = math.degrees(math.sqrt(2.0) * 8.0 / away / (1.0 + tangent**2))
    found = dem.skyline_doubt(seen, sight(StatedErrors(8.0)))
    assert found.sigma_deg[0] == pytest.approx(expected, rel=0.1)
    # The wall's own two edges and three pixels err nearly alike.
    assert 0.0 <= found.rise_deg[0] < 0.4 * expected


def test_a_near_wall_errs_much_less_than_two_heights_on_their_own() -> None:
    dem = wall(2, 60.0)
    seen = seen_from(dem, [EYE[0]], [EYE[1]], [90.0])
    found = dem.skyline_doubt(seen, sight(StatedErrors(8.0)))
    away, tangent = float(seen.distances_m[0]), math.tan(math.radians(seen.altitudes_deg[0]))
    alone = math.degrees(math.sqrt(2.0) * 8.0 / away / (1.0 + tangent**2))
    assert 0.05 * alone < found.sigma_deg[0] < 0.6 * alone


@pytest.mark.parametrize(
    ("part", "value", "expected_m"), [("eye_height_m", 0.5, 0.5), ("refraction_k", 0.03, None)]
)
def test_eye_and_air_count_in_closed_form(
    part: str, value: float, expected_m: float | None
) -> None:
    dem = wall(300)
    seen = seen_from(dem, [EYE[0]], [EYE[1]], [90.0])
    away, tangent = float(seen.distances_m[0]), math.tan(math.radians(seen.altitudes_deg[0]))
    off_m = value * away**2 / (2.0 * 6_371_000.0) if expected_m is None else expected_m
    expected = math.degrees(off_m / away / (1.0 + tangent**2))
    found = dem.skyline_doubt(seen, sight(StatedErrors(1e-3), **{part: value}))
    assert found.sigma_deg[0] == pytest.approx(expected, rel=0.03)


def hills() -> Elevation:
    noise = np.random.default_rng(8).standard_normal((600, 600))
    k = np.hypot(np.fft.fftfreq(600)[:, None], np.fft.fftfreq(600))
    z = np.fft.ifft2(np.fft.fft2(noise) * np.maximum(k, 1.0 / 150.0) ** -1.9).real
    return raster(800.0 + 120.0 * z / z.std())


def test_every_ray_is_answered_as_if_it_were_alone() -> None:
    dem, rng = hills(), np.random.default_rng(1)
    row, col = rng.uniform(150.0, 450.0, (2, 12))
    azimuth = rng.uniform(0.0, 360.0, 12)
    errors = sight(StatedErrors(6.0, 4.0), position_m=5.0, eye_height_m=0.1)
    together = dem.skyline_doubt(seen_from(dem, row, col, azimuth), errors)
    alone = [
        dem.skyline_doubt(
            seen_from(dem, row[i : i + 1], col[i : i + 1], azimuth[i : i + 1]), errors
        )
        for i in range(12)
    ]
    for name in ("sigma_deg", "rise_deg"):
        one_by_one = np.concatenate([getattr(one, name) for one in alone])
        assert getattr(together, name) == pytest.approx(one_by_one, rel=1e-4, abs=1e-6)


def test_better_rasters_leave_less_doubt_and_none_leaves_none() -> None:
    dem, rng = hills(), np.random.default_rng(2)
    row, col = rng.uniform(150.0, 450.0, (2, 40))
    seen = seen_from(dem, row, col, rng.uniform(0.0, 360.0, 40))
    sigma, rise = zip(
        *(dem.skyline_doubt(seen, sight(StatedErrors(m)))[::-1] for m in (1e-4, 2.0, 6.0, 18.0)),
        strict=True,
    )
    assert np.all(sigma[0] < 0.002)
    assert np.all(np.abs(rise[0]) < 0.002)
    for less, more in ((0, 1), (1, 2), (2, 3)):
        assert np.median(sigma[more]) > np.median(sigma[less])
        assert np.median(rise[more]) > np.median(rise[less])


def test_no_skyline_no_doubt() -> None:
    dem = hills()
    seen = seen_from(dem, [300.0, np.nan], [300.0, 300.0], [10.0, 10.0])
    found = dem.skyline_doubt(seen, sight(StatedErrors(5.0)))
    assert np.isfinite(found.sigma_deg[0])
    assert np.isnan(found.sigma_deg[1])
    assert np.isnan(found.rise_deg[1])


@pytest.mark.parametrize("size", [2, 8, 24])
def test_the_design_has_no_mean_and_unit_covariance(size: int) -> None:
    made = design(size)
    vectors, weights = made.vectors.astype(np.float64), made.weights.astype(np.float64)
    assert weights.sum() == pytest.approx(1.0, abs=1e-5)
    assert weights @ vectors == pytest.approx(np.zeros(size - 1), abs=1e-5)
    assert (vectors.T * weights) @ vectors == pytest.approx(np.eye(size - 1), abs=1e-4)
    scale, over = made.scale.astype(np.float64), made.scale_weights.astype(np.float64)
    assert (over.sum(), over @ scale, over @ scale**2) == pytest.approx((1.0, 0.0, 1.0), abs=1e-5)
