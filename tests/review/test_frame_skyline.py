"""The land's edge read off painted frames, and what must be left open in them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from frames_of_night import looked_at
from real_sky import Held
from star_fields import as_jpeg

from backbearing.camera import Lens
from backbearing.camera.frame_attitude import FrameOptics
from backbearing.review.frame_skyline import Around, read_edge
from backbearing.review.plate_solution import PlateSolution
from backbearing.review.skyline_beside import _corners

HELD = Held(160.0, 14.0, 1.5, 40.0, width_px=1200, height_px=800)
SKY, LAND = 0.02, 0.0006


def ridge(azimuth_deg):
    return 5.0 + 0.8 * np.sin(np.radians(azimuth_deg * 9.0))


def solved() -> PlateSolution:
    """How `HELD` looks, put together by hand: rows of the turn are right, forward, up."""
    h, p, r = np.radians([HELD.azimuth_deg, HELD.pitch_deg, HELD.roll_deg])
    ahead = np.array([np.sin(h) * np.cos(p), np.cos(h) * np.cos(p), np.sin(p)])
    level = np.array([np.cos(h), -np.sin(h), 0.0])
    upright = np.cross(level, ahead)
    turn = np.stack([
        level * np.cos(r) - upright * np.sin(r), ahead, upright * np.cos(r) + level * np.sin(r),
    ])  # fmt: skip
    optics = FrameOptics(Lens(focal_length_mm=HELD.focal_mm), 1200, 800, 36.0 / 1200)
    return PlateSolution(optics, HELD.azimuth_deg, HELD.pitch_deg, HELD.roll_deg, 0.0, 60, 0.3,
                         0.001, 0.01, turn)  # fmt: skip


@pytest.fixture(scope="module")
def seen():
    """Azimuth and altitude of every pixel."""
    rows, columns = np.mgrid[0:800, 0:1200].astype(float)
    return looked_at(HELD, columns, rows)


def read(light, subject=None):
    rng = np.random.default_rng(7)
    picture = as_jpeg(light + rng.normal(0.0, 0.0012, light.shape).clip(-light, None))
    return read_edge(
        picture, solved(), expected_deg=lambda azimuth: np.full(len(azimuth), 4.0), subject=subject
    )


def off(edge):
    return np.abs(edge.altitude_deg - ridge(edge.azimuth_deg))


def test_dark_land_under_a_plain_sky(seen):
    azimuth, altitude = seen
    edge = read(np.where(altitude < ridge(azimuth), LAND, SKY))
    assert edge.on_things == edge.at_subject == 0
    # Only where the edge leaves the frame, at its corners, is it not read.
    assert len(edge.azimuth_deg) > 0.94 * edge.asked > 200
    assert np.diff(edge.azimuth_deg).max() < 0.2
    # Within a pixel of 0.043 degree.
    assert off(edge).max() < 0.043
    # The doubt is what the edges are off, and not many times as much.
    assert 0.3 < np.sqrt((off(edge) ** 2).mean()) / edge.sigma_deg.mean() < 1.5


def test_a_glow_over_the_land_and_a_gradient_do_not_shift_it(seen):
    azimuth, altitude = seen
    glow = SKY * (1.0 + 3.0 * np.exp(-altitude / 6.0) + (azimuth - 140.0) / 40.0)
    edge = read(np.where(altitude < ridge(azimuth), LAND, glow))
    assert len(edge.azimuth_deg) > 0.94 * edge.asked
    assert off(edge).max() < 0.043


def test_what_is_unclear_is_left_open(seen):
    """A bank of cloud on the ridge, a lit slope, bare branches, a mast, and the subject."""
    azimuth, altitude = seen
    light = np.where(altitude < ridge(azimuth), LAND, SKY)
    height = altitude - ridge(azimuth)
    cloud = (np.abs(azimuth - 147.0) < 2.5) & (height > 0.0)
    light = np.where(cloud, SKY * (1.0 - 0.9 * np.exp(-height / 0.8)), light)
    light = np.where((np.abs(azimuth - 155.0) < 2.0) & (height < 0.0), 0.8 * SKY, light)
    rng = np.random.default_rng(3)
    twigs = np.kron(rng.random((200, 300)) < 0.4, np.ones((4, 4), dtype=bool))
    light = np.where((np.abs(azimuth - 163.0) < 1.5) & (height < 1.5) & twigs, LAND, light)
    light = np.where((np.abs(azimuth - 170.0) < 0.6) & (height < 2.0), LAND, light)
    light = np.where((np.abs(azimuth - 176.0) < 1.2) & (altitude < 11.0), LAND, light)
    edge = read(light, Around(176.0, 1.2))
    assert off(edge).max() < 0.05
    for middle, half in ((147.0, 2.3), (155.0, 1.8), (163.0, 1.3), (170.0, 0.6), (176.0, 1.2)):
        assert not (np.abs(edge.azimuth_deg - middle) < half).any(), middle
    assert edge.unclear > 0
    assert edge.on_things > 0
    assert edge.at_subject > 0
    # And what is clear between them is read.
    for middle in (151.0, 159.0, 166.5, 173.0):
        assert (np.abs(edge.azimuth_deg - middle) < 0.5).sum() > 4, middle


def test_a_frame_without_land_has_no_edge(seen):
    edge = read(np.full(seen[0].shape, SKY))
    assert len(edge.azimuth_deg) == 0
    assert edge.unclear == edge.asked


def test_corners_leave_the_edge_straight_between_them():
    along = np.linspace(0.0, 20.0, 401)
    high = ridge(140.0 + along)
    kept = _corners(along, high, np.full(401, 0.03), 0, 400)
    assert kept[0] == 0
    assert kept[-1] == 400
    assert np.abs(np.interp(along, along[kept], high[kept]) - high).max() <= 0.03
    assert np.diff(along[kept]).max() <= 2.5
    assert len(kept) < 40
    level = _corners(along, np.zeros(401), np.full(401, 0.03), 0, 400)
    assert math.isclose(np.diff(along[level]).max(), 2.5, abs_tol=0.1)
