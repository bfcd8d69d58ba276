from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.base.errors import CameraError
from backbearing.camera import (
    Camera,
    Lens,
    blur_diameter_mm,
    check_focus,
    circle_of_confusion_mm,
    far_limit_m,
    focus_stack,
    hyperfocal_distance_m,
    near_limit_m,
    star_blur_px,
    subject_blur_px,
)

checked = settings(max_examples=60, deadline=None, derandomize=True)
FOCAL = st.floats(8.0, 200.0)
STOP = st.floats(1.2, 16.0)


@given(focal=FOCAL, stop=STOP, focus_m=st.floats(0.5, 500.0), circle=st.floats(0.005, 0.05))
@checked
def test_blur_at_the_limits_is_the_circle(
    focal: float, stop: float, focus_m: float, circle: float
) -> None:
    near = float(near_limit_m(focus_m, focal, stop, circle))
    far = float(far_limit_m(focus_m, focal, stop, circle))
    assert near < focus_m < far
    blur = blur_diameter_mm(focal, stop, focus_m=focus_m, object_m=np.array([near, far]))
    assert blur[0] == pytest.approx(circle, rel=1e-6)
    if math.isinf(far):
        assert blur[1] <= circle * (1 + 1e-9)
    else:
        assert blur[1] == pytest.approx(circle, rel=1e-6)


@given(focal=FOCAL, stop=STOP, object_m=st.floats(1.0, 1000.0), focus_m=st.floats(1.0, 1000.0))
@checked
def test_blur_agrees_with_the_image_distances(
    focal: float, stop: float, object_m: float, focus_m: float
) -> None:
    # A second road: 1/f = 1/u + 1/v, and similar triangles behind the aperture f/N.
    image = focal * object_m * 1e3 / (object_m * 1e3 - focal)
    sensor = focal * focus_m * 1e3 / (focus_m * 1e3 - focal)
    expected = focal / stop * abs(image - sensor) / image
    found = blur_diameter_mm(focal, stop, focus_m=focus_m, object_m=object_m)
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_fifty_millimetres_at_33_m_passes_by_circle_and_fails_by_pixel() -> None:
    check = check_focus(Camera(), Lens(50, 2.8), 33.0)
    assert check.sharp_by_circle
    assert not check.sharp_by_pixel
    assert check.subject_blur_mm == pytest.approx(0.02706, abs=1e-5)
    assert check.near_by_circle_m < 33.0 < check.near_by_pixel_m
    assert len(check.stack.focus_m) == 2
    assert check.stack.enough


def test_circle_follows_the_sensor() -> None:
    assert circle_of_confusion_mm(Camera()) == pytest.approx(0.030)
    small = Camera.of_format("Four Thirds", width_px=5200)
    assert circle_of_confusion_mm(small) == pytest.approx(0.015, abs=2e-4)


def test_pixels_measure_the_same_blur() -> None:
    lens, distance = Lens(35, 2.8), np.array([10.0, 20.0])
    px = subject_blur_px(Camera(), lens, distance)
    mm = blur_diameter_mm(35, 2.8, focus_m=math.inf, object_m=distance)
    np.testing.assert_allclose(px * Camera().pixel_pitch_um / 1e3, mm)
    assert star_blur_px(Camera(), lens, 20.0) > px[1]


def test_one_frame_is_enough_for_what_is_far() -> None:
    stack = focus_stack(14, 2.8, 8.0)
    assert stack.focus_m == (math.inf,)
    assert stack.enough
    assert stack.worst_blur_mm < 0.03


@given(focal=FOCAL, stop=STOP, nearest=st.floats(0.6, 60.0))
@checked
def test_second_focus_is_the_best_there_is(focal: float, stop: float, nearest: float) -> None:
    stack = focus_stack(focal, stop, nearest, coc_mm=1e-6)
    distance = np.concatenate([nearest * np.geomspace(1.0, 200.0, 4001), [np.inf]])

    def worst(second_m: float) -> float:
        blurs = [
            blur_diameter_mm(focal, stop, focus_m=focus, object_m=distance)
            for focus in (math.inf, second_m)
        ]
        return float(np.max(np.minimum(*blurs)))

    chosen = stack.focus_m[1]
    assert not stack.enough
    assert worst(chosen) == pytest.approx(stack.worst_blur_mm, rel=2e-3)
    for factor in (0.9, 0.97, 1.03, 1.1):
        assert worst(chosen * factor) > stack.worst_blur_mm


@pytest.mark.parametrize(
    ("focal", "stop", "circle"), [(0, 2.8, 0.03), (14, -1, 0.03), (14, 2.8, 0), (math.inf, 2.8, 1)]
)
def test_hyperfocal_refuses_nonsense(focal: float, stop: float, circle: float) -> None:
    with pytest.raises(CameraError):
        hyperfocal_distance_m(focal, stop, circle)


def test_distances_below_zero_or_within_the_lens_are_refused() -> None:
    with pytest.raises(CameraError, match="object_m is -3"):
        blur_diameter_mm(50, 2.8, focus_m=math.inf, object_m=-3.0)
    with pytest.raises(CameraError, match="within the focal length"):
        near_limit_m(0.04, 50, 2.8)
    with pytest.raises(CameraError, match="subject_m is 0"):
        check_focus(Camera(), Lens(50), 0.0)
    with pytest.raises(CameraError, match="macro"):
        focus_stack(50, 2.8, 0.08)


def test_unknown_distance_gives_unknown_blur() -> None:
    assert np.isnan(subject_blur_px(Camera(), Lens(50), np.nan))
    assert np.isnan(far_limit_m(np.nan, 50, 2.8))
