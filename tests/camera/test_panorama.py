from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from backbearing.base.errors import CameraError
from backbearing.camera import Camera, Lens, plan_panorama


@given(
    focal=st.floats(18.0, 60.0),
    portrait=st.booleans(),
    start=st.floats(0.0, 360.0),
    width=st.floats(20.0, 360.0),
    low=st.floats(-15.0, 10.0),
    height=st.floats(10.0, 45.0),
    overlap=st.floats(0.0, 0.5),
)
@example(
    focal=18.0,
    portrait=False,
    start=152.9289026630433,
    width=360.0,
    low=0.0,
    height=10.0,
    overlap=0.0,
)
@settings(max_examples=30, deadline=None, derandomize=True)
def test_every_direction_asked_for_lies_in_a_frame(
    *,
    focal: float,
    portrait: bool,
    start: float,
    width: float,
    low: float,
    height: float,
    overlap: float,
) -> None:
    pano = plan_panorama(
        Camera(orientation="portrait" if portrait else "landscape"),
        Lens(focal),
        azimuth_from_deg=start,
        azimuth_to_deg=start + width,
        altitude_from_deg=low,
        altitude_to_deg=low + height,
        overlap=overlap,
    )
    along, up = np.meshgrid(np.linspace(0, 1, 41), np.linspace(0, 1, 21))
    azimuth = start + width * (0.001 + 0.998 * along)
    altitude = low + height * (0.001 + 0.998 * up)
    seen = np.zeros(azimuth.shape, dtype=bool)
    for frame in pano.frames:
        seen |= frame.holds(azimuth, altitude)
    assert np.all(seen)


def test_neighbours_share_the_asked_overlap() -> None:
    pano = plan_panorama(
        Camera(orientation="portrait"),
        Lens(35),
        azimuth_from_deg=100.0,
        azimuth_to_deg=220.0,
        altitude_from_deg=-5.0,
        altitude_to_deg=60.0,
        overlap=0.3,
    )
    assert len(pano.rows) >= 2
    by_row = {
        row.pitch_deg: [f for f in pano.frames if f.pitch_deg == row.pitch_deg] for row in pano.rows
    }
    for frames in by_row.values():
        left, right = frames[0], frames[1]
        # The right frame's left edge must fall at most 0.7 of the way across the left
        # frame where the two meet narrowest.
        edge = right.direction(np.zeros(21), np.linspace(0.0, 1.0, 21))
        turn = (edge[0] - left.azimuth_deg + 180.0) % 360.0 - 180.0
        half = np.abs(
            (left.direction(np.ones(21), np.linspace(0.0, 1.0, 21))[0] - left.azimuth_deg + 180.0)
            % 360.0
            - 180.0
        )
        shared = (half - turn) / (2.0 * half)
        assert np.min(shared) >= 0.3 - 1e-9


def test_one_frame_does_when_it_is_wide_enough() -> None:
    pano = plan_panorama(
        Camera(),
        Lens(14),
        azimuth_from_deg=350.0,
        azimuth_to_deg=10.0,
        altitude_from_deg=0.0,
        altitude_to_deg=30.0,
    )
    assert len(pano.frames) == 1
    assert pano.frames[0].azimuth_deg == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("changed", "match"),
    [
        ({"altitude_to_deg": -10.0}, "lower altitude first"),
        ({"altitude_to_deg": 89.0}, "clear of the zenith"),
        ({"overlap": 0.95}, "overlap is 0.95"),
        ({"overlap": -0.1}, "overlap"),
    ],
)
def test_impossible_panoramas_are_refused(changed: dict[str, Any], match: str) -> None:
    asked = {
        "azimuth_from_deg": 90.0,
        "azimuth_to_deg": 200.0,
        "altitude_from_deg": 0.0,
        "altitude_to_deg": 40.0,
        "overlap": 0.3,
    }
    with pytest.raises(CameraError, match=match):
        plan_panorama(Camera(), Lens(35), **(asked | changed))


@pytest.mark.parametrize("overlap", [0.1, 0.3, 0.5])
def test_rows_share_the_asked_overlap_of_their_height(overlap: float) -> None:
    pano = plan_panorama(
        Camera(),
        Lens(50),
        azimuth_from_deg=100.0,
        azimuth_to_deg=160.0,
        altitude_from_deg=-5.0,
        altitude_to_deg=60.0,
        overlap=overlap,
    )
    assert len(pano.rows) >= 3
    covered = []
    for row in pano.rows:
        frame = next(f for f in pano.frames if f.pitch_deg == row.pitch_deg)
        # What the row surely covers: within half a step of a frame's middle, the lowest that
        # its upper edge and the highest that its lower edge comes.
        across = np.linspace(0.0, 1.0, 2001)
        ends = []
        for edge in (0.0, 1.0):
            azimuth, altitude = frame.direction(across, np.full(2001, edge))
            turn = (azimuth - frame.azimuth_deg + 180.0) % 360.0 - 180.0
            ends.append(altitude[np.abs(turn) <= row.step_deg / 2.0])
        covered.append((ends[0].max(), ends[1].min()))
    for below, above in pairwise(covered[:-1]):
        shared = (below[1] - above[0]) / (below[1] - below[0])
        assert shared >= overlap - 0.01
    below, above = covered[-2:]
    assert below[1] - above[0] >= (overlap - 0.01) * (below[1] - below[0])


def _directions(mm: tuple[float, float, float], x: Any, y: Any, aim: tuple[float, float]) -> Any:
    """East, north and up of places in a frame, by turning the pinhole's rays: no code of ours."""
    width, height, focal = mm
    ray = np.stack([(x - 0.5) * width, (y - 0.5) * height, np.full(np.shape(x), focal)])
    right, up, ahead = ray / np.linalg.norm(ray, axis=0)
    azimuth, pitch = np.radians(aim)
    level, high = ahead * np.cos(pitch) - up * np.sin(pitch), ahead * np.sin(pitch)
    high = high + up * np.cos(pitch)
    east = level * np.sin(azimuth) + right * np.cos(azimuth)
    return np.stack([east, level * np.cos(azimuth) - right * np.sin(azimuth), high])


def _held(mm: tuple[float, float, float], sky: Any, aim: tuple[float, float]) -> Any:
    """Whether a frame holds directions, by turning them back."""
    width, height, focal = mm
    azimuth, pitch = np.radians(aim)
    east, north, high = sky
    right = east * np.cos(azimuth) - north * np.sin(azimuth)
    level = east * np.sin(azimuth) + north * np.cos(azimuth)
    ahead = level * np.cos(pitch) + high * np.sin(pitch)
    up = high * np.cos(pitch) - level * np.sin(pitch)
    across, along = np.abs(right) * focal, np.abs(up) * focal
    return (ahead > 0) & (across <= ahead * width / 2 + 1e-9) & (along <= ahead * height / 2 + 1e-9)


def _least_shared(pano: Any, mm: tuple[float, float, float], asked: tuple[float, float]) -> float:
    """Least share of a frame's height that the row above or below holds, of columns asked for."""
    grid = np.linspace(0.0, 1.0, 101)
    x, y = np.meshgrid(grid, grid)
    first, width = asked
    worst = 1.0
    for low, high in pairwise(pano.rows):
        for mine, other, up in ((high, low, False), (low, high, True)):
            for azimuth in mine.azimuths_deg:
                sky = _directions(mm, x, y, (azimuth, mine.pitch_deg))
                at = (np.degrees(np.arctan2(sky[0], sky[1])) - first) % 360.0
                columns = (at <= width).all(axis=0)
                held = np.zeros(x.shape, dtype=bool)
                for there in other.azimuths_deg:
                    held |= _held(mm, sky, (there, other.pitch_deg))
                # Without a gap from the edge that faces the neighbour.
                run = np.minimum.accumulate(held[::-1] if up else held, axis=0)
                shares = run.mean(axis=0)[columns]
                worst = min(worst, float(shares.min(initial=1.0)))
    return worst


@pytest.mark.parametrize("overlap", [0.2, 0.4])
@pytest.mark.parametrize(
    ("focal", "portrait", "low", "high", "least_rows"),
    [
        (35.0, False, -5.0, 60.0, 3),
        (50.0, False, -5.0, 75.0, 4),
        (85.0, False, 30.0, 78.0, 4),
        (24.0, True, -10.0, 70.0, 2),
        (50.0, False, -75.0, 5.0, 4),
    ],
)
def test_rows_share_the_asked_part_of_every_frame(
    *, focal: float, portrait: bool, low: float, high: float, least_rows: int, overlap: float
) -> None:
    """Column by column, corners and high rows too; a hundredth is the grid's own step."""
    pano = plan_panorama(
        Camera(orientation="portrait" if portrait else "landscape"),
        Lens(focal),
        azimuth_from_deg=300.0,
        azimuth_to_deg=60.0,
        altitude_from_deg=low,
        altitude_to_deg=high,
        overlap=overlap,
    )
    assert len(pano.rows) >= least_rows
    mm = (24.0, 36.0, focal) if portrait else (36.0, 24.0, focal)
    assert _least_shared(pano, mm, (300.0, 120.0)) >= overlap - 0.01
    # Nor are there more rows than it takes: some column shares little more than was asked.
    if len(pano.rows) > 2:
        assert _least_shared(pano, mm, (300.0, 120.0)) <= overlap + 0.02


@pytest.mark.parametrize("overlap", [0.15, 0.35])
def test_neighbours_of_a_row_share_at_every_height(overlap: float) -> None:
    pano = plan_panorama(
        Camera(),
        Lens(50.0),
        azimuth_from_deg=300.0,
        azimuth_to_deg=60.0,
        altitude_from_deg=0.0,
        altitude_to_deg=75.0,
        overlap=overlap,
    )
    turn = np.linspace(-89.0, 89.0, 7121)
    for row in pano.rows:
        first, second = row.azimuths_deg[:2]
        step = (second - first) % 360.0
        for height in np.linspace(row.pitch_deg - 7.0, row.pitch_deg + 7.0, 9):
            at, up = np.radians(turn), np.radians(height)
            sky = np.stack(
                [np.sin(at) * np.cos(up), np.cos(at) * np.cos(up), np.full_like(at, np.sin(up))]
            )
            mine = _held((36.0, 24.0, 50.0), sky, (0.0, row.pitch_deg))
            both = mine & _held((36.0, 24.0, 50.0), sky, (step, row.pitch_deg))
            assert both.sum() / mine.sum() >= overlap - 0.01
        # Nor are there more frames than it takes: with one fewer some height shares too little.
        edge = np.linspace(0.0, 1.0, 201)
        right = _directions((36.0, 24.0, 50.0), np.ones(201), edge, (0.0, row.pitch_deg))
        narrowest = 2.0 * float(np.degrees(np.arctan2(right[0], right[1])).min())
        wider = 120.0 / (len(row.azimuths_deg) - 1)
        assert 1.0 - wider / narrowest < overlap
