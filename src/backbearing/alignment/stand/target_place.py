"""Where in the frame the target should stand, and how far inside or outside it does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.outing.subject import Framing

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

PER_DEG: Final = 0.01
"""Room in degrees is brought to the size of fractions of a frame."""


class PlaceInFrame(NamedTuple):
    """Limits within which the target should stand, fractions from the left and the bottom."""

    left: float
    bottom: float
    right: float
    top: float

    @classmethod
    def asked_by(cls, framing: Framing) -> PlaceInFrame:
        """The box asked for, or the whole frame, as far as it keeps from the edges."""
        edge = framing.edge_margin
        left, bottom, right, top = framing.target_box or (0.0, 0.0, 1.0, 1.0)
        return cls(max(edge, left), max(edge, bottom), min(1.0 - edge, right), min(1.0 - edge, top))

    def room(self, x: Floats, y: Floats) -> Floats:
        """How far inside all limits a place in the frame lies; below 0 outside, NaN unknown."""
        across = np.minimum(x - self.left, self.right - x)
        return np.asarray(np.minimum(across, np.minimum(y - self.bottom, self.top - y)))


def room_in_place(framing: Framing, x: Floats, y: Floats, above_top_deg: Floats) -> Floats:
    """How far inside the place asked for the target stands; below 0 outside, NaN unknown.

    Parameters
    ----------
    framing : Framing
    x, y : ndarray
        The target, fractions of the frame from its left and its bottom edge.
    above_top_deg : ndarray
        Its altitude over the subject's top.

    Returns
    -------
    ndarray
        Fractions of the frame; where an altitude over the top is asked for, hundredths of
        the degrees left of its play if those are less.
    """
    room = PlaceInFrame.asked_by(framing).room(x, y)
    if framing.above_top_deg is None:
        return room
    left_deg = framing.play_deg - np.abs(above_top_deg - framing.above_top_deg)
    return np.asarray(np.minimum(room, PER_DEG * left_deg))


def in_its_place(framing: Framing, x: Floats, y: Floats, above_top_deg: Floats) -> Flags:
    """Whether the target keeps from the edges, and stands where it was asked to."""
    return np.asarray(room_in_place(framing, x, y, above_top_deg) >= 0.0)
