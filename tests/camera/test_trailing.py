from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from backbearing.base.constants import SIDEREAL_DAY_S
from backbearing.base.errors import CameraError
from backbearing.camera import (
    Camera,
    Frame,
    Lens,
    common_rules,
    longest_shutter_in_frame_s,
    longest_shutter_s,
    npf_full_s,
    trail_at,
    trail_length_px,
    trails_in_frame,
)

CAMERA = Camera()
checked = settings(max_examples=50, deadline=None, derandomize=True)


def declination_deg(lat: float, azimuth: float, altitude: float) -> float:
    lat_r, az_r, alt_r = np.radians([lat, azimuth, altitude])
    sine = math.sin(lat_r) * math.sin(alt_r) + math.cos(lat_r) * math.cos(alt_r) * math.cos(az_r)
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


@given(
    lat=st.floats(-80.0, 80.0),
    azimuth=st.floats(0.0, 360.0),
    pitch=st.floats(-10.0, 60.0),
    focal=st.floats(14.0, 200.0),
    fisheye=st.booleans(),
)
@example(lat=2.5, azimuth=0.0, pitch=2.5, focal=14.0, fisheye=False)
@checked
def test_centre_matches_the_small_angle_form(
    lat: float, azimuth: float, pitch: float, focal: float, fisheye: bool
) -> None:
    lens = Lens(focal + 2.0, projection="equisolid" if fisheye else "rectilinear")
    exact = trail_at(
        CAMERA, lens, pitch_deg=pitch, azimuth_deg=azimuth, lat=lat, x=0.5, y=0.5, shutter_s=1.0
    )
    simple = trail_length_px(
        1.0, focal + 2.0, CAMERA.pixel_pitch_um, declination_deg(lat, azimuth, pitch)
    )
    assert exact == pytest.approx(simple, rel=2e-4, abs=1e-5)


@given(lat=st.floats(-70.0, 70.0), pitch=st.floats(0.0, 50.0), azimuth=st.floats(0.0, 360.0))
@checked
def test_trail_grows_with_the_shutter(lat: float, pitch: float, azimuth: float) -> None:
    shutter = np.array([1.0, 5.0, 30.0, 300.0, 900.0])
    trails = trail_at(
        CAMERA,
        Lens(24),
        pitch_deg=pitch,
        azimuth_deg=azimuth,
        lat=lat,
        x=0.2,
        y=0.7,
        shutter_s=shutter,
    )
    assert np.all(np.diff(trails) > 0.0)


def test_nothing_trails_at_the_pole() -> None:
    trail = trail_at(
        CAMERA, Lens(24), pitch_deg=50.0, azimuth_deg=0.0, lat=50.0, x=0.5, y=0.5, shutter_s=30.0
    )
    assert trail == pytest.approx(0.0, abs=1e-9)
    assert longest_shutter_s(1.0, 24, 6.0, 90.0) == math.inf
    assert np.isinf(npf_full_s(24, 2.8, 6.0, -90.0))


def test_a_whole_turn_about_the_pole_is_a_circle_on_the_sensor() -> None:
    # Gnomonic, aimed at the pole: a star 5 degrees off runs a circle of f tan(5 deg).
    lens = Lens(50)
    frame = Frame(CAMERA, lens, 50.0, 0.0)
    x, y = frame.place(0.0, 55.0)
    trail = trail_at(
        CAMERA,
        lens,
        pitch_deg=50.0,
        azimuth_deg=0.0,
        lat=50.0,
        x=x,
        y=y,
        shutter_s=SIDEREAL_DAY_S,
    )
    radius_px = 50.0 * math.tan(math.radians(5.0)) * 1e3 / CAMERA.pixel_pitch_um
    assert trail == pytest.approx(2.0 * math.pi * radius_px, rel=1e-3)


def test_trail_is_unknown_once_the_star_is_behind_the_camera() -> None:
    trail = trail_at(
        CAMERA, Lens(24), pitch_deg=0.0, azimuth_deg=90.0, lat=0.0, x=0.5, y=0.5, shutter_s=30000.0
    )
    assert np.isnan(trail)


def test_north_and_south_are_mirror_images() -> None:
    common = {"pitch_deg": 20.0, "shutter_s": 15.0}
    north = trails_in_frame(CAMERA, Lens(20), azimuth_deg=150.0, lat=35.0, **common)
    south = trails_in_frame(CAMERA, Lens(20), azimuth_deg=30.0, lat=-35.0, **common)
    assert north.upper_left_px == pytest.approx(south.upper_right_px)
    assert north.lower_right_px == pytest.approx(south.lower_left_px)
    assert north.largest_px == pytest.approx(south.largest_px)


def test_frame_trails_name_the_worst_and_the_target() -> None:
    trails = trails_in_frame(
        CAMERA,
        Lens(14),
        pitch_deg=12.496,
        azimuth_deg=140.802,
        lat=36.0,
        shutter_s=20.0,
        target_x=0.5,
        target_y=0.5,
    )
    assert trails.worst_corner_px == trails.lower_left_px
    assert trails.largest_px >= trails.worst_corner_px
    assert trails.target_px == pytest.approx(trails.centre_px)


def test_fisheye_can_trail_most_away_from_the_corners() -> None:
    trails = trails_in_frame(
        CAMERA,
        Lens(16, projection="equisolid"),
        pitch_deg=20.0,
        azimuth_deg=90.0,
        lat=36.0,
        shutter_s=20.0,
    )
    assert trails.largest_px > 1.3 * trails.worst_corner_px


@given(
    focal=st.floats(12.0, 100.0),
    lat=st.floats(-70.0, 70.0),
    pitch=st.floats(-10.0, 60.0),
    azimuth=st.floats(0.0, 360.0),
)
@checked
def test_rectilinear_frame_trails_most_in_a_corner(
    focal: float, lat: float, pitch: float, azimuth: float
) -> None:
    trails = trails_in_frame(
        CAMERA, Lens(focal), pitch_deg=pitch, azimuth_deg=azimuth, lat=lat, shutter_s=20.0
    )
    assert trails.largest_px == pytest.approx(trails.worst_corner_px, rel=1e-9)


@given(
    limit=st.floats(0.5, 40.0),
    focal=st.floats(14.0, 100.0),
    pitch=st.floats(0.0, 50.0),
    azimuth=st.floats(0.0, 360.0),
)
@checked
def test_longest_shutter_meets_the_limit_in_the_worst_place(
    limit: float, focal: float, pitch: float, azimuth: float
) -> None:
    common = {"pitch_deg": pitch, "azimuth_deg": azimuth, "lat": 36.0}
    shutter = longest_shutter_in_frame_s(CAMERA, Lens(focal), max_trail_px=limit, **common)
    worst = trails_in_frame(CAMERA, Lens(focal), shutter_s=shutter, **common).largest_px
    assert worst <= limit
    assert worst == pytest.approx(limit, rel=1e-4)


def test_longest_shutter_is_infinite_where_nothing_trails_so_far() -> None:
    shutter = longest_shutter_in_frame_s(
        CAMERA,
        Lens(24),
        pitch_deg=50.0,
        azimuth_deg=0.0,
        lat=50.0,
        max_trail_px=1.0,
        x=[0.5],
        y=[0.5],
    )
    assert shutter == math.inf


@given(trail=st.floats(0.1, 50.0), focal=st.floats(8.0, 400.0), declination=st.floats(-85.0, 85.0))
@checked
def test_longest_shutter_undoes_trail_length(
    trail: float, focal: float, declination: float
) -> None:
    shutter = longest_shutter_s(trail, focal, 5.984, declination)
    assert trail_length_px(shutter, focal, 5.984, declination) == pytest.approx(trail)


def test_common_rules_carry_their_sources() -> None:
    rules = common_rules(CAMERA, Lens(20), declination_deg=-29.0)
    assert [rule.name for rule in rules[:3]] == ["500 rule", "400 rule", "300 rule"]
    assert all(rule.source == "common practice, no source" for rule in rules[:3])
    assert all("primary was not seen" in rule.source for rule in rules[3:])
    assert all(rule.shutter_s > 0.0 and rule.trail_px > 0.0 for rule in rules)
    assert common_rules(CAMERA, Lens(20), declination_deg=90.0)[4].shutter_s == math.inf


def test_focal_length_rules_shorten_on_a_small_sensor() -> None:
    small = Camera.of_format("Four Thirds", width_px=5200)
    full, cropped = (
        common_rules(camera, Lens(20), declination_deg=0.0)[0].shutter_s
        for camera in (CAMERA, small)
    )
    assert full == pytest.approx(25.0)
    assert cropped == pytest.approx(12.5, rel=0.01)


@pytest.mark.parametrize(
    ("shutter", "focal", "pitch_um", "declination"),
    [(0, 14, 6, 0), (20, 0, 6, 0), (20, 14, -6, 0), (20, 14, 6, 91), (math.inf, 14, 6, 0)],
)
def test_trail_length_refuses_nonsense(
    shutter: float, focal: float, pitch_um: float, declination: float
) -> None:
    with pytest.raises(CameraError):
        trail_length_px(shutter, focal, pitch_um, declination)


def test_trail_refuses_a_latitude_off_the_globe() -> None:
    with pytest.raises(CameraError, match="lat is 136"):
        trail_at(
            CAMERA, Lens(14), pitch_deg=0, azimuth_deg=0, lat=136.0, x=0.5, y=0.5, shutter_s=10
        )
