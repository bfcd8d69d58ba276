"""Where frames were taken from, against camera places that the pictures were made from."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from real_sky import catalogue_seen
from star_fields import as_jpeg

from backbearing.review.seen_subject import Box, find_subject
from backbearing.review.stands_adjusted import adjust, turned_by_clock
from backbearing.review.where_stood import Fix, Sighting, stood_sentence


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


def test_a_clock_turns_the_sky_as_astropy_has_it():
    """Ten minutes between two skies by Astropy, refraction and all; stars above 20 degrees."""
    site = {"lat": 44.1, "lon": -3.2, "height_m": 900.0}
    time = dt.datetime(2027, 7, 5, 23, 10, tzinfo=dt.UTC)
    azimuth, altitude, _ = catalogue_seen(**site, time=time)
    before, low, _ = catalogue_seen(**site, time=time - dt.timedelta(seconds=600.0))
    turned, up = turned_by_clock(azimuth, altitude, lat_deg=44.1, ahead_s=600.0)
    high = (altitude > 20.0) & (altitude < 85.0)
    off = (turned - before + 180.0) % 360.0 - 180.0
    # Refraction differs by what it changes over two degrees: less than 20 arcseconds up there.
    assert np.abs(off * np.cos(np.radians(low)))[high].max() < 0.006
    assert np.abs(up - low)[high].max() < 0.006


def test_a_receiver_s_place_counts_as_it_says():
    """A good fix settles the distance; a poor one changes next to nothing."""
    plain = sighted(0.0, -23.0, planned_m=20.0, height_m=6.4, width_m=3.0)
    known = {"height_m": 6.0, "height_sigma_m": 0.9, "width_m": math.nan, "width_sigma_m": 0.0}
    alone = adjust([plain], **known)
    good = adjust([plain._replace(fix=Fix(3.0, 0.0, 0.1))], **known)
    poor = adjust([plain._replace(fix=Fix(9.0, 4.0, 30.0))], **known)
    assert good.stood[0].farther_m == pytest.approx(3.0, abs=0.15)
    assert good.stood[0].distance_sigma_m < 0.15
    assert good.height_m == pytest.approx(6.4, abs=2.0 * good.height_sigma_m)
    # The step of the ground is left in it.
    assert good.height_sigma_m < alone.height_sigma_m
    assert abs(good.height_m - 6.4) < abs(alone.height_m - 6.4)
    assert poor.stood[0].distance_m == pytest.approx(alone.stood[0].distance_m, abs=0.05)


def test_a_frame_from_elsewhere_follows_its_receiver():
    """Taken from 45 m where 20 were planned: ten of the plan's doubts off."""
    seen = sighted(0.0, -45.0, planned_m=20.0, height_m=6.0, width_m=3.0)
    known = {"height_m": 6.0, "height_sigma_m": 0.3, "width_m": 3.0, "width_sigma_m": 0.2}
    found = adjust([seen._replace(fix=Fix(25.5, 0.0, 2.0))], **known).stood[0]
    assert found.by_receiver
    assert found.distance_m == pytest.approx(45.0, abs=2.0 * found.distance_sigma_m)
    assert "its place counts instead" in stood_sentence(found)
    near = adjust([seen._replace(planned_distance_m=44.0, fix=Fix(3.0, 0.0, 2.0))], **known)
    assert not near.stood[0].by_receiver


def test_one_clock_is_told_by_stands_that_are_known():
    """What cameras at their stands see with a clock 90 s ahead, turned by the sidereal rate."""
    rate = 360.0 / 86164.0905
    sightings = []
    for azimuth, away in ((170.0, 20.0), (150.0, 60.0)):
        at = sighted(0.0, -away, planned_m=away, height_m=6.0, width_m=3.0, pixel_deg=0.01)
        top, lat = math.radians(at.top_deg), math.radians(40.0)
        # Small turns about the pole, from the spherical triangle: the sky came 90 s too far round.
        turn = math.radians(azimuth)
        aside = math.sin(lat) - math.cos(lat) * math.cos(turn) * math.tan(top)
        up = -math.cos(lat) * math.sin(turn)
        sightings.append(
            at._replace(
                azimuth_deg=azimuth + 90.0 * rate * aside,
                top_deg=at.top_deg + 90.0 * rate * up,
                planned_azimuth_deg=azimuth, lat=40.0, aside_sigma_m=0.02, distance_sigma_m=0.02,
            )
        )  # fmt: skip
    known = {"height_m": 6.0, "height_sigma_m": 0.9, "width_m": 3.0, "width_sigma_m": 0.3}
    found = adjust(sightings, **known, clock_sigma_s=3600.0)
    assert found.clock_sigma_s < 10.0
    assert found.clock_ahead_s == pytest.approx(90.0, abs=2.0 * found.clock_sigma_s)
    assert found.clock_told > 0.99
    assert [abs(one.left_m) < 0.05 for one in found.stood] == [True, True]
