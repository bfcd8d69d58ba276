"""Where frames were taken from, against camera places that the pictures were made from."""

from __future__ import annotations

import math

import numpy as np
import pytest
from star_fields import as_jpeg

from backbearing.review.seen_subject import Box, find_subject
from backbearing.review.stands_adjusted import adjust
from backbearing.review.where_stood import Sighting


def sighted(east_m, north_m, *, planned_m, height_m, width_m, sigma_m=1.0, pixel_deg=0.03):
    """What a camera 1.6 m over flat ground sees of a subject at the origin, planned due south."""
    away = math.hypot(east_m, north_m)
    return Sighting(
        azimuth_deg=math.degrees(math.atan2(-east_m, -north_m)) % 360.0,
        top_deg=math.degrees(math.atan2(height_m - 1.6, away)),
        top_sigma_deg=pixel_deg,
        width_deg=math.degrees(2.0 * math.atan2(width_m / 2.0, away)),
        width_sigma_deg=pixel_deg,
        planned_azimuth_deg=0.0,
        planned_distance_m=planned_m,
        eye_m=1.6,
        distance_sigma_m=sigma_m,
    )


def test_a_step_to_the_left_and_back_is_told():
    """West of the line is left as one looks north."""
    seen = sighted(-1.1, -20.6, planned_m=20.0, height_m=6.0, width_m=3.0)
    found = adjust([seen], height_m=6.0, height_sigma_m=0.02, width_m=3.0, width_sigma_m=0.02)
    stood = found.stood[0]
    assert stood.left_m == pytest.approx(1.1, abs=0.05)
    assert stood.farther_m == pytest.approx(0.6, abs=0.25)
    # The tape knew 1 m; the picture of a subject of known size knows better.
    assert stood.farther_sigma_m < 0.6


def test_taped_stands_tell_the_height():
    seen = [
        sighted(0.0, -d, planned_m=d, height_m=6.4, width_m=3.0, sigma_m=0.1)
        for d in (12.0, 30.0, 55.0)
    ]
    found = adjust(seen, height_m=6.0, height_sigma_m=0.9, width_m=math.nan, width_sigma_m=0.0)
    assert found.height_m == pytest.approx(6.4, abs=0.1)
    assert 0.05 < found.height_sigma_m < 0.3
    assert found.told_by_frames > 0.6


def test_height_and_distance_are_not_both_made_up_from_one_frame():
    """From 20 % farther an equally taller thing looks the same: the doubt must stay."""
    seen = sighted(0.0, -24.0, planned_m=20.0, height_m=7.0, width_m=3.0, sigma_m=4.0)
    found = adjust([seen], height_m=6.0, height_sigma_m=1.0, width_m=math.nan, width_sigma_m=0.0)
    assert found.height_sigma_m > 0.5
    assert abs(found.height_m - 7.0) < 2.0 * found.height_sigma_m
    assert abs(found.stood[0].distance_m - 24.0) < 2.0 * found.stood[0].distance_sigma_m


def test_the_doubts_are_those_of_repeated_nights():
    """Drawn over and over, results scatter as the adjustment says they do."""
    rng = np.random.default_rng(3)
    heights, sigmas = [], []
    for _ in range(150):
        high = 6.0 + rng.normal(0.0, 0.6)
        seen = []
        for d in (15.0, 40.0):
            away = d + rng.normal(0.0, 0.5)
            true = sighted(
                0.0,
                -away,
                planned_m=d,
                height_m=high - rng.normal(0.0, 0.3),
                width_m=3.0,
                sigma_m=0.5,
            )
            seen.append(
                true._replace(top_deg=true.top_deg + rng.normal(0.0, 0.03), width_deg=math.nan)
            )
        found = adjust(seen, height_m=6.0, height_sigma_m=0.6, width_m=math.nan, width_sigma_m=0.0)
        heights.append((found.height_m - high) / found.height_sigma_m)
        sigmas.append(found.height_sigma_m)
    assert 0.8 < np.std(heights) < 1.2
    assert abs(np.mean(heights)) < 0.25


@pytest.mark.parametrize("lit", [False, True], ids=["dark", "lit"])
@pytest.mark.parametrize("crown", [False, True], ids=["hut", "tree"])
def test_it_finds_the_subject_against_the_sky(lit, crown):
    rng = np.random.default_rng(2)
    rows, columns = np.mgrid[0:800, 0:1200].astype(float)
    sky = 0.012 + 0.02 * (rows / 800.0) ** 2
    land = rows > 640.0 + 8.0 * np.sin(columns / 110.0)
    if crown:
        thing = ((np.abs(columns - 640.0) < 12.0) & (rows > 420.0)) | (
            ((columns - 640.0) / 90.0) ** 2 + ((rows - 420.0) / 80.0) ** 2 < 1.0
        )
        top, left, right = 340.0, 550.0, 730.0
    else:
        thing = (np.abs(columns - 620.0) < 70.0) & (rows > 430.0)
        top, left, right = 430.0, 551.0, 690.0
    light = np.where(land, 0.0008, sky)
    light = np.where(thing & ~land, 0.12 if lit else 0.0008, light)
    # A band of thin cloud that floats, and a smaller bush beside.
    light *= 1.0 - 0.3 * np.exp(-(((rows - 150.0) / 30.0) ** 2))
    light = np.where((np.abs(columns - 980.0) < 25.0) & (rows > 600.0), 0.0008, light)
    for x, y in zip(rng.uniform(0, 1200, 300), rng.uniform(0, 600, 300), strict=True):
        light[int(y), int(x)] += 0.1
    picture = as_jpeg(light + rng.normal(0.0, 0.002, light.shape))
    box = Box(column=560.0, top_row=380.0, base_row=660.0, width=150.0)
    found = find_subject(picture, box)
    assert found is not None
    assert found.top_row == pytest.approx(top, abs=4.0)
    assert found.left == pytest.approx(left, abs=5.0)
    assert found.right == pytest.approx(right, abs=5.0)


def test_an_empty_horizon_has_no_subject():
    rows, _ = np.mgrid[0:800, 0:1200].astype(float)
    light = np.where(rows > 640.0, 0.0008, 0.02)
    assert find_subject(as_jpeg(light), Box(600.0, 380.0, 650.0, 150.0)) is None
