"""Frames that cover a wide piece of sky and land with a longer lens."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.errors import CameraError
from backbearing.camera._numbers import require_number, within
from backbearing.camera.angles import angle_from_axis_deg
from backbearing.camera.bodies_and_lenses import check_pair
from backbearing.camera.framing import Frame
from backbearing.camera.projection import rays_of_sensor

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.camera._numbers import Floats
    from backbearing.camera.bodies_and_lenses import Camera, Lens

_EDGE = np.linspace(0.0, 1.0, 129)
_STEEPEST_EDGE_DEG: Final = 85.0
_PITCH_STEP_DEG: Final = 1e-9


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

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, plan_panorama
    >>> wide = plan_panorama(
    ...     Camera(), Lens(focal_length_mm=35.0),
    ...     azimuth_from_deg=120.0, azimuth_to_deg=220.0,
    ...     altitude_from_deg=-5.0, altitude_to_deg=50.0,
    ... )
    >>> for row in wide.rows:
    ...     print(f"pitch {row.pitch_deg:.1f} degrees: {len(row.azimuths_deg)} frames")
    pitch 13.7 degrees: 3 frames
    pitch 38.0 degrees: 3 frames
    """

    pitch_deg: float
    azimuths_deg: tuple[float, ...]
    step_deg: float


@dataclass(frozen=True, slots=True)
class Panorama:
    """Rows from the lowest up, and the frames in shooting order.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, plan_panorama
    >>> wide = plan_panorama(
    ...     Camera(), Lens(focal_length_mm=35.0),
    ...     azimuth_from_deg=120.0, azimuth_to_deg=220.0,
    ...     altitude_from_deg=-5.0, altitude_to_deg=50.0,
    ... )
    >>> f"{sum(len(row.azimuths_deg) for row in wide.rows)} frames in {len(wide.rows)} rows"
    '6 frames in 2 rows'
    """

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

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, plan_panorama
    >>> wide = plan_panorama(
    ...     Camera(orientation="portrait"), Lens(focal_length_mm=20.0),
    ...     azimuth_from_deg=120.0, azimuth_to_deg=220.0,
    ...     altitude_from_deg=-10.0, altitude_to_deg=40.0, overlap=0.4,
    ... )
    >>> [f"{azimuth:.0f}" for azimuth in wide.rows[0].azimuths_deg]
    ['132', '158', '182', '208']
    """
    require_number(overlap, "overlap", "a share of the frame", above=-1e-9)
    within(overlap, "overlap", "a share of the frame", low=0.0, high=0.9)
    first = require_number(azimuth_from_deg, "azimuth_from_deg", "degrees", above=-math.inf)
    last = require_number(azimuth_to_deg, "azimuth_to_deg", "degrees", above=-math.inf)
    low = require_number(altitude_from_deg, "altitude_from_deg", "degrees", above=-math.inf)
    high = require_number(altitude_to_deg, "altitude_to_deg", "degrees", above=-math.inf)
    if high <= low:
        raise CameraError(
            f"altitude_to_deg is {high:g}, not above altitude_from_deg {low:g}",
            hint="write the lower altitude first",
            key="altitude_to_deg",
        )
    width = wrap_360_deg(last - first)
    # 153.1 + 360.0 - 153.1 need not be 360.0: a hair over nothing means all round too.
    width = width if width > 1e-6 else 360.0
    rays = _edge_rays(camera, lens, overlap)
    rows: list[PanoramaRow] = []
    reached, below = low, math.inf
    while reached < high:
        pitch = _pitch_for_bottom(camera, lens, rays, (reached, below), overlap)
        step, bottom, top = _row_reach(rays, pitch, overlap)
        rows.append(_row(first, width, step, pitch))
        after, below = (top if top >= high else _shared_from(rays, pitch)), top
        if bottom > reached + 1e-6 or after <= reached + 1e-6:
            raise CameraError(
                f"Level rows with a {lens.label} lens cannot cover altitudes from {low:g} to "
                f"{high:g} degrees, they stop at {reached:.0f}",
                hint="write a smaller range, well clear of the zenith",
                key="altitude_to_deg",
            )
        reached = after
    return Panorama(camera, lens, overlap, tuple(rows))


def _row(first_deg: float, width_deg: float, widest_step_deg: float, pitch: float) -> PanoramaRow:
    count = math.ceil(width_deg / widest_step_deg - 1e-9)
    step = width_deg / count
    azimuths = [wrap_360_deg(first_deg + (index + 0.5) * step) for index in range(count)]
    return PanoramaRow(pitch, tuple(azimuths), step)


class _EdgeRays(NamedTuple):
    """Unit vectors along the camera's axes to the frame's right, lower and upper edge.

    Each of shape (3, n): right, up, forward. They do not depend on the pitch, which only turns
    them, so that one set serves every row and every trial pitch. ``above_low`` and ``below_high``
    lie the asked share of the frame's height above its lower and below its upper edge.
    """

    side: Floats
    bottom: Floats
    top: Floats
    above_low: Floats
    below_high: Floats


def _edge_rays(camera: Camera, lens: Lens, overlap: float) -> _EdgeRays:
    check_pair(camera, lens)
    half_mm = camera.frame_width_mm / 2.0
    across = (_EDGE - 0.5) * camera.frame_width_mm
    upward = (_EDGE - 0.5) * camera.frame_height_mm + lens.rise_mm

    def rays(x_mm: Floats, y_mm: Floats) -> Floats:
        return np.stack(np.broadcast_arrays(*rays_of_sensor(lens, x_mm, y_mm)))

    return _EdgeRays(
        side=rays(np.full_like(upward, half_mm), upward),
        bottom=rays(across, np.full_like(across, upward[0])),
        top=rays(across, np.full_like(across, upward[-1])),
        above_low=rays(across, upward[0] + overlap * camera.frame_height_mm + 0.0 * across),
        below_high=rays(across, upward[-1] - overlap * camera.frame_height_mm + 0.0 * across),
    )


def _turns(rays: Floats, pitch_deg: Floats) -> tuple[Floats, Floats]:
    """How far rays turn from the axis, degrees, and their level part, each (pitches, n)."""
    pitch = np.radians(pitch_deg)[:, None]
    level = np.cos(pitch) * rays[2] - np.sin(pitch) * rays[1]
    return np.degrees(np.arctan2(rays[0], level)), level


def _turned(rays: Floats, pitch_deg: Floats) -> tuple[Floats, Floats]:
    """Turns from the axis and altitudes of rays, shape (pitches, n), at each pitch, (pitches,)."""
    turn, level = _turns(rays, pitch_deg)
    pitch = np.radians(pitch_deg)[:, None]
    height = np.sin(pitch) * rays[2] + np.cos(pitch) * rays[1]
    return turn, np.degrees(np.arctan2(height, np.hypot(rays[0], level)))


def _steps_and_bottoms(rays: _EdgeRays, pitch_deg: Floats, overlap: float) -> tuple[Floats, Floats]:
    """Widest step, and the lowest altitude that every frame surely covers, at each pitch."""
    side, _ = _turns(rays.side, pitch_deg)
    step = (1.0 - overlap) * 2.0 * np.min(side, axis=1)
    turn, altitude = _turned(rays.bottom, pitch_deg)
    return step, np.max(np.where(_inside(turn, step), altitude, -np.inf), axis=1)


def _row_reach(rays: _EdgeRays, pitch_deg: float, overlap: float) -> tuple[float, float, float]:
    """Return the widest step, and the altitudes that every frame of the row surely covers."""
    at = np.array([pitch_deg])
    step, bottom = _steps_and_bottoms(rays, at, overlap)
    turn, altitude = _turned(rays.top, at)
    top = np.min(np.where(_inside(turn, step), altitude, np.inf), axis=1)
    return float(step[0]), float(bottom[0]), float(top[0])


def _shared_from(rays: _EdgeRays, pitch_deg: float) -> float:
    """From which altitude on the next row must cover, to share enough of every frame's height."""
    return float(np.min(_turned(rays.below_high, np.array([pitch_deg]))[1]))


def _inside(turn_deg: Floats, step_deg: Floats) -> NDArray[np.bool_]:
    """Which samples of an edge lie within half a step, and one sample beyond."""
    near = np.abs(turn_deg) <= step_deg[:, None] / 2.0
    beyond = near.copy()
    beyond[:, 1:] |= near[:, :-1]
    beyond[:, :-1] |= near[:, 1:]
    return beyond


def _pitch_for_bottom(
    camera: Camera, lens: Lens, rays: _EdgeRays, within_deg: tuple[float, float], overlap: float
) -> float:
    """Find the pitch whose row begins at an altitude, kept clear of zenith and nadir.

    ``within_deg`` is that altitude, and up to where the row below covers: the asked share of
    this row's frames lies below that.
    """
    altitude_deg, covered_deg = within_deg
    half_mm = camera.frame_height_mm / 2.0
    up = angle_from_axis_deg(lens, lens.rise_mm + half_mm)
    down = angle_from_axis_deg(lens, lens.rise_mm - half_mm)
    low, high = -_STEEPEST_EDGE_DEG - min(down, 0.0), _STEEPEST_EDGE_DEG - max(up, 0.0)
    if low >= high:
        raise CameraError(
            f"A {lens.label} lens sees too high a frame for level rows",
            hint="write a longer lens",
            key="focal_length_mm",
        )

    def miss(pitch_deg: float) -> float:
        at = np.array([pitch_deg])
        over = float(_steps_and_bottoms(rays, at, overlap)[1][0]) - altitude_deg
        if covered_deg == math.inf:
            return over
        return max(over, float(np.max(_turned(rays.above_low, at)[1])) - covered_deg)

    at_low, at_high = miss(low), miss(high)
    if at_low > 0.0 or at_high <= 0.0:
        return low if at_low > 0.0 else high
    while high - low > _PITCH_STEP_DEG:
        # The bottom rises with the pitch, nearly in proportion, with small jumps where a sample
        # of the edge joins: a line through both ends, kept from crawling by a halving.
        wide = high - low
        guess = low - at_low * wide / (at_high - at_low)
        for trial in (guess + _PITCH_STEP_DEG / 4, guess - _PITCH_STEP_DEG / 4, None):
            middle = (low + high) / 2.0 if trial is None else trial
            if trial is None and high - low <= wide / 2.0:
                break
            if not low < middle < high:
                continue
            at_middle = miss(middle)
            if at_middle <= 0.0:
                low, at_low = middle, at_middle
            else:
                high, at_high = middle, at_middle
    return low
