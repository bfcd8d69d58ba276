"""Trails measured in rendered star fields against the truth they were rendered with."""

from __future__ import annotations

import math

import numpy as np
import pytest
from star_fields import as_jpeg, draw_path, sky_field, straight_field, to_srgb, with_grain

from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.base.errors import BackbearingError
from backbearing.camera import Camera, Lens, trail_at
from backbearing.review import Picture, Pointing, measure_trails
from backbearing.review.sweep_fit import fit_sweeps
from backbearing.review.words import judge, say

CAMERA = Camera(36.0, 24.0, 1500, 1000)


def pointing(shutter_s: float = 60.0, focal_mm: float = 24.0, **others: float) -> Pointing:
    where = {"pitch_deg": 25.0, "azimuth_deg": 176.0, "lat": 36.4, **others}
    return Pointing(CAMERA, Lens(focal_mm), shutter_s=shutter_s, **where)


def moving(aim: Pointing):
    """Turn directions over the exposure by spherical trigonometry, not by the package's rays."""
    turns = (np.arange(96) + 0.5) / 96 - 0.5

    def path(azimuth_deg, altitude_deg):
        az, alt, lat = np.radians(azimuth_deg), np.radians(altitude_deg), math.radians(aim.lat)
        dec = np.arcsin(np.sin(alt) * np.sin(lat) + np.cos(alt) * np.cos(lat) * np.cos(az))
        hour = np.arctan2(
            -np.cos(alt) * np.sin(az),
            np.sin(alt) * np.cos(lat) - np.cos(alt) * np.sin(lat) * np.cos(az),
        )
        hour = hour + SIDEREAL_RATE_RAD_S * aim.shutter_s * turns[:, None]
        up = np.sin(dec) * np.sin(lat) + np.cos(dec) * np.cos(lat) * np.cos(hour)
        east = -np.cos(dec) * np.sin(hour)
        north = np.sin(dec) * np.cos(lat) - np.cos(dec) * np.sin(lat) * np.cos(hour)
        return np.degrees(np.arctan2(east, north)), np.degrees(np.arcsin(up))

    return path


@pytest.mark.slow
@pytest.mark.parametrize("noise", [0.001, 0.008])
@pytest.mark.parametrize("length_px", [1.0, 2.0, 4.0, 9.0, 20.0])
def test_straight_trails_have_their_length_and_angle(length_px: float, noise: float) -> None:
    picture = as_jpeg(straight_field(length_px, 37.0, noise=noise))
    whole = measure_trails(picture).whole
    assert whole.stars >= 30
    # Tolerances of this test: 0.1 px or 2 percent; 6 degrees of a pixel's trail, less beyond.
    assert whole.length_px == pytest.approx(length_px, abs=max(0.1, 0.02 * length_px))
    assert whole.angle_deg == pytest.approx(37.0, abs=max(0.4, 6.0 / length_px))
    assert abs(whole.length_px - length_px) < 6.0 * whole.length_sigma_px + 0.02


@pytest.mark.parametrize("angle_deg", [0.0, 45.0, 90.0, 135.0, 179.0])
def test_every_angle_is_told(angle_deg: float) -> None:
    whole = measure_trails(as_jpeg(straight_field(5.0, angle_deg, stars=120, width_px=900))).whole
    off = (whole.angle_deg - angle_deg + 90.0) % 180.0 - 90.0
    assert abs(off) < 0.6
    assert 0.0 <= whole.angle_deg < 180.0


def test_round_stars_have_no_trail() -> None:
    whole = measure_trails(as_jpeg(straight_field(0.0, 0.0))).whole
    assert whole.length_px < 0.45
    assert whole.at_most_px < 0.8
    assert whole.width_px == pytest.approx(2.3548 * 1.2, rel=0.03)


def test_prediction_is_that_of_the_projection() -> None:
    aim = pointing(30.0)
    x, y = np.meshgrid([0.02, 0.5, 0.98], [0.05, 0.6, 0.97])
    length, angle = aim.trails(x, y)
    there = trail_at(
        aim.camera, aim.lens, pitch_deg=25.0, azimuth_deg=176.0, lat=36.4, x=x, y=y, shutter_s=30.0
    )
    # The same place as start and as middle of a trail differ by a share of its length.
    assert length == pytest.approx(np.asarray(there), rel=0.01)
    assert ((angle >= 0.0) & (angle < 180.0)).all()


def test_a_rendered_frame_is_as_predicted_in_every_region() -> None:
    aim = pointing(60.0)
    image = sky_field(aim, moving(aim), stars=700, ground_below_deg=4.0)
    measured = measure_trails(as_jpeg(image), aim)
    assert measured.whole.stars > 150
    assert measured.whole.length_px == pytest.approx(measured.whole.predicted_length_px, abs=0.08)
    for where in ("centre", "upper left", "upper right", "middle left", "middle right"):
        region = measured.region(where)
        assert region.stars >= 10
        assert region.length_px == pytest.approx(region.predicted_length_px, abs=0.12)
        assert abs(region.angle_off_deg) < 2.0
    corner, centre = measured.region("upper left"), measured.region("centre")
    assert corner.length_px > 1.2 * centre.length_px
    verdict, sentences = say(measured)
    assert verdict == "as predicted"
    assert "as predicted" in sentences[0]


def test_land_and_hot_pixels_give_no_stars() -> None:
    aim = pointing(60.0)
    image = sky_field(aim, moving(aim), stars=0, ground_below_deg=10.0)
    measured = measure_trails(as_jpeg(image), aim)
    assert measured.whole.stars < 5
    assert judge(measured.whole) == "too few stars"
    assert math.isnan(measured.whole.length_px)


def test_what_the_plan_calls_land_is_not_searched() -> None:
    aim = pointing(60.0)
    picture = as_jpeg(sky_field(aim, moving(aim), stars=400))
    upper = measure_trails(picture, aim, sky=lambda _x, y: y > 0.7)
    assert upper.region("upper middle").stars > 10
    assert upper.region("lower middle").stars == 0


def test_a_shake_is_told_from_the_sky() -> None:
    aim = pointing(30.0)
    image = sky_field(aim, moving(aim), stars=700, shake_px=(0.0, 4.0))
    measured = measure_trails(as_jpeg(image), aim)
    verdict, sentences = say(measured)
    assert verdict == "longer"
    assert measured.whole.extra_px == pytest.approx(4.0, abs=0.5)
    assert measured.whole.extra_angle_deg == pytest.approx(90.0, abs=8.0)
    assert any("shake" in s for s in sentences)


@pytest.mark.slow
def test_a_longer_shutter_than_exif_says_runs_the_stars_own_way() -> None:
    aim, told = pointing(60.0), pointing(30.0)
    measured = measure_trails(as_jpeg(sky_field(aim, moving(aim), stars=700)), told)
    verdict, sentences = say(measured)
    assert verdict == "longer"
    assert any("longer than EXIF says" in s for s in sentences)
    verdict, sentences = say(
        measure_trails(as_jpeg(sky_field(told, moving(told), stars=700)), pointing(90.0))
    )
    assert verdict == "shorter"


@pytest.mark.slow
def test_a_rolled_camera_is_called_turned() -> None:
    aim = pointing(90.0, focal_mm=50.0)
    other = pointing(90.0, focal_mm=50.0, azimuth_deg=205.0)
    measured = measure_trails(as_jpeg(sky_field(aim, moving(aim), stars=500)), other)
    assert say(measured)[0] == "turned"


@pytest.mark.parametrize(("azimuth_deg", "verdict"), [(196.0, "turned"), (184.0, "as predicted")])
def test_a_trail_of_two_pixels_shows_seventeen_degrees(azimuth_deg: float, verdict: str) -> None:
    aim = pointing(15.0, focal_mm=50.0)
    other = pointing(15.0, focal_mm=50.0, azimuth_deg=azimuth_deg)
    measured = measure_trails(as_jpeg(sky_field(aim, moving(aim), stars=500)), other)
    found, sentences = say(measured)
    assert measured.whole.length_px == pytest.approx(2.1, abs=0.1)
    assert found == verdict
    if verdict == "turned":
        assert measured.whole.angle_off_deg == pytest.approx(17.0, abs=1.0)
    else:
        assert any("a turned camera only from 12° on" in said for said in sentences)


def test_soft_stars_are_named() -> None:
    aim = pointing(30.0)
    image = sky_field(aim, moving(aim), stars=250, sigma_px=3.0)
    measured = measure_trails(as_jpeg(image), aim)
    assert measured.whole.width_px == pytest.approx(2.3548 * 3.0, rel=0.08)
    assert any("focus" in s for s in say(measured)[1])


@pytest.mark.slow
def test_contrast_curves_stay_within_the_room_that_words_allow() -> None:
    field = straight_field(5.0, 20.0, stars=200)
    plain = to_srgb(np.clip(field, 0.0, 1.0))
    lifted = plain**0.7
    harder = 0.4 * plain + 0.6 * np.where(plain < 0.5, 2 * plain**2, 1 - 2 * (1 - plain) ** 2)
    for values in (lifted, harder):
        picture = Picture.of_array((values * 255 + 0.5).astype(np.uint8))
        assert measure_trails(picture).whole.length_px == pytest.approx(5.0, abs=0.12 * 5.0 + 0.4)


@pytest.mark.parametrize("shape", [(1, 1), (3, 3), (30, 40), (60, 60), (200, 90)])
def test_small_pictures_have_too_few_stars(shape: tuple[int, int]) -> None:
    measured = measure_trails(Picture.of_array(np.full((*shape, 3), 30, dtype=np.uint8)))
    assert measured.whole.stars == 0
    assert judge(measured.whole) == "too few stars"


@pytest.mark.parametrize("value", [0, 255])
def test_blank_pictures_have_too_few_stars(value: int) -> None:
    picture = Picture.of_array(np.full((300, 400, 3), value, dtype=np.uint8))
    assert judge(measure_trails(picture).whole) == "too few stars"


def test_noise_alone_has_too_few_stars_or_a_sentence() -> None:
    noise = np.random.default_rng(1).integers(0, 256, (300, 400, 3), dtype=np.uint8)
    try:
        measured = measure_trails(Picture.of_array(noise))
    except BackbearingError as problem:
        assert "night sky" in str(problem)  # noqa: PT017
    else:
        assert measured.whole.stars < 5


def test_linear_floats_need_no_curve() -> None:
    field = straight_field(4.0, 60.0, stars=150).astype(np.float32)
    whole = measure_trails(Picture.of_array(np.clip(field, 0.0, 1.0))).whole
    assert whole.length_px == pytest.approx(4.0, abs=0.1)


def test_fit_finds_a_sweep_and_gives_nan_never_a_guess_for_nothing() -> None:
    cut = np.full((41, 41), 0.02)
    along = 6.0 * (np.arange(200) / 199.0 - 0.5)
    draw_path(cut, 20.4 + along * 0.8, 19.7 - along * 0.6, 3.0, 1.2)
    fit = fit_sweeps(cut[None], start=np.array([[1.0, 0.0, 1.5]]))
    q = complex(fit.along_px2[0], fit.aslant_px2[0])
    assert abs(q) ** 0.5 == pytest.approx(6.0, abs=0.05)
    assert math.degrees(np.angle(q)) / 2.0 == pytest.approx(36.87, abs=0.1)
    assert (fit.x_px[0], fit.y_px[0]) == pytest.approx((0.4, -0.3), abs=0.01)
    flat = fit_sweeps(np.zeros((1, 15, 15)), start=np.array([[1.0, 0.0, 1.5]]))
    assert flat.peak[0] <= 1e-6 or math.isnan(flat.peak[0])


def test_trails_with_a_bend_are_mostly_left_out_and_straight_ones_kept() -> None:
    # A tripod that was knocked: every trail goes 12 px to the right and then 12 px up. No swept
    # star fits that, and what does not fit within eight percent of its peak is dropped.
    rng = np.random.default_rng(1)
    image = np.full((700, 1000), 0.02)
    along = 24.0 * (np.arange(64) + 0.5) / 64.0
    for _ in range(220):
        x, y = rng.uniform(0, 1000), rng.uniform(0, 700)
        flux = np.exp(rng.uniform(np.log(0.5), np.log(8.0)))
        draw_path(image, x + np.minimum(along, 12.0), y - np.maximum(along - 12.0, 0.0), flux, 1.2)
    bent = measure_trails(as_jpeg(with_grain(image, 0.003, rng)))
    assert bent.found > 120
    assert bent.whole.stars < bent.found / 3
    straight = measure_trails(as_jpeg(straight_field(9.0, 37.0)))
    assert straight.whole.stars > 0.55 * straight.found
    # Long trails lie over one another, and still half of them count.
    long = measure_trails(as_jpeg(straight_field(20.0, 37.0, noise=0.0005)))
    assert long.whole.stars > 0.48 * long.found


@pytest.mark.parametrize(("edge_row", "slope", "grain"), [(640, 0.1, 0.2), (720, 0.0, 0.0)])
def test_black_land_in_a_window_hides_no_stars(edge_row, slope, grain):
    """Land crushed to one or two stored values has next to no noise, and is no bright detail."""
    rng = np.random.default_rng(1)
    light = straight_field(4.0, 20.0, width_px=1200, height_px=900, stars=300)
    rows, columns = np.mgrid[0:900, 0:1200]
    land = rows > edge_row + slope * (columns - 600)
    light[land] = 0.0006 * (1.0 + grain * rng.standard_normal(int(land.sum())))
    found = measure_trails(as_jpeg(light))
    assert found.whole.stars > 100
    assert found.whole.length_px == pytest.approx(4.0, abs=0.05)
    assert found.region("upper middle").measured
