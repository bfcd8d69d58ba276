"""How a frame was held, found from points whose directions an independent projection put there."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from backbearing.base.errors import CameraError
from backbearing.camera.bodies_and_lenses import Lens
from backbearing.camera.frame_attitude import Attitude, FrameOptics, KnownPoint, attitude_of

NAN = math.nan
OPTICS = FrameOptics(Lens(focal_length_mm=28.0), 5000, 3333, 36.0 / 5000)


def pixel_of(
    azimuth: float, altitude: float, heading: float, pitch: float, roll: float
) -> tuple[float, float]:
    """Project a direction by scipy's rotations, first principles: yaw, then pitch, then roll.

    East, north, up; the camera looks north, its right is east. A pinhole at the focal length:
    column and row are f times the tangents across and down (any text on photogrammetry: the
    collinearity equations).
    """
    a, h = math.radians(azimuth), math.radians(altitude)
    world = np.array([math.sin(a) * math.cos(h), math.cos(a) * math.cos(h), math.sin(h)])
    held = (
        Rotation.from_euler("z", -heading, degrees=True)
        * Rotation.from_euler("x", pitch, degrees=True)
        * Rotation.from_euler("y", roll, degrees=True)
    )
    right, forward, up = held.inv().apply(world)
    f = 28.0 / (36.0 / 5000)
    return 2499.5 + f * right / forward, 1666.0 - f * up / forward


@pytest.mark.parametrize(
    ("heading", "pitch", "roll"),
    [(150.0, 0.0, 0.0), (359.0, 12.0, 0.0), (10.0, -8.0, 5.0), (200.0, 35.0, -20.0)],
)
def test_two_known_points_give_all_three_angles(heading: float, pitch: float, roll: float) -> None:
    truth = [(heading - 15.0, pitch + 6.0), (heading + 18.0, pitch - 4.0)]
    known = [KnownPoint(*pixel_of(a, h, heading, pitch, roll), a, h) for a, h in truth]
    found = attitude_of(OPTICS, known)
    assert (found.azimuth_deg - heading + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-6)
    assert found.pitch_deg == pytest.approx(pitch, abs=1e-6)
    assert found.roll_deg == pytest.approx(roll, abs=1e-6)
    assert found.misfit_deg == pytest.approx(0.0, abs=1e-6)
    for a, h in [(heading + 5.0, pitch + 14.0), (heading - 22.0, pitch)]:
        azimuth, altitude = found.directions(OPTICS, *pixel_of(a, h, heading, pitch, roll))
        assert float(azimuth) == pytest.approx(a % 360.0, abs=1e-6)
        assert float(altitude) == pytest.approx(h, abs=1e-6)


def test_more_points_than_needed_say_how_far_they_are_off() -> None:
    rng = np.random.default_rng(5)
    truth = [(130.0, 4.0), (150.0, 12.0), (165.0, 7.0), (141.0, 15.0)]
    known = [
        KnownPoint(*pixel_of(a, h, 148.0, 6.0, 2.0), a + rng.normal(0, 0.2), h + rng.normal(0, 0.2))
        for a, h in truth
    ]
    found = attitude_of(OPTICS, known)
    assert found.azimuth_deg == pytest.approx(148.0, abs=0.5)
    assert 0.02 < found.misfit_deg < 0.6


def test_an_azimuth_and_the_level_row_are_enough_for_a_level_camera() -> None:
    column, row = pixel_of(157.0, 9.0, 150.0, 7.0, 0.0)
    _, level = pixel_of(150.0, 0.0, 150.0, 7.0, 0.0)
    known = [KnownPoint(column, row, 157.0, NAN), KnownPoint(2499.5, level, NAN, 0.0)]
    found = attitude_of(OPTICS, known)
    assert found.pitch_deg == pytest.approx(7.0, abs=1e-6)
    assert found.azimuth_deg == pytest.approx(150.0, abs=1e-6)


def test_an_azimuth_and_tilt_and_roll_off_a_level_are_enough() -> None:
    column, row = pixel_of(157.0, 9.0, 150.0, 7.0, 4.0)
    found = attitude_of(OPTICS, [KnownPoint(column, row, 157.0, NAN)], pitch_deg=7.0, roll_deg=4.0)
    assert found.azimuth_deg == pytest.approx(150.0, abs=1e-6)
    azimuth, altitude = found.directions(OPTICS, column, row)
    assert (float(azimuth), float(altitude)) == pytest.approx((157.0, 9.0), abs=1e-6)


def test_one_whole_point_gives_azimuth_and_tilt_at_a_told_roll() -> None:
    known = KnownPoint(*pixel_of(157.0, 9.0, 150.0, 7.0, -3.0), 157.0, 9.0)
    found = attitude_of(OPTICS, [known], roll_deg=-3.0)
    assert (found.azimuth_deg, found.pitch_deg) == pytest.approx((150.0, 7.0), abs=1e-6)


@pytest.mark.parametrize(
    ("known", "tilt", "says"),
    [
        ([], 0.0, "No azimuth is known"),
        ([KnownPoint(100.0, 100.0, 150.0, NAN)], None, "No altitude is known"),
        ([KnownPoint(100.0, 1600.0, 150.0, 89.9)], None, "No tilt of this lens"),
        ([KnownPoint(100.0, 100.0, 150.0, 5.0), KnownPoint(101.0, 100.0, 150.1, 5.0)], None,
         "within 1 degree"),
    ],
)  # fmt: skip
def test_what_is_too_little_is_refused(
    known: list[KnownPoint], tilt: float | None, says: str
) -> None:
    with pytest.raises(CameraError, match=says):
        attitude_of(OPTICS, known, pitch_deg=tilt)


def test_a_level_frame_is_that_of_the_projection_room() -> None:
    azimuth, altitude = Attitude(90.0, 0.0).directions(OPTICS, 2499.5, 1666.0)
    assert (float(azimuth), float(altitude)) == pytest.approx((90.0, 0.0))
