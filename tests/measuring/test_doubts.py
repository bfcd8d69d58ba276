"""Doubts against draws: each way's one sigma is the spread of what drawn readings give."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy.stats import chi2

from backbearing.base.errors import MeasureError
from backbearing.measuring.drops import drop_by_angle
from backbearing.measuring.heights import (
    height_by_angles,
    height_by_pole,
    height_by_sights,
    height_by_step_back,
)
from backbearing.measuring.pictures import PictureScale, Spot, height_by_picture, height_by_staff
from backbearing.measuring.readings import Measured, Reading, combined, odd_chi2, propagated
from backbearing.measuring.shadows import BLUR_SIGMA_DEG, height_by_shadow, height_by_two_shadows
from backbearing.measuring.widths import width_by_bearings, width_by_picture, width_by_staff

if TYPE_CHECKING:
    from collections.abc import Callable

SCALE = PictureScale(6000, 4000, Reading(8333.0, 100.0), Reading(4.0, 1.0))
WHEN = dt.datetime(2027, 3, 4, 21, 30, tzinfo=dt.UTC)
DRAWS = 1500


def tan(degrees: float) -> float:
    return math.tan(math.radians(degrees))


def angles(d: float, a: float, b: float) -> float:
    return d * (tan(a) - tan(b))


ANGLES = (Reading(20.0, 0.25), Reading(35.0, 0.5), Reading(-5.0, 0.5))
STEEP = (Reading(8.0, 0.2), Reading(72.0, 1.0), Reading(-12.0, 1.0))
SIGHTS = (Reading(32.0, 0.3), Reading(40.0, 0.5), Reading(25.0, 0.3), Reading(-5.0, 0.5))
POLE = (Reading(4.0, 0.02), Reading(24.0, 0.2), Reading(6.0, 0.2), Reading(-4.0, 0.2))
STEP = (Reading(15.0, 0.1), Reading(40.0, 0.2), Reading(-5.0, 0.2), Reading(25.0, 0.2),
        Reading(-3.0, 0.2))  # fmt: skip


def pole(p: float, a: float, m: float, b: float) -> float:
    return p * (tan(a) - tan(b)) / (tan(m) - tan(b))


def step(s: float, a: float, b: float, c: float, e: float) -> float:
    near, far = tan(a) - tan(b), tan(c) - tan(e)
    return s * near * far / (near - far)


def sights(t: float, a: float, f: float, b: float) -> float:
    return t * math.sin(math.radians(a)) - f * math.sin(math.radians(b))


@pytest.mark.parametrize(
    ("found", "formula", "readings"),
    [
        (height_by_angles(*ANGLES), angles, ANGLES),
        (height_by_angles(*STEEP), angles, STEEP),
        (height_by_sights(*SIGHTS), sights, SIGHTS),
        (height_by_pole(*POLE), pole, POLE),
        (height_by_step_back(STEP[0], (STEP[1], STEP[2]), (STEP[3], STEP[4])), step, STEP),
    ],
)
def test_clinometer_heights_spread_as_said(
    found: Measured, formula: Callable[..., float], readings: tuple[Reading, ...]
) -> None:
    # The formulas are written anew here, from the tangents.
    draw = np.random.default_rng(7)
    values = [formula(*(draw.normal(r.value, r.sigma) for r in readings)) for _ in range(40_000)]
    assert found.value_m == pytest.approx(formula(*(r.value for r in readings)), rel=1e-12)
    # 40,000 draws tell a standard deviation to 0.4 per cent.
    assert found.sigma_m == pytest.approx(np.std(values), rel=0.03)
    assert sum(found.shares.values()) == pytest.approx(1.0)


def jittered(draw: np.random.Generator, one: Any) -> Any:
    """The same reading, exact, somewhere within its doubt; a spot within three pixels."""
    if isinstance(one, Reading):
        return Reading(draw.normal(one.value, one.sigma), 0.0)
    if isinstance(one, Spot):
        return Spot(draw.normal(one.column_px, 3.0), draw.normal(one.row_px, 3.0))
    if isinstance(one, tuple):
        return tuple(jittered(draw, part) for part in one)
    if isinstance(one, PictureScale):
        assert one.pitch_deg is not None
        focal, pitch = jittered(draw, one.focal_px), jittered(draw, one.pitch_deg)
        return replace(one, focal_px=focal, pitch_deg=pitch, spot_sigma_px=0.0)
    return one


TREE = (Spot(3100.0, 500.0), Spot(3100.0, 2900.0))
STAFF = (Spot(3600.0, 2500.0), Spot(3600.0, 2900.0))
FAR, NEAR = Reading(40.0, 0.4), Reading(30.0, 0.3)


@pytest.mark.parametrize(
    ("way", "given", "named"),
    [
        (height_by_picture, (SCALE, FAR, *TREE), {}),
        (height_by_staff, (SCALE, Reading(1.8, 0.02), TREE, STAFF), {}),
        (height_by_staff, (SCALE, Reading(1.8, 0.02), TREE, STAFF), {"distances_m": (FAR, NEAR)}),
        (width_by_picture, (SCALE, FAR, Spot(1500.0, 900.0), Spot(4000.0, 1100.0)), {}),
        (
            width_by_staff,
            (SCALE, Reading(1.8, 0.02), (Spot(1500.0, 900.0), Spot(3400.0, 900.0)), STAFF),
            {},
        ),
        (width_by_bearings, (FAR, Reading(352.0, 0.5), Reading(12.0, 0.5)), {}),
        (
            height_by_two_shadows,
            (Reading(15.0, 0.3), Reading(2.0, 0.02), Reading(2.4, 0.04)),
            {"apart_s": 0.0},
        ),
        (drop_by_angle, (FAR, Reading(-3.0, 0.5), Reading(1.6, 0.02)), {}),
    ],
)
def test_every_way_spreads_as_said(
    way: Callable[..., Measured], given: tuple[Any, ...], named: dict[str, Any]
) -> None:
    draw = np.random.default_rng(11)
    found = way(*given, **named)
    values = []
    for _ in range(DRAWS):
        drawn = {key: jittered(draw, one) for key, one in named.items()}
        values.append(way(*jittered(draw, given), **drawn).value_m)
    spread = float(np.std(values))
    if way is height_by_two_shadows:
        # Each exact reading keeps the two half-shades, which no draw takes away.
        still = way(*(Reading(one.value) for one in given), **named).sigma_m
        blur = math.radians(math.sqrt(2.0) * BLUR_SIGMA_DEG)
        assert still == pytest.approx(15.0 * blur * (1.0 + (2.0 / 2.4) ** 2), rel=1e-3)
        spread = math.hypot(spread, still)
    # So many draws tell it to 1.8 per cent.
    assert found.sigma_m == pytest.approx(spread, rel=0.08)
    assert found.value_m == pytest.approx(
        np.mean(values), abs=4.0 * found.sigma_m / math.sqrt(DRAWS)
    )


def test_a_shadows_doubt_has_tape_slope_clock_and_blur() -> None:
    at = {"lat": 36.37, "lon": -84.36, "when": WHEN}
    shadow, slope = Reading(12.0, 0.2), Reading(2.0, 1.0)
    found = height_by_shadow(shadow, slope_deg=slope, when_sigma_s=120.0, **at)
    draw = np.random.default_rng(3)
    values = []
    for _ in range(400):
        when = WHEN + dt.timedelta(seconds=draw.normal(0.0, 120.0))
        # The tip lies anywhere in the half-shade of a disc of 0.53 degree: the Sun seems so much
        # higher or lower, drawn here as minutes of a Sun that sinks 0.19 degree a minute.
        exact = height_by_shadow(
            Reading(draw.normal(12.0, 0.2)), slope_deg=Reading(draw.normal(2.0, 1.0)),
            when_sigma_s=0.0, lat=at["lat"], lon=at["lon"], when=when,
        )  # fmt: skip
        blur = 12.0 * math.radians(draw.uniform(-0.265, 0.265)) / math.cos(math.radians(31.0)) ** 2
        values.append(exact.value_m + blur)
    assert found.sigma_m == pytest.approx(np.std(values), rel=0.12)


def test_where_a_formula_bends_the_points_feel_it_and_it_is_said() -> None:
    # x^2 at 1 +- 0.5: the variance of a Gaussian's square is 4 m^2 s^2 + 2 s^4.
    found = propagated(lambda x: x * x, {"x": Reading(1.0, 0.5)}, "a square")
    variance = 4.0 * 0.25 + 2.0 * 0.5**4
    assert found.sigma_m**2 == pytest.approx(variance + 0.25**2)
    assert not found.notes
    found = propagated(lambda x: x * x, {"x": Reading(0.2, 0.5)}, "a square")
    assert any("on average" in note for note in found.notes)
    # First order alone would say 2 m s, a third of the truth here.
    assert found.sigma_m > 2.0 * 0.2 * 0.5 * 2.0


def test_a_reading_that_leaves_the_formula_within_its_doubt_is_refused() -> None:
    with pytest.raises(MeasureError, match=r"top_deg is 88 give or take 2.*too unsure"):
        height_by_angles(Reading(2.0, 0.1), Reading(88.0, 2.0), Reading(0.0, 0.5))


def test_the_limit_of_chance_is_chi_squares() -> None:
    for count in (1, 2, 3, 4, 8, 20, 100):
        assert odd_chi2(count) == pytest.approx(chi2.ppf(0.997, count), rel=0.02)


def test_results_are_weighed_as_numpy_weighs_them() -> None:
    values, sigmas = np.array([12.1, 12.6, 11.9]), np.array([0.3, 0.6, 0.4])
    found = combined([Measured(v, s, "tape", {}) for v, s in zip(values, sigmas, strict=True)])
    assert found.value_m == pytest.approx(np.average(values, weights=sigmas**-2))
    assert found.sigma_m == pytest.approx(1.0 / math.sqrt(np.sum(sigmas**-2.0)))
    assert "they agree" in found.notes[-1]


@pytest.mark.parametrize("count", [2, 3, 5, 10])
def test_the_limit_of_agreement_is_chi_squares(count: int) -> None:
    # 99.7 per cent of chi-square, from scipy; the pair's difference is looked at apart.
    limit = float(chi2.ppf(0.997, count - 1))
    for share, odd in ((0.9, False), (1.1, True)):
        half = math.sqrt(share * limit * count) / count
        # Half of the results on either side, so that no pair stands out.
        spread = [half if i % 2 else -half for i in range(count)]
        off = np.array(spread) - np.mean(spread)
        off *= math.sqrt(share * limit / np.sum(off**2))
        found = combined([Measured(10.0 + o, 1.0, "tape", {}) for o in off])
        pair = (off.max() - off.min()) / math.sqrt(2.0)
        assert ("measure again" in found.notes[-1]) == (odd or pair >= 3.0)


def test_two_that_differ_by_three_sigma_are_sent_back() -> None:
    found = combined([Measured(12.0, 0.3, "tape", {}), Measured(13.5, 0.4, "shadow", {})])
    assert found.notes[-1].startswith("the two differ by 1.50 m, 3.0 sigma: measure again")
    # Widened until the differences are what the doubt allows.
    assert found.sigma_m == pytest.approx(0.24 * 3.0, rel=0.01)
    assert combined([found]) is found
    with pytest.raises(MeasureError, match="without doubt"):
        combined([found, Measured(12.0, 0.0, "oath", {})])
    with pytest.raises(MeasureError, match="nothing to combine"):
        combined([])
