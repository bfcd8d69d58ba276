"""How the target sits in the frames of many stands: margins, and how well it fits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.camera.framing import frame_position

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.outing.subject import Framing
    from backbearing.scouting.ranking.stand_solver import ManyProblem

    Floats = NDArray[np.float64]

PER_DEG: Final = 0.01
"""Margins of angles are brought to the size of fractions of a frame."""


@dataclass(frozen=True)
class Framed:
    """The target in the frames of stands, arrays of one shape.

    Attributes
    ----------
    x, y : ndarray
        Fractions of the frame from its left and its bottom edge.
    margin : ndarray
        How far inside its place the target sits; below 0 where it is not; NaN without stand.
    fit : ndarray
        1 where the target sits midway between the subject's top (or the place asked for it)
        and the upper limit of the frame, 0 at either.
    """

    x: Floats
    y: Floats
    margin: Floats
    fit: Floats


def framed(
    problem: ManyProblem,
    *,
    bearing_deg: Floats,
    azimuth_deg: Floats,
    altitude_deg: Floats,
    base_altitude_deg: Floats,
    top_altitude_deg: Floats,
) -> Framed:
    """Place the target in frames by the same rules as `alignment.scene`."""
    framing = problem.framing
    pitch = problem.pitch_deg(base_altitude_deg)

    def place(azimuth: Floats, altitude: Floats) -> tuple[Floats, Floats]:
        return frame_position(
            problem.camera,
            problem.lens,
            axis_azimuth_deg=bearing_deg,
            pitch_deg=pitch,
            azimuth_deg=azimuth,
            altitude_deg=altitude,
        )

    x, y = place(azimuth_deg, altitude_deg)
    _, top_y = place(bearing_deg, top_altitude_deg)
    above = altitude_deg - top_altitude_deg
    return Framed(x, y, _margin(framing, x, y, above), _fit(framing, y, top_y, above))


def _margin(framing: Framing, x: Floats, y: Floats, above_deg: Floats) -> Floats:
    left, bottom, right, top = _limits(framing)
    margin = np.minimum(np.minimum(x - left, right - x), np.minimum(y - bottom, top - y))
    if framing.above_top_deg is not None:
        off = np.abs(above_deg - framing.above_top_deg)
        margin = np.minimum(margin, PER_DEG * (framing.play_deg - off))
    return np.asarray(margin)


def _limits(framing: Framing) -> tuple[float, float, float, float]:
    edge = framing.edge_margin
    left, bottom, right, top = framing.target_box or (0.0, 0.0, 1.0, 1.0)
    return max(edge, left), max(edge, bottom), min(1.0 - edge, right), min(1.0 - edge, top)


def _fit(framing: Framing, y: Floats, top_y: Floats, above_deg: Floats) -> Floats:
    if framing.above_top_deg is not None:
        fit = 1.0 - np.abs(above_deg - framing.above_top_deg) / framing.play_deg
        return np.asarray(np.clip(fit, 0.0, 1.0))
    _, bottom, _, upper = _limits(framing)
    lower = np.full_like(top_y, bottom) if framing.target_box else np.maximum(top_y, bottom)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (y - lower) / (upper - lower)
        fit = np.where(upper > lower, 1.0 - np.abs(2.0 * along - 1.0), 0.0)
    return np.asarray(np.where(np.isnan(y), np.nan, np.clip(fit, 0.0, 1.0)))
