"""The verdict on a frame's trails, at the limits that the docs give."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from backbearing.review.region import RegionTrails
from backbearing.review.trails import MeasuredTrails
from backbearing.review.words import judge, say


def region(
    length_px: float,
    predicted_px: float,
    *,
    off_deg: float = 0.0,
    sigma_px: float = 0.0,
    at_most_px: float = math.nan,
    width_px: float = 2.8,
) -> RegionTrails:
    return RegionTrails(
        where="whole frame", stars=40, length_px=length_px, length_sigma_px=sigma_px,
        at_most_px=length_px if math.isnan(at_most_px) else at_most_px, angle_deg=30.0,
        angle_sigma_deg=0.0, width_px=width_px, predicted_length_px=predicted_px,
        predicted_angle_deg=30.0 - off_deg, angle_off_deg=off_deg, extra_px=0.0,
        extra_angle_deg=0.0,
    )  # fmt: skip


# Room for a length: twelve percent of it and 0.4 px, and three times its own error.
@pytest.mark.parametrize(
    ("length_px", "predicted_px", "sigma_px", "verdict"),
    [
        (11.5, 10.0, 0.0, "as predicted"),  # 1.2 + 0.4 = 1.6
        (11.7, 10.0, 0.0, "longer"),
        (8.5, 10.0, 0.0, "as predicted"),
        (8.3, 10.0, 0.0, "shorter"),
        (1.5, 1.0, 0.0, "as predicted"),  # 0.12 + 0.4 = 0.52
        (1.55, 1.0, 0.0, "longer"),
        (12.1, 10.0, 0.2, "as predicted"),  # 1.6 + 0.6 = 2.2
        (12.3, 10.0, 0.2, "longer"),
    ],
)
def test_a_length_has_room_for_a_lens_as_it_is(
    length_px: float, predicted_px: float, sigma_px: float, verdict: str
) -> None:
    assert judge(region(length_px, predicted_px, sigma_px=sigma_px)) == verdict


@pytest.mark.parametrize(
    ("off_deg", "verdict"), [(7.5, "as predicted"), (-7.5, "as predicted"), (8.5, "turned")]
)
def test_a_long_trail_is_turned_from_eight_degrees(off_deg: float, verdict: str) -> None:
    # 60 px at 7.5 degrees end 7.8 px aside, far over the 0.4 px: the angle decides.
    assert judge(region(60.0, 60.0, off_deg=off_deg)) == verdict


@pytest.mark.parametrize(
    ("length_px", "shows_deg"),
    [(0.5, 53.2), (1.0, 23.6), (1.5, 15.5), (2.0, 11.6), (2.5, 9.3), (3.0, 8.0), (20.0, 8.0)],
)
def test_a_short_trail_shows_the_angle_that_takes_its_end_aside(
    length_px: float, shows_deg: float
) -> None:
    # As docs/review.md has it: the sine of the angle times the length is 0.4 px, or 8 degrees.
    for off_deg, verdict in ((shows_deg - 0.3, "as predicted"), (shows_deg + 0.3, "turned")):
        assert judge(region(length_px, length_px, off_deg=off_deg)) == verdict
        assert judge(region(length_px, length_px, off_deg=-off_deg)) == verdict


def test_errors_of_the_measurement_make_the_angle_larger() -> None:
    # 3 x 0.1 px more aside: asin(0.7 / 2) is 20.5 degrees.
    assert judge(region(2.0, 2.0, off_deg=19.5, sigma_px=0.1)) == "as predicted"
    assert judge(region(2.0, 2.0, off_deg=21.5, sigma_px=0.1)) == "turned"


def test_a_short_trail_says_what_it_leaves_open() -> None:
    def sentences(length_px: float) -> str:
        whole = region(length_px, length_px)
        parts = tuple(
            replace(whole, where=where)
            for where in ("centre", "upper left", "upper right", "lower left", "lower right")
        )
        measured = MeasuredTrails(whole=whole, regions=parts, found=50, curve="sRGB")
        verdict, said = say(measured)
        assert verdict == "as predicted"
        return " ".join(said)

    assert "a turned camera only from 12° on" in sentences(2.0)
    assert "no angle to tell" in sentences(0.3)
    assert "turned" not in sentences(4.0)


@pytest.mark.parametrize(("predicted_px", "verdict"), [(1.8, "as predicted"), (2.0, "shorter")])
def test_a_trail_that_the_scatter_hides_may_be_as_predicted(
    predicted_px: float, verdict: str
) -> None:
    assert judge(region(0.0, predicted_px, at_most_px=1.5)) == verdict


@pytest.mark.parametrize(("width_px", "soft"), [(4.9, False), (5.1, True)])
def test_stars_are_soft_from_five_pixels(width_px: float, *, soft: bool) -> None:
    whole = region(6.0, 6.0, width_px=width_px)
    parts = tuple(
        replace(whole, where=where)
        for where in ("centre", "upper left", "upper right", "lower left", "lower right")
    )
    _, sentences = say(MeasuredTrails(whole=whole, regions=parts, found=50, curve="sRGB"))
    assert any("px wide across their trails" in s for s in sentences) is soft
