"""Trails over a whole frame, and the longest shutter that keeps them short."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.constants import SIDEREAL_DAY_S
from backbearing.base.intervals import closest_that_holds
from backbearing.camera._numbers import require_number
from backbearing.camera.trailing import trail_at

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.camera._numbers import Floats
    from backbearing.camera.bodies_and_lenses import Camera, Lens

_CORNERS_X = np.array([0.0, 1.0, 0.0, 1.0])
_CORNERS_Y = np.array([1.0, 1.0, 0.0, 0.0])
# Corners included: a rectilinear frame trails most in one of them, a fisheye seldom.
_GRID_X, _GRID_Y = (
    part.ravel() for part in np.meshgrid(np.linspace(0.0, 1.0, 25), np.linspace(0.0, 1.0, 17))
)

# Each shutter twice the one before: those in which the sky turns by less than a degree are tried
# together, longer ones one by one up to beyond a sidereal day.
_SHORT_S = 2.0 ** np.arange(-20, 8)
_LONG_S = 2.0 ** np.arange(8, 2 + math.floor(math.log2(SIDEREAL_DAY_S)))
_HALVINGS = 20


@dataclass(frozen=True, slots=True)
class FrameTrails:
    """Trails over one frame, pixels.

    Attributes
    ----------
    shutter_s : float
        The exposure, seconds.
    centre_px : float
        At the frame's centre.
    upper_left_px, upper_right_px, lower_left_px, lower_right_px : float
        At the corners of the upright picture.
    largest_px : float
        The longest trail on a grid over the whole frame, corners included: with a
        fisheye it need not lie in a corner.
    target_px : float
        At the target's place; NaN when none was given.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, trails_in_frame
    >>> trails = trails_in_frame(
    ...     Camera(), Lens(focal_length_mm=14.0),
    ...     pitch_deg=25.0, azimuth_deg=170.0, lat=36.4, shutter_s=25.0,
    ... )
    >>> f"{trails.centre_px:.1f} pixels in the middle, {trails.largest_px:.1f} at the worst"
    '3.8 pixels in the middle, 12.5 at the worst'
    """

    shutter_s: float
    centre_px: float
    upper_left_px: float
    upper_right_px: float
    lower_left_px: float
    lower_right_px: float
    largest_px: float
    target_px: float

    @property
    def worst_corner_px(self) -> float:
        """The longest of the four corners' trails; NaN when one of them is unknown."""
        return float(
            np.max(
                [self.upper_left_px, self.upper_right_px, self.lower_left_px, self.lower_right_px]
            )
        )


def trails_in_frame(
    camera: Camera,
    lens: Lens,
    *,
    pitch_deg: float,
    azimuth_deg: float,
    lat: float,
    shutter_s: float,
    target_x: float = math.nan,
    target_y: float = math.nan,
) -> FrameTrails:
    """Return the trails at the centre, the corners, the target and the worst place.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    pitch_deg, azimuth_deg : float
        Where the lens's axis points, degrees.
    lat : float
        Latitude of the stand, degrees.
    shutter_s : float
        Seconds.
    target_x, target_y : float, optional
        The target's place in the frame.

    Returns
    -------
    FrameTrails

    Raises
    ------
    CameraError
        As `trail_at`.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, trails_in_frame
    >>> trails = trails_in_frame(
    ...     Camera(), Lens(focal_length_mm=35.0),
    ...     pitch_deg=11.0, azimuth_deg=152.0, lat=36.4, shutter_s=10.0, target_x=0.5, target_y=0.7,
    ... )
    >>> f"{trails.target_px:.1f} pixels at the target"
    '3.8 pixels at the target'
    """
    trails = trail_at(
        camera,
        lens,
        pitch_deg=pitch_deg,
        azimuth_deg=azimuth_deg,
        lat=lat,
        x=np.concatenate([_CORNERS_X, [0.5, target_x], _GRID_X]),
        y=np.concatenate([_CORNERS_Y, [0.5, target_y], _GRID_Y]),
        shutter_s=require_number(shutter_s, "shutter_s", "seconds"),
    )
    upper_left, upper_right, lower_left, lower_right, centre, target = trails[:6].tolist()
    return FrameTrails(
        shutter_s=float(shutter_s),
        centre_px=centre,
        upper_left_px=upper_left,
        upper_right_px=upper_right,
        lower_left_px=lower_left,
        lower_right_px=lower_right,
        largest_px=float(np.max(trails[6:])),
        target_px=target,
    )


def longest_shutter_in_frame_s(
    camera: Camera,
    lens: Lens,
    *,
    pitch_deg: float,
    azimuth_deg: float,
    lat: float,
    max_trail_px: float,
    x: ArrayLike = _GRID_X,
    y: ArrayLike = _GRID_Y,
) -> float:
    """Longest shutter that keeps every asked place's trail within `max_trail_px`.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    pitch_deg, azimuth_deg : float
        Where the lens's axis points, degrees.
    lat : float
        Latitude of the stand, degrees.
    max_trail_px : float
        Trail to stay within, pixels.
    x, y : array_like, optional
        Places in the frame; a grid over all of it, corners included, when not given.

    Returns
    -------
    float
        Seconds, to one part in a million; infinite when no place trails so far in a
        whole sidereal day.

    Raises
    ------
    CameraError
        As `trail_at`, or for a trail that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, longest_shutter_in_frame_s
    >>> shutter_s = longest_shutter_in_frame_s(
    ...     Camera(), Lens(focal_length_mm=14.0),
    ...     pitch_deg=25.0, azimuth_deg=170.0, lat=36.4, max_trail_px=4.0,
    ... )
    >>> f"{shutter_s:.1f} s"
    '8.0 s'
    """
    limit = require_number(max_trail_px, "max_trail_px", "pixels")

    def within(shutters_s: Floats) -> NDArray[np.bool_]:
        """Whether no place trails farther, for each of some shutters."""
        trails = trail_at(
            camera,
            lens,
            pitch_deg=pitch_deg,
            azimuth_deg=azimuth_deg,
            lat=lat,
            x=np.asarray(x, dtype=np.float64)[..., None],
            y=np.asarray(y, dtype=np.float64)[..., None],
            shutter_s=shutters_s,
        )
        # NaN: the star has left what the lens can show, so the trail is not within.
        return np.asarray((trails <= limit).reshape(-1, len(shutters_s)).all(axis=0))

    low, high = 0.0, 0.0
    for tried in (_SHORT_S, *_LONG_S[:, None]):
        kept = within(tried)
        if not kept.all():
            first = int(np.argmin(kept))
            low, high = (float(tried[first - 1]) if first else low), float(tried[first])
            break
        low = float(tried[-1])
    else:
        return math.inf
    # A long trail is cut into pieces by the longest shutter asked for with it: one at a time.
    at_once = _HALVINGS // 4 if high <= _SHORT_S[-1] else 1
    ends = closest_that_holds(
        within, np.array([low]), np.array([high]), halvings=_HALVINGS, at_once=at_once
    )
    return float(ends[0])
