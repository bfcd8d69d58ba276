from __future__ import annotations

import dataclasses
import math
import subprocess
import sys
from typing import Any

import pytest

import backbearing.camera
from backbearing.base.errors import CameraError
from backbearing.camera import FORMATS_MM, Camera, Lens
from backbearing.camera.bodies_and_lenses import check_pair


def test_default_camera_is_36_by_24_mm_with_square_pixels() -> None:
    camera = Camera()
    assert (camera.frame_width_mm, camera.frame_height_mm) == (36.0, 24.0)
    assert (camera.frame_width_px, camera.frame_height_px) == (6000, 4000)
    assert camera.pixel_pitch_um == pytest.approx(36e3 / 6000, rel=1e-4)


def test_portrait_turns_the_frame_and_nothing_else() -> None:
    camera = Camera().held("portrait")
    assert (camera.frame_width_mm, camera.frame_height_mm) == (24.0, 36.0)
    assert (camera.frame_width_px, camera.frame_height_px) == (4000, 6000)
    assert camera.pixel_pitch_um == Camera().pixel_pitch_um
    assert camera.held("landscape") == Camera()


def test_crop_keeps_the_pixels_and_narrows_the_frame() -> None:
    crop = Camera().cropped(width_px=3000, height_px=2000)
    assert crop.sensor_width_mm == pytest.approx(18.0)
    assert crop.pixel_pitch_um == pytest.approx(Camera().pixel_pitch_um)


@pytest.mark.parametrize("name", FORMATS_MM)
def test_generic_formats_have_square_pixels(name: str) -> None:
    camera = Camera.of_format(name, width_px=6000, orientation="portrait")
    assert (camera.sensor_width_mm, camera.sensor_height_mm) == FORMATS_MM[name]
    assert camera.frame_height_px == 6000


def test_cameras_and_lenses_are_frozen_values() -> None:
    assert Lens(14) == Lens(14.0)
    assert len({Camera(), Camera(), Camera(orientation="portrait")}) == 2
    with pytest.raises(dataclasses.FrozenInstanceError):
        Lens(14).focal_length_mm = 20  # type: ignore[misc]


@pytest.mark.parametrize(
    ("lens", "label"),
    [(Lens(16), "16 mm"), (Lens(10.5, projection="equisolid"), "10.5 mm fisheye")],
)
def test_labels_are_short(lens: Lens, label: str) -> None:
    assert lens.label == label


@pytest.mark.parametrize(
    ("arguments", "key"),
    [
        ({"sensor_width_mm": 0.0}, "sensor_width_mm"),
        ({"sensor_height_mm": -24.0}, "sensor_height_mm"),
        ({"sensor_width_mm": math.nan}, "sensor_width_mm"),
        ({"sensor_width_mm": "36"}, "sensor_width_mm"),
        ({"width_px": 0}, "width_px"),
        ({"width_px": 6000.5}, "width_px"),
        ({"height_px": True}, "height_px"),
        ({"height_px": 6000}, "height_px"),
        ({"orientation": "upright"}, "orientation"),
        ({"sensor_width_mm": 24.0, "sensor_height_mm": 36.0}, "sensor_height_mm"),
    ],
)
def test_impossible_cameras_are_refused(arguments: dict[str, Any], key: str) -> None:
    with pytest.raises(CameraError) as caught:
        Camera(**arguments)
    assert caught.value.facts["key"] == key
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_odd_pixels_are_answered_with_the_fitting_count() -> None:
    with pytest.raises(CameraError, match="about 4000"):
        Camera(height_px=3384)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        ({"focal_length_mm": 0}, "focal_length_mm is 0"),
        ({"focal_length_mm": -14}, "focal_length_mm is -14"),
        ({"focal_length_mm": math.inf}, "finite"),
        ({"focal_length_mm": 14, "f_number": 0}, "f_number is 0"),
        ({"focal_length_mm": 14, "f_number": 0.4}, "f/0.5"),
        ({"focal_length_mm": 14, "projection": "fisheye"}, '"equisolid" for a fisheye'),
        ({"focal_length_mm": 14, "rise_mm": math.nan}, "rise_mm"),
    ],
)
def test_impossible_lenses_are_refused(arguments: dict[str, Any], match: str) -> None:
    with pytest.raises(CameraError, match=match):
        Lens(**arguments)


def test_unknown_format_lists_the_known_ones() -> None:
    with pytest.raises(CameraError, match="135, APS-C"):
        Camera.of_format("quarter plate", width_px=6000)


def test_crop_larger_than_the_sensor_is_refused() -> None:
    with pytest.raises(CameraError, match="does not fit"):
        Camera().cropped(width_px=7000, height_px=4000)


@pytest.mark.parametrize(
    ("focal", "match"), [(14.0, "202 degrees"), (8.0, "no image in its corners")]
)
def test_fisheye_that_cannot_fill_the_frame_is_refused(focal: float, match: str) -> None:
    with pytest.raises(CameraError, match=match) as caught:
        check_pair(Camera(), Lens(focal, projection="equisolid"))
    assert "at least 14.7 mm" in str(caught.value)


def test_fisheye_at_the_named_focal_length_is_taken() -> None:
    check_pair(Camera(), Lens(14.7, projection="equisolid"))
    check_pair(Camera().cropped(width_px=1800, height_px=1800), Lens(8, projection="equisolid"))


def test_package_import_loads_no_numpy() -> None:
    code = "import sys, backbearing.camera; sys.exit('numpy' in sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_every_public_name_resolves() -> None:
    for name in backbearing.camera.__all__:
        assert getattr(backbearing.camera, name) is not None
    assert set(backbearing.camera.__all__) <= set(dir(backbearing.camera))
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = backbearing.camera.no_such_name
