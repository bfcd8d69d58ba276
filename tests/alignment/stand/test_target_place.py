"""Whether the target is in its place, and by how much it is not."""

from __future__ import annotations

import numpy as np
import pytest

from backbearing.alignment import Framing
from backbearing.alignment.stand.target_place import PlaceInFrame, in_its_place, room_in_place


def room(framing: Framing, x: float, y: float, above_deg: float = 0.0) -> float:
    return float(room_in_place(framing, np.array(x), np.array(y), np.array(above_deg)))


def test_room_to_the_nearest_edge() -> None:
    framing = Framing(edge_margin=0.1)
    assert room(framing, 0.5, 0.5) == pytest.approx(0.4)
    assert room(framing, 0.15, 0.5) == pytest.approx(0.05)
    assert room(framing, 0.5, 0.97) == pytest.approx(-0.07)
    # Both ways outside: the farther out counts.
    assert room(framing, 0.0, 1.2) == pytest.approx(-0.3)
    assert np.isnan(room(framing, np.nan, 0.5))


def test_a_box_narrows_the_frame_and_the_edge_the_box() -> None:
    framing = Framing(edge_margin=0.2, target_box=(0.1, 0.5, 0.6, 0.9))
    assert PlaceInFrame.asked_by(framing) == pytest.approx((0.2, 0.5, 0.6, 0.8))
    assert room(framing, 0.4, 0.65) == pytest.approx(0.15)
    assert room(framing, 0.4, 0.45) == pytest.approx(-0.05)


def test_an_altitude_over_the_top_is_kept_within_the_play() -> None:
    framing = Framing(edge_margin=0.05, above_top_deg=8.0, play_deg=2.0)
    assert room(framing, 0.5, 0.5, 8.0) == pytest.approx(0.02)
    assert room(framing, 0.5, 0.5, 9.5) == pytest.approx(0.005)
    assert room(framing, 0.5, 0.5, 5.0) == pytest.approx(-0.01)
    assert room(framing, 0.06, 0.5, 8.0) == pytest.approx(0.01)


def test_the_limits_themselves_are_in_place() -> None:
    x = np.array([0.05, 0.95, 0.5, 0.5, 0.04999, np.nan])
    y = np.array([0.5, 0.5, 0.05, 0.95, 0.5, 0.5])
    held = in_its_place(Framing(edge_margin=0.05), x, y, np.zeros(6))
    assert held.tolist() == [True, True, True, True, False, False]
    framing = Framing(above_top_deg=3.0, play_deg=1.0)
    above = np.array([2.0, 4.0, 1.99, 4.01])
    held = in_its_place(framing, np.full(4, 0.5), np.full(4, 0.5), above)
    assert held.tolist() == [True, True, False, False]
