"""Straight streaks across a frame: aeroplanes and satellites, long against the stars' trails."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.review.star_list import light_in_blocks, spoiled_in_blocks
from backbearing.review.stars import find_sources, rounding

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.review.picture import Picture

    Floats = NDArray[np.float64]

WIDEST_PX: Final = 1500
"""A wider picture is taken together in blocks: a streak's light goes on through them."""

LEAST_PICTURE_PX: Final = 200
"""In a smaller one a streak is not told from a star's own trail."""

MOST_STREAKS: Final = 12
LEAST_SHARE: Final = 0.06
"""Of the frame's width: a shorter streak is not told from a long trail or a gap in branches."""

THIN: Final = 5.0
"""A streak in one piece is at least so many times as long as wide."""

BROAD_PX: Final = 3.5
"""What is broader across, as a standard deviation, is a ray of aurora, cloud or a beam of light."""

STOUT: Final = 2.5
"""And a dash of one that is made of `FEWEST_DASHES` and more."""

FEWEST_DASHES: Final = 4
FEWEST_STARS: Final = 12

ONE_SIDED: Final = 0.6
"""Beside a streak the sky is as bright on one side as on the other, to this share: no ridge."""

LONGER: Final = 3.0
"""And so many times as long as the trails of the stars."""

WHOLE: Final = 0.8
"""Share of its length that is bright in a streak that is not in dashes."""

LEAST_FILLED: Final = 0.2
BESIDE_PX: Final = 16
ASIDE_PX: Final = 9.0
"""So far from a streak the sky beside it is looked at."""

_ON_LINE_PX: Final = 2.0
_TURNED_DEG: Final = 4.0


@dataclass(frozen=True, slots=True)
class Streak:
    """One straight streak.

    Attributes
    ----------
    from_x, from_y, to_x, to_y : float
        Its ends, fractions of the frame from the left and the bottom edge, from left to right.
    length_px : float
    angle_deg : float
        Anticlockwise from the right, 0 to below 180.
    broken : bool
        Whether it is in dashes, as an aeroplane's lights leave it; a satellite's is whole.
    """

    from_x: float
    from_y: float
    to_x: float
    to_y: float
    length_px: float
    angle_deg: float
    broken: bool


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Long thin detections, arrays (n,); rows count upwards."""

    x: Floats
    y: Floats
    length: Floats
    angle: Floats
    thin: Floats

    def only(self, which: Any) -> _Pieces:
        own = (self.x, self.y, self.length, self.angle, self.thin)
        return _Pieces(*(values[which] for values in own))


def find_streaks(picture: Picture, *, trail_px: float = 0.0) -> tuple[Streak, ...]:
    """Find straight streaks, the longest first.

    Parameters
    ----------
    picture : Picture
    trail_px : float
        Length of the stars' trails, so that they are not taken for streaks.

    Raises
    ------
    BackbearingError
        When the optional library sep is missing, or the picture is too busy.
    """
    step = max(1, math.ceil(picture.width_px / WIDEST_PX))
    if min(picture.width_px, picture.height_px) < LEAST_PICTURE_PX * step:
        return ()
    light = light_in_blocks(picture, step)
    spoiled = spoiled_in_blocks(picture, step, light.shape)
    found = find_sources(light, spoiled, rounding(picture, pixels=step**2))
    found = found[~_beside(spoiled, found["x"], found["y"])]
    pieces = _pieces(found, light.shape[0], max(trail_px / step, 0.0))
    streaks: list[Streak] = []
    while len(pieces.x) and len(streaks) < MOST_STREAKS:
        on = _on_line(pieces, int(pieces.length.argmax()))
        one = _streak(pieces.only(on), light, step)
        if one is not None:
            streaks.append(one)
        pieces = pieces.only(~on)
    return tuple(sorted(streaks, key=lambda streak: -streak.length_px))


def _beside(spoiled: NDArray[np.bool_], x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Whether places lie beside what was left out, where the background swings."""
    from scipy import ndimage

    near = ndimage.maximum_filter(spoiled, size=2 * BESIDE_PX + 1)
    rows = np.clip(np.rint(y), 0, spoiled.shape[0] - 1).astype(int)
    columns = np.clip(np.rint(x), 0, spoiled.shape[1] - 1).astype(int)
    return np.asarray(near[rows, columns])


def _pieces(found: Any, rows: int, trail_px: float) -> _Pieces:
    a, b = found["a"].astype(np.float64), found["b"].astype(np.float64)
    # An even spread over L has a variance of L^2 / 12.
    length = math.sqrt(12.0) * a
    # A few detections alone may all be of a streak.
    usual = float(np.median(length)) if len(length) >= FEWEST_STARS else 0.0
    thin = a / np.maximum(b, 0.5)
    kept = (thin > STOUT) & (b < BROAD_PX) & np.isfinite(length)
    kept &= length > LONGER * max(usual, trail_px, 3.0)
    return _Pieces(
        found["x"][kept].astype(np.float64),
        rows - 1 - found["y"][kept].astype(np.float64),
        length[kept],
        -found["theta"][kept].astype(np.float64),
        thin[kept],
    )


def _on_line(pieces: _Pieces, first: int) -> NDArray[np.bool_]:
    """Which pieces lie on the line of one and run its way."""
    turn = pieces.angle[first]
    c, s = math.cos(turn), math.sin(turn)
    right, up = pieces.x - pieces.x[first], pieces.y - pieces.y[first]
    aside = np.abs(c * up - s * right)
    # The direction of a short piece carries so far and no farther.
    room = _ON_LINE_PX + 0.02 * np.abs(c * right + s * up)
    off = np.abs(np.angle(np.exp(2j * (pieces.angle - turn)))) / 2.0
    on = (aside < room) & (off < math.radians(_TURNED_DEG))
    on[first] = True
    return np.asarray(on)


def _streak(own: _Pieces, light: NDArray[np.float32], step: int) -> Streak | None:
    """The streak that pieces on one line make, or None where they make none."""
    if len(own.x) < FEWEST_DASHES:
        own = own.only(own.thin > THIN)
    if len(own.x) == 0:
        return None
    x, y, turn = _line(own)
    c, s = math.cos(turn), math.sin(turn)
    along = c * (own.x - x) + s * (own.y - y)
    begin = float((along - own.length / 2.0).min())
    end = float((along + own.length / 2.0).max())
    filled = float(own.length.sum()) / (end - begin)
    rows, columns = light.shape
    if end - begin < LEAST_SHARE * columns or filled < LEAST_FILLED:
        return None
    if _is_edge(light, (x, y, c, s), along, float(own.length.max())):
        return None
    ends = [((x + c * t + 0.5) / columns, (y + s * t + 0.5) / rows) for t in (begin, end)]
    inside = [(min(max(u, 0.0), 1.0), min(max(v, 0.0), 1.0)) for u, v in ends]
    return Streak(
        *inside[0],
        *inside[1],
        length_px=(end - begin) * step,
        angle_deg=math.degrees(turn) % 180.0,
        broken=len(own.x) > 1 and filled < WHOLE,
    )


def _line(own: _Pieces) -> tuple[float, float, float]:
    """Middle of pieces on a line, and its angle from the right, within a quarter turn."""
    weight = own.length / own.length.sum()
    x, y = float(weight @ own.x), float(weight @ own.y)
    c, s = np.cos(own.angle), np.sin(own.angle)
    # Both ends of each piece: a long one tells more of the direction than its middle.
    right = np.concatenate([own.x - x + k * c * own.length for k in (-0.3, 0.3)])
    up = np.concatenate([own.y - y + k * s * own.length for k in (-0.3, 0.3)])
    double = np.sum(np.concatenate([weight, weight]) * (right + 1j * up) ** 2)
    return x, y, math.atan2(double.imag, double.real) / 2.0


def _is_edge(
    light: NDArray[np.float32], line: tuple[float, float, float, float], along: Floats, piece: float
) -> bool:
    """Whether one side of a line is darker than the other, as beside a ridge or a branch."""
    x, y, c, s = line
    steps = (along[:, None] + np.linspace(-0.4, 0.4, 9) * piece).ravel()
    sides = []
    for aside in (-ASIDE_PX, ASIDE_PX):
        column = np.rint(x + c * steps - s * aside).astype(int)
        row = np.rint(light.shape[0] - 1 - (y + s * steps + c * aside)).astype(int)
        inside = (column >= 0) & (column < light.shape[1]) & (row >= 0) & (row < light.shape[0])
        if not inside.any():
            return True
        sides.append(float(np.median(light[row[inside], column[inside]])))
    return min(sides) < ONE_SIDED * max(sides)
