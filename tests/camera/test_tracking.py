"""Drift by a polar error, against printed figures and two turns set against one another."""

from __future__ import annotations

import math

import numpy as np
import pytest

from backbearing.base.errors import CameraError
from backbearing.camera import Camera, Lens
from backbearing.camera.tracking import pixel_arcsec, polar_drift_arcsec_s, seconds_to_drift


def test_the_guides_to_drift_alignment() -> None:
    """15.7 arcseconds a minute for a degree (guides to drift alignment, at second hand)."""
    assert 60.0 * polar_drift_arcsec_s(60.0) == pytest.approx(15.7, abs=0.1)


def _turned(vectors: np.ndarray, axis: np.ndarray, angle: float) -> np.ndarray:
    """Rodrigues' rotation."""
    dot = vectors @ axis
    return (
        vectors * math.cos(angle)
        + np.cross(axis, vectors) * math.sin(angle)
        + np.outer(dot, axis) * (1.0 - math.cos(angle))
    )


@pytest.mark.parametrize("error_arcmin", [3.0, 40.0])
def test_the_worst_of_all_stars(error_arcmin: float) -> None:
    """The sky turned about the pole and back about the mount's axis, for a minute."""
    rng = np.random.default_rng(5)
    stars = rng.normal(size=(20_000, 3))
    stars /= np.linalg.norm(stars, axis=1)[:, None]
    error = math.radians(error_arcmin / 60.0)
    pole, mount = np.array([0.0, 0.0, 1.0]), np.array([math.sin(error), 0.0, math.cos(error)])
    turn = 2.0 * math.pi / 86164.0905 * 60.0
    left = _turned(_turned(stars, pole, turn), mount, -turn)
    moved = np.degrees(np.linalg.norm(left - stars, axis=1)) * 3600.0
    found = 60.0 * polar_drift_arcsec_s(error_arcmin)
    assert moved.max() <= found * 1.0001
    assert moved.max() >= found * 0.999


def test_a_pixel_on_the_sky() -> None:
    """206.265 p / f arcseconds with p in micrometres and f in millimetres (common practice)."""
    camera, lens = Camera(), Lens(50.0)
    assert pixel_arcsec(camera, lens) == pytest.approx(
        206.265 * camera.pixel_pitch_um / 50.0, rel=1e-5
    )
    drift = polar_drift_arcsec_s(15.0)
    one = seconds_to_drift(camera, lens, drift, pixels=1.0)
    assert one * drift == pytest.approx(pixel_arcsec(camera, lens))
    assert seconds_to_drift(camera, Lens(100.0), drift, pixels=1.0) == pytest.approx(one / 2.0)
    assert seconds_to_drift(camera, lens, 0.0, pixels=1.0) == math.inf


@pytest.mark.parametrize("error", [0.0, -3.0, math.nan])
def test_no_error_below_nothing(error: float) -> None:
    with pytest.raises(CameraError, match="polar_error_arcmin"):
        polar_drift_arcsec_s(error)
