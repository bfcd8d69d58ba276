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
        assert overlap - 0.01 <= shared <= overlap + 0.02
    below, above = covered[-2:]
    assert below[1] - above[0] >= (overlap - 0.01) * (below[1] - below[0])
