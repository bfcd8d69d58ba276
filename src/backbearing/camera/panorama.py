"""Frames that cover a wide piece of sky and land with a longer lens."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.errors import CameraError
from backbearing.camera._numbers import require_number, within
from backbearing.camera.angles import angle_from_axis_deg
from backbearing.camera.framing import Frame, frame_direction

if TYPE_CHECKING:
    from backbearing.camera._numbers import Floats
    from backbearing.camera.bodies_and_lenses import Camera, Lens

_EDGE = np.linspace(0.0, 1.0, 129)
_STEEPEST_EDGE_DEG: Final = 85.0


@dataclass(frozen=True, slots=True)
class PanoramaRow:
    """One row: the same pitch, azimuths in order, clockwise.

    Attributes
    ----------
    pitch_deg : float
        Altitude of the lens's axis.
    azimuths_deg : tuple of float
        Azimuths of the lens's axis, 0 to below 360.
    step_deg : float
        Turn of the head between frames.
    """

    pitch_deg: float
    azimuths_deg: tuple[float, ...]
    step_deg: float


@dataclass(frozen=True, slots=True)
class Panorama:
    """Rows from the lowest up, and the frames in shooting order."""

    camera: Camera
    lens: Lens
    overlap: float
    rows: tuple[PanoramaRow, ...]

    @property
    def frames(self) -> tuple[Frame, ...]:
        """Every frame, row by row."""
        return tuple(
            Frame(self.camera, self.lens, row.pitch_deg, azimuth)
            for row in self.rows
            for azimuth in row.azimuths_deg
        )


def plan_panorama(
    camera: Camera,
    lens: Lens,
    *,
    azimuth_from_deg: float,
    azimuth_to_deg: float,
    altitude_from_deg: float,
    altitude_to_deg: float,
    overlap: float = 0.3,
) -> Panorama:
    """Lay rows of level frames over a piece of the sky, with the exact projection.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    azimuth_from_deg, azimuth_to_deg : float
        Clockwise from the first to the second, degrees; equal means all round.
    altitude_from_deg, altitude_to_deg : float
        Lowest and highest altitude to cover, degrees.
    overlap : float, optional
        Share of the frame that neighbours must have in common, at their narrowest.

    Returns
    -------
    Panorama
        Every direction asked for lies in at least one frame.

    Raises
    ------
    CameraError
        For altitudes in the wrong order or beyond what level rows can reach, or an
        overlap that is not from 0 to below 0.9.
    """
    require_number(overlap, "overlap", "a share of the frame", above=-1e-9)
    within(overlap, "overlap", "a share of the frame", low=0.0, high=0.9)
    first = require_number(azimuth_from_deg, "azimuth_from_deg", "degrees", above=-math.inf)
    last = require_number(azimuth_to_deg, "azimuth_to_deg", "degrees", above=-math.inf)
    low = require_number(altitude_from_deg, "altitude_from_deg", "degrees", above=-math.inf)
    high = require_number(altitude_to_deg, "altitude_to_deg", "degrees", above=-math.inf)
    if high <= low:
        raise CameraError(
            f"altitude_to_deg is {high:g}, not above altitude_from_deg {low:g}; "
            "write the lower altitude first.",
            key="altitude_to_deg",
        )
    width = wrap_360_deg(last - first)
    # 153.1 + 360.0 - 153.1 need not be 360.0: a hair over nothing means all round too.
    width = width if width > 1e-6 else 360.0
    rows: list[PanoramaRow] = []
    reached = low
    while reached < high:
        pitch = _pitch_for_bottom(camera, lens, reached, overlap)
        step, bottom, top = _row_reach(camera, lens, pitch, overlap)
        rows.append(_row(first, width, step, pitch))
        after = top if top >= high else top - overlap * (top - bottom)
        if bottom > reached + 1e-6 or after <= reached + 1e-6:
            raise CameraError(
                f"Level rows with a {lens.label} lens cannot cover altitudes from {low:g} to "
                f"{high:g} degrees, they stop at {reached:.0f}; write a smaller range, well "
                "clear of the zenith.",
                key="altitude_to_deg",
            )
        reached = after
    return Panorama(camera, lens, overlap, tuple(rows))


def _row(first_deg: float, width_deg: float, widest_step_deg: float, pitch: float) -> PanoramaRow:
    count = math.ceil(width_deg / widest_step_deg - 1e-9)
    step = width_deg / count
    azimuths = [wrap_360_deg(first_deg + (index + 0.5) * step) for index in range(count)]
    return PanoramaRow(pitch, tuple(azimuths), step)


def _row_reach(
    camera: Camera, lens: Lens, pitch_deg: float, overlap: float
) -> tuple[float, float, float]:
    """Return the widest step, and the altitudes that every frame of the row surely covers."""
    side, _ = _edge(camera, lens, pitch_deg, x=1.0, y=_EDGE)
    step = (1.0 - overlap) * 2.0 * float(np.min(side))
    bottom_turn, bottom = _edge(camera, lens, pitch_deg, x=_EDGE, y=0.0)
    top_turn, top = _edge(camera, lens, pitch_deg, x=_EDGE, y=1.0)
    return (
        step,
        float(np.max(_inside(bottom_turn, bottom, step))),
        float(np.min(_inside(top_turn, top, step))),
    )


def _edge(
    camera: Camera, lens: Lens, pitch_deg: float, *, x: float | Floats, y: float | Floats
) -> tuple[Floats, Floats]:
    """Return turns from the axis and altitudes along an edge of the frame."""
    azimuth, altitude = frame_direction(
        camera, lens, axis_azimuth_deg=180.0, pitch_deg=pitch_deg, x=x, y=y
    )
    return azimuth - 180.0, altitude


def _inside(turn_deg: Floats, altitude_deg: Floats, step_deg: float) -> Floats:
    """Return the altitudes of an edge within half a step, and one sample beyond."""
    near = np.abs(turn_deg) <= step_deg / 2.0
    near |= np.roll(near, 1) | np.roll(near, -1)
    return altitude_deg[near]


def _pitch_for_bottom(camera: Camera, lens: Lens, altitude_deg: float, overlap: float) -> float:
    """Find the pitch whose row begins at an altitude, kept clear of zenith and nadir."""
    half_mm = camera.frame_height_mm / 2.0
    up = angle_from_axis_deg(lens, lens.rise_mm + half_mm)
    down = angle_from_axis_deg(lens, lens.rise_mm - half_mm)
    low, high = -_STEEPEST_EDGE_DEG - min(down, 0.0), _STEEPEST_EDGE_DEG - max(up, 0.0)
    if low >= high:
        raise CameraError(
            f"A {lens.label} lens sees too high a frame for level rows; write a longer lens.",
            key="focal_length_mm",
        )
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        _, bottom, _ = _row_reach(camera, lens, middle, overlap)
        low, high = (middle, high) if bottom <= altitude_deg else (low, middle)
    return low
