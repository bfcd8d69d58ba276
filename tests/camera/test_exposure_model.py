"""Electrons, stops and noise: what must hold whatever the sky."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import CameraError
from backbearing.camera import Camera, Lens
from backbearing.camera.exposure_model import (
    electrons_a_pixel,
    expose,
    frames_for_gain,
    light_sigma_stops,
    signal_to_noise,
)
from backbearing.camera.sensor import Sensor

CAMERA = Camera()


@given(mag=st.floats(14.0, 23.0), stop=st.floats(1.2, 8.0), shutter=st.floats(0.1, 60.0))
def test_light_scales_as_it_must(mag: float, stop: float, shutter: float) -> None:
    sensor = Sensor()
    one = electrons_a_pixel(CAMERA, Lens(20.0, stop), sensor, mag_arcsec2=mag, shutter_s=shutter)
    five = electrons_a_pixel(
        CAMERA, Lens(85.0, stop), sensor, mag_arcsec2=mag - 5.0, shutter_s=shutter
    )
    longer = electrons_a_pixel(
        CAMERA, Lens(20.0, 2.0 * stop), sensor, mag_arcsec2=mag, shutter_s=4.0 * shutter
    )
    assert five == pytest.approx(100.0 * one, rel=1e-9)
    assert longer == pytest.approx(one, rel=1e-9)


def test_larger_pixels_hold_and_gather_by_their_area() -> None:
    coarse = Camera(36.0, 24.0, 3000, 2000)
    fine = Camera(36.0, 24.0, 6000, 4000)
    a = expose(coarse, Lens(20.0), shutter_s=15.0, iso=1600.0)
    b = expose(fine, Lens(20.0), shutter_s=15.0, iso=1600.0)
    assert a.background_e == pytest.approx(4.0 * b.background_e, rel=1e-12)
    assert a.below_clipping_stops == pytest.approx(b.below_clipping_stops, rel=1e-12)


def test_a_well_of_ones_own_and_iso_below_the_base() -> None:
    sensor = Sensor(full_well_e=40_000.0, base_iso=100.0)
    assert sensor.clipping_e(6.0, 3200.0) == 1250.0
    assert sensor.clipping_e(6.0, 50.0) == 40_000.0


@given(s=st.floats(1.0, 1e4), b=st.floats(0.0, 1e5), r=st.floats(0.5, 10.0), n=st.integers(1, 99))
def test_stacking_gains_by_the_root(s: float, b: float, r: float, n: int) -> None:
    assert signal_to_noise(s, b, r, n) == pytest.approx(
        math.sqrt(n) * signal_to_noise(s, b, r), rel=1e-12
    )


def test_frames_for_a_gain() -> None:
    assert [frames_for_gain(g) for g in (0.5, 1.0, 2.0, 3.0, 3.1)] == [1, 1, 4, 9, 10]


def test_uncertainty_is_the_root_of_sky_and_sensor() -> None:
    # Half a magnitude is 0.664 stop.
    assert light_sigma_stops() == pytest.approx(math.hypot(0.6644, 0.4), abs=1e-3)


@pytest.mark.parametrize(
    ("wrong", "key"),
    [
        ({"quantum_efficiency": 1.2}, "quantum_efficiency"),
        ({"quantum_efficiency": 0.0}, "quantum_efficiency"),
        ({"read_noise_e": -1.0}, "read_noise_e"),
        ({"full_well_e": 0.0}, "full_well_e"),
        ({"base_iso": math.nan}, "base_iso"),
        ({"bandwidth_nm": True}, "bandwidth_nm"),
    ],
)
def test_sensors_that_cannot_exist_are_refused(wrong: dict[str, float], key: str) -> None:
    with pytest.raises(CameraError) as caught:
        Sensor(**wrong)
    assert caught.value.facts["key"] == key


def test_exposures_that_cannot_exist_are_refused() -> None:
    with pytest.raises(CameraError, match="shutter_s"):
        expose(CAMERA, Lens(20.0), shutter_s=0.0, iso=800.0)
    with pytest.raises(CameraError, match="iso"):
        expose(CAMERA, Lens(20.0), shutter_s=10.0, iso=-800.0)
    with pytest.raises(CameraError, match="gain"):
        frames_for_gain(0.0)
