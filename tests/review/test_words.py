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
    # 60 px at 7.5 degrees are 7.8 px aside, at room of 7.6: the angle decides, not the room.
    assert judge(region(60.0, 60.0, off_deg=off_deg)) == verdict


def test_a_short_trail_is_not_turned_while_its_end_stays_within_the_room() -> None:
    # 5 px at 11 degrees end 0.95 px aside, at 12 degrees 1.04; the room is 0.6 + 0.4 = 1.0.
    assert judge(region(5.0, 5.0, off_deg=11.0)) == "as predicted"
    assert judge(region(5.0, 5.0, off_deg=12.0)) == "turned"


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
