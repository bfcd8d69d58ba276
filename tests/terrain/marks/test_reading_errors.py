"""Tilt and turn put into invented readings are found again, within what is said of them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from backbearing.terrain.marks.reading_errors import Readings, fit_reading_errors

NOISE_DEG = 0.3


def ridge(azimuth_deg: np.ndarray) -> np.ndarray:
    """An invented skyline with slopes of all lengths."""
    a = np.radians(azimuth_deg)
    return np.asarray(
        5.0 + 3.0 * np.sin(2.0 * a) + 1.5 * np.sin(7.0 * a + 1.0) + 0.5 * np.sin(19.0 * a)
    )


def trial(seed: int, *, trees: float) -> tuple[Readings, float, float]:
    rng = np.random.default_rng(seed)
    n = 24
    azimuth = np.sort(rng.uniform(90.0, 230.0, n))
    tilt, turn = rng.uniform(-2.0, 2.0), rng.uniform(-8.0, 8.0)
    over = np.where(rng.random(n) < trees, rng.exponential(2.5, n), 0.0)
    altitude = ridge(azimuth) + over + rng.normal(0.0, NOISE_DEG, n) + tilt
    return Readings(azimuth + turn, altitude, np.full(n, NOISE_DEG)), tilt, turn


@pytest.mark.parametrize("trees", [0.0, 0.35, 0.6])
def test_tilt_and_turn_are_recovered_within_their_sigma(trees: float) -> None:
    """By the normal law 40 trials leave a mean of squares of 1 within about 0.45 (2 sigma).

    Wider is refused; narrower only says that the sigma is careful.
    """
    pulls = []
    for seed in range(40):
        readings, tilt, turn = trial(1000 + seed, trees=trees)
        found = fit_reading_errors(readings, ridge)
        if math.isfinite(found.tilt_deg):
            pulls.append((found.tilt_deg - tilt) / found.tilt_sigma_deg)
        if math.isfinite(found.turn_deg):
            pulls.append((found.turn_deg - turn) / found.turn_sigma_deg)
    told = np.array(pulls)
    assert len(told) > 70
    assert np.mean(told**2) < 1.45
    assert np.mean(told**2) > 0.2
    assert np.abs(told).max() < 4.5
    assert abs(told.mean()) < 0.45


def test_clean_readings_are_not_called_wrong() -> None:
    """With nothing injected an error of two sigma is said about once in twenty times."""
    said = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        azimuth = np.sort(rng.uniform(0.0, 360.0, 30))
        altitude = ridge(azimuth) + rng.normal(0.0, NOISE_DEG, 30)
        found = fit_reading_errors(Readings(azimuth, altitude, np.full(30, NOISE_DEG)), ridge)
        said += found.tilted + found.turned
    assert said <= 9


def test_a_flat_skyline_tells_a_tilt_and_no_turn() -> None:
    rng = np.random.default_rng(4)
    azimuth = np.arange(100.0, 200.0, 5.0)
    readings = Readings(azimuth, 3.0 + rng.normal(0.0, 0.3, 20), np.full(20, 0.3))
    found = fit_reading_errors(readings, lambda a: np.full(np.shape(a), 2.2))
    assert found.tilt_deg == pytest.approx(0.8, abs=0.25)
    assert math.isnan(found.turn_deg)
    assert "flat" in found.why
    assert not found.turned


def test_too_few_readings_tell_nothing() -> None:
    readings = Readings(np.array([100.0, 110.0]), np.array([5.0, 6.0]), np.full(2, 0.3))
    found = fit_reading_errors(readings, ridge)
    assert math.isnan(found.tilt_deg)
    assert math.isnan(found.turn_deg)
    assert "fewer than" in found.why
    assert not found.tilted


def test_unknown_ground_is_left_out() -> None:
    def half_known(azimuth: np.ndarray) -> np.ndarray:
        return np.where(np.asarray(azimuth) % 360.0 < 180.0, ridge(azimuth), np.nan)

    readings, tilt, _ = trial(7, trees=0.2)
    found = fit_reading_errors(readings, half_known)
    assert found.tilt_deg == pytest.approx(tilt, abs=4.0 * found.tilt_sigma_deg)


def test_an_error_that_the_raster_has_alike_goes_into_the_tilt_s_doubt() -> None:
    readings, _, _ = trial(3, trees=0.2)
    alone = fit_reading_errors(readings, ridge)
    both = fit_reading_errors(readings, ridge, common_sigma_deg=0.3)
    assert both.tilt_sigma_deg == pytest.approx(math.hypot(alone.tilt_sigma_deg, 0.3))
    assert both.turn_sigma_deg == alone.turn_sigma_deg
