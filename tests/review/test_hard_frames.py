"""Hard frames: coma against shake, streaks against trails, soft stars, and the words for them.

The whole table is drawn by ``make hard-frames``; these are its quick corners.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hard_sky import HORIZON_DEG, SITE, Scene, hardships, picture_of

from backbearing.camera import Camera, Lens
from backbearing.review import Picture, Pointing, measure_trails
from backbearing.review.lens_shape import lens_shape
from backbearing.review.region import RegionTrails
from backbearing.review.streaks import Streak, find_streaks
from backbearing.review.trails import MeasuredTrails
from backbearing.review.words import feigned_px, judge, say


def measured(picture: Picture, shutter_s: float) -> MeasuredTrails:
    aim = Pointing(Camera(36.0, 24.0, 1500, 1000), Lens(24.0), 20.0, 184.0, SITE["lat"], shutter_s)
    return measure_trails(
        picture, aim, sky=lambda x, y: aim.directions(x, y)[1] > HORIZON_DEG + 1.5
    )


def smears(seed: int = 3) -> tuple[np.ndarray, ...]:
    """Places of 150 stars, a prediction and its noise; 3:2 frame of 1500 by 1000."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0.02, 0.98, (2, 150))
    predicted = 9.0 * np.exp(2j * np.radians(30.0 + 20.0 * x))
    noise = rng.normal(0.0, 0.6, 150) + 1j * rng.normal(0.0, 0.6, 150)
    return x, y, predicted, noise


@pytest.mark.parametrize("corner_px", [2.0, 5.0, -4.0])
@pytest.mark.parametrize("shake_px2", [0.0, 12.0 * np.exp(2j * 0.7)])
def test_what_turns_about_the_middle_is_the_lens(corner_px: float, shake_px2: complex) -> None:
    x, y, predicted, noise = smears()
    right, up = (x - 0.5) * 1500.0, (y - 0.5) * 1000.0
    along = corner_px * ((right**2 + up**2) / (750.0**2 + 500.0**2))
    outwards = math.copysign(1.0, corner_px) * along**2 * np.exp(2j * np.arctan2(up, right))
    # A shutter open a fifth longer than said goes along with it, and is no lens.
    beyond = outwards + shake_px2 + 0.44 * predicted + noise
    found = lens_shape(x, y, beyond, predicted, width_px=1500, height_px=1000)
    assert found.radial_px == pytest.approx(corner_px, abs=0.35)
    assert found.sigma_px < 0.3
    assert np.abs(found.along_px2 - outwards).max() < 2.5


def test_a_shake_is_no_lens_and_few_stars_tell_nothing() -> None:
    x, y, predicted, noise = smears()
    shaken = 20.0 * np.exp(2j * 1.1) + noise
    assert lens_shape(x, y, shaken, predicted, width_px=1500, height_px=1000).radial_px == 0.0
    few = lens_shape(x[:12], y[:12], shaken[:12], predicted[:12], width_px=1500, height_px=1000)
    assert math.isnan(few.radial_px)
    middle = (np.abs(x - 0.5) < 0.2) & (np.abs(y - 0.5) < 0.2)
    # The middle of the frame alone tells nothing of its corners.
    x, y = 0.5 + 0.4 * (x - 0.5), 0.5 + 0.4 * (y - 0.5)
    assert middle.any()
    assert math.isnan(lens_shape(x, y, shaken, predicted, width_px=1500, height_px=1000).radial_px)


@pytest.mark.slow
def test_coma_is_told_from_a_trail() -> None:
    scene = Scene(25.0).but(coma_px=6.0)
    found = measured(picture_of(scene), 25.0)
    verdict, sentences = say(found)
    assert verdict == "as predicted"
    assert found.radial_px == pytest.approx(6.0, abs=1.5)
    said = " ".join(sentences)
    assert "draws stars out away from the middle" in said
    assert "Corners differ" not in said


@pytest.mark.slow
def test_a_satellite_and_an_aeroplane_are_named_and_nothing_else_is() -> None:
    scene = Scene(25.0).but(**hardships()["a satellite and an aeroplane"])
    found = measured(picture_of(scene), 25.0)
    verdict, sentences = say(found)
    assert verdict == "as predicted"
    line, dashes = found.streaks
    # As drawn: y = 0.22 h + 0.15 x downwards, and 0.62 h - 0.18 x, 30 px on and 30 off.
    assert not line.broken
    assert line.angle_deg == pytest.approx(180.0 - math.degrees(math.atan(0.15)), abs=0.3)
    assert line.length_px == pytest.approx(1500.0 * math.hypot(1.0, 0.15), rel=0.05)
    for streak, start, slope in ((line, 0.22, 0.15), (dashes, 0.62, -0.18)):
        for x, y in ((streak.from_x, streak.from_y), (streak.to_x, streak.to_y)):
            assert (1.0 - y) * 1000.0 == pytest.approx(start * 1000.0 + slope * 1500.0 * x, abs=8.0)
    assert dashes.broken
    said = " ".join(sentences)
    assert "a straight streak (a satellite, or an aeroplane) from the upper left" in said
    assert "a broken streak (an aeroplane's lights" in said


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bare trees", "noise of a high ISO", "airglow in bands"])
def test_branches_land_and_bands_are_no_streaks(name: str) -> None:
    scene = Scene(75.0).but(**hardships()[name])
    found = measured(picture_of(scene), 75.0)
    assert say(found)[0] == "as predicted"
    assert found.streaks == ()
    assert found.radial_px == 0.0
    assert found.whole.stars > 50


def test_a_ridge_and_a_broad_ray_are_no_streaks() -> None:
    rng = np.random.default_rng(2)
    rows, columns = np.mgrid[:600, :900]
    sky = 0.05 + rng.normal(0.0, 0.002, rows.shape)
    ridge = np.where(rows > 400 + 0.1 * columns, 0.002, sky)
    ray = sky + 0.05 * np.exp(-(((columns - 300.0 - 0.2 * rows) / 9.0) ** 2))
    line = sky + 0.05 * np.exp(-((rows - 80.0 - 0.2 * columns) ** 2) / 4.0)
    for light, count in ((sky, 0), (ridge, 0), (ray, 0), (line, 1)):
        picture = Picture.of_array(light.astype(np.float32))
        assert len(find_streaks(picture)) == count
    # A trail of every star as long as that is no streak.
    assert find_streaks(Picture.of_array(line.astype(np.float32)), trail_px=400.0) == ()


def soft(width_px: float, length_px: float, predicted_px: float, off: float = 0.0) -> RegionTrails:
    return RegionTrails(
        "whole frame", 80, length_px, 0.05, length_px + 0.1, 30.0 + off, 1.0, width_px,
        predicted_px, 30.0, off,
    )  # fmt: skip


def test_soft_stars_leave_room_for_their_shape() -> None:
    # 5 percent out of round at 6.6 px of width (sigma 2.80): sqrt(24 x 0.05) x 2.80 = 3.07 px.
    assert feigned_px(soft(6.6, 2.0, 2.0)) == pytest.approx(3.07, abs=0.01)
    assert feigned_px(soft(4.9, 2.0, 2.0)) == 0.0
    # sqrt(1 + 3.07^2) = 3.23, and 0.12 x 1 + 0.4 + 0.15 = 0.67 on top: up to 3.90.
    assert judge(soft(6.6, 3.8, 1.0)) == "as predicted"
    assert judge(soft(6.6, 4.0, 1.0)) == "longer"
    assert judge(soft(4.9, 3.8, 1.0)) == "longer"
    # sin 2a > (3.07 / 6)^2 = 0.262, from 7.6 degrees; the limit of 8 and three errors is more.
    assert judge(soft(6.6, 6.0, 6.0, 10.0)) == "as predicted"
    assert judge(soft(6.6, 6.0, 6.0, 13.0)) == "turned"
    # (3.07 / 4)^2 = 0.589: from 18 degrees.
    assert judge(soft(6.6, 4.0, 4.0, 17.0)) == "as predicted"
    assert judge(soft(6.6, 4.0, 4.0, 19.0)) == "turned"


def test_words_for_many_streaks_stay_short() -> None:
    one = Streak(0.1, 0.9, 0.2, 0.8, 150.0, 135.0, broken=False)
    region = soft(2.6, 2.0, 2.0)
    found = MeasuredTrails(region, (replace(region, where="centre"),), 90, "sRGB", 0.0, 0.2)
    regions = tuple(
        replace(region, where=where)
        for where in ("centre", "upper left", "upper right", "lower left", "lower right")
    )
    found = replace(found, regions=regions)
    assert "Across the frame" not in " ".join(say(found)[1])
    said = " ".join(say(replace(found, streaks=(one,) * 5))[1])
    assert "and 2 more" in said
    assert "in the upper left" in said
    said = " ".join(say(replace(found, radial_px=-3.2))[1])
    assert "draws stars out around the middle, by 3.2 px at the corner (astigmatism" in said
