from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from backbearing.base.errors import CameraError
from backbearing.camera import (
    Camera,
    Frame,
    Lens,
    angle_from_axis_deg,
    angle_of_view,
    field_of_view,
    frame_direction,
    frame_position,
    height_on_sensor_mm,
    subject_angle_deg,
)

LENSES = st.one_of(
    st.builds(Lens, st.floats(10.0, 200.0), rise_mm=st.floats(-8.0, 8.0)),
    st.builds(
        Lens,
        st.floats(18.0, 60.0),
        projection=st.just("equisolid"),
        rise_mm=st.floats(-3.0, 3.0),
    ),
)
CAMERAS = st.sampled_from([Camera(), Camera(orientation="portrait")])
FRACTION = st.floats(0.0, 1.0)
PITCH = st.floats(-60.0, 80.0)
AZIMUTH = st.floats(0.0, 360.0)
checked = settings(max_examples=80, deadline=None, derandomize=True)


@given(camera=CAMERAS, lens=LENSES, pitch=PITCH, azimuth=AZIMUTH, x=FRACTION, y=FRACTION)
@checked
def test_frame_to_sky_and_back(
    *, camera: Camera, lens: Lens, pitch: float, azimuth: float, x: float, y: float
) -> None:
    frame = Frame(camera, lens, pitch, azimuth)
    az, alt = frame.direction(x, y)
    assert 0.0 <= az < 360.0
    # Within an arcsecond of the zenith an azimuth means nothing.
    assume(abs(alt) < 89.9997)
    assert frame.place(az, alt) == pytest.approx((x, y), abs=1e-9)


@given(
    camera=CAMERAS,
    lens=LENSES,
    pitch=PITCH,
    azimuth=AZIMUTH,
    turn=st.floats(-50.0, 50.0),
    altitude=st.floats(-10.0, 70.0),
)
@checked
def test_level_frame_mirrors_left_and_right(
    *, camera: Camera, lens: Lens, pitch: float, azimuth: float, turn: float, altitude: float
) -> None:
    frame = Frame(camera, lens, pitch, azimuth)
    x, y = frame.place(np.array([azimuth - turn, azimuth + turn]), altitude)
    np.testing.assert_allclose(x[0] - 0.5, 0.5 - x[1], atol=1e-7, rtol=1e-7, equal_nan=True)
    np.testing.assert_allclose(y[0], y[1], atol=1e-7, rtol=1e-7, equal_nan=True)


@given(lens=LENSES, pitch=st.floats(-30.0, 60.0))
@checked
def test_higher_in_the_sky_is_higher_in_the_frame(lens: Lens, pitch: float) -> None:
    altitude = np.linspace(pitch - 25.0, pitch + 25.0, 101)
    x, y = Frame(Camera(), lens, pitch, 123.0).place(np.full(101, 123.0), altitude)
    np.testing.assert_allclose(x, 0.5, atol=1e-12)
    assert np.all(np.diff(y) > 0.0)


@given(lens=LENSES, angle=st.floats(-80.0, 80.0))
@checked
def test_vertical_plane_helpers_undo_each_other(lens: Lens, angle: float) -> None:
    height = height_on_sensor_mm(lens, angle)
    assert angle_from_axis_deg(lens, height) == pytest.approx(angle, abs=1e-9)
    assert height_on_sensor_mm(lens, -angle) == -height


@given(
    camera=CAMERAS,
    lens=LENSES,
    share=st.floats(0.01, 0.9),
    margin=FRACTION,
    base=st.floats(-5.0, 5.0),
)
@checked
def test_subject_angle_puts_base_and_top_where_asked(
    camera: Camera, lens: Lens, share: float, margin: float, base: float
) -> None:
    assume(share + margin <= 1.0)
    wanted = subject_angle_deg(camera, lens, share, margin)
    # A subject past the zenith is no altitude.
    assume(base + wanted.subtended_deg <= 90.0)
    frame = Frame(camera, lens, base - wanted.base_deg, 77.0)
    low = frame.place(77.0, base)[1]
    high = frame.place(77.0, base + wanted.subtended_deg)[1]
    assert (low, high) == pytest.approx((margin, margin + share), abs=1e-9)


def test_centre_of_the_frame_is_the_axis() -> None:
    for lens in (Lens(20), Lens(16, projection="equisolid")):
        assert Frame(Camera(), lens, 25.0, 300.0).direction(0.5, 0.5) == pytest.approx(
            (300.0, 25.0)
        )


def test_rise_lifts_the_frame_above_the_axis() -> None:
    raised = Frame(Camera(), Lens(24, rise_mm=6.0), 0.0, 10.0)
    assert raised.direction(0.5, 0.5)[1] == pytest.approx(math.degrees(math.atan(6.0 / 24.0)))
    assert raised.direction(0.5, 0.25)[1] == pytest.approx(0.0, abs=1e-12)


def test_behind_a_rectilinear_camera_is_nan_and_a_fisheye_sees_past_the_side() -> None:
    plain, fish = Lens(20), Lens(16, projection="equisolid")
    assert np.all(np.isnan(Frame(Camera(), plain, 0.0, 0.0).place(180.0, 5.0)))
    x, _ = Frame(Camera(), fish, 0.0, 0.0).place(95.0, 0.0)
    assert x > 1.0
    assert np.isnan(height_on_sensor_mm(plain, 90.0))
    assert np.isnan(angle_from_axis_deg(fish, 32.1))


def test_unknown_directions_stay_unknown() -> None:
    x, y = Frame(Camera(), Lens(20), 0.0, 0.0).place(np.array([1.0, np.nan]), np.array([np.nan, 1]))
    assert np.all(np.isnan(x) | np.isnan(y))
    assert not np.any(Frame(Camera(), Lens(20), 0.0, 0.0).holds([1.0], [np.nan]))


def test_pitches_and_azimuths_broadcast() -> None:
    pitch, axis = np.array([0.0, 10.0, 20.0])[:, None], np.array([100.0, 200.0])
    az, alt = frame_direction(
        Camera(), Lens(20), axis_azimuth_deg=axis, pitch_deg=pitch, x=0.3, y=0.8
    )
    assert az.shape == alt.shape == (3, 2)
    x, y = frame_position(
        Camera(),
        Lens(20),
        axis_azimuth_deg=axis,
        pitch_deg=pitch,
        azimuth_deg=az,
        altitude_deg=alt,
    )
    np.testing.assert_allclose(x, 0.3)
    np.testing.assert_allclose(y, 0.8)


def test_outline_runs_round_the_corners() -> None:
    frame = Frame(Camera(), Lens(35), 10.0, 0.0)
    x, y = frame.place(*frame.outline(1))
    np.testing.assert_allclose(x, [0.0, 1.0, 1.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(y, [0.0, 0.0, 1.0, 1.0], atol=1e-12)
    assert frame.outline(8)[0].shape == (32,)
    with pytest.raises(CameraError, match="1 or more"):
        frame.outline(0)


def test_holds_minds_the_margin() -> None:
    frame = Frame(Camera(), Lens(35), 10.0, 0.0)
    az, alt = frame.direction(np.array([0.02, 0.5]), np.array([0.5, 0.5]))
    assert frame.holds(az, alt).tolist() == [True, True]
    assert frame.holds(az, alt, edge_margin=0.05).tolist() == [False, True]


@given(lens=st.builds(Lens, st.floats(10.0, 200.0)), rise=st.floats(1e-9, 1e-6))
@checked
def test_field_of_view_has_no_jump_at_zero_rise(lens: Lens, rise: float) -> None:
    raised = Lens(lens.focal_length_mm, rise_mm=rise)
    assert field_of_view(Camera(), raised) == pytest.approx(field_of_view(Camera(), lens))


def test_fisheye_sees_wider_than_a_rectilinear_lens() -> None:
    assert angle_of_view(16, 36, "equisolid") > angle_of_view(16, 36)
    assert np.isnan(angle_of_view(8, 36, "equisolid"))


@pytest.mark.parametrize(
    ("focal", "sensor", "projection"),
    [(0, 36, "rectilinear"), (14, -1, "rectilinear"), (14, 36, "straight"), ("x", 36, "equisolid")],
)
def test_angle_of_view_refuses_nonsense(focal: float, sensor: float, projection: str) -> None:
    with pytest.raises(CameraError):
        angle_of_view(focal, sensor, projection)  # type: ignore[call-overload]


@pytest.mark.parametrize(("pitch", "azimuth"), [(91.0, 0.0), (math.nan, 0.0), (0.0, math.inf)])
def test_frame_refuses_impossible_angles(pitch: float, azimuth: float) -> None:
    with pytest.raises(CameraError):
        Frame(Camera(), Lens(20), pitch, azimuth)


def test_subject_angle_refuses_an_empty_share() -> None:
    with pytest.raises(CameraError, match="share is 0"):
        subject_angle_deg(Camera(), Lens(20), 0.0, 0.1)
