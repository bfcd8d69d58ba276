"""Read the land's edge off a frame whose pointing the stars tell: dark land against the sky.

On each azimuth the light is followed from the land upwards. Where it rises once, sharply, from dark
land to the sky, the height half way between the two levels is the skyline's; anything else is left
open, with the reason: no clear edge (cloud, glare, branches), the subject, or a thing whose sides
are steeper than land's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.review.seen_subject import DARKER

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from backbearing.review.picture import Picture
    from backbearing.review.plate_solution import PlateSolution

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

BELOW_DEG: Final = 3.0
ABOVE_DEG: Final = 10.0
"""The skyline is looked for so far below and above the raster's: woods close by stand higher."""

LEAST_STEP_DEG: Final = 0.05
FINEST_DEG: Final = 0.015
"""Azimuths are no closer and altitudes no finer than this: a skyline mark needs no more."""

SIDE_BY_SIDE: Final = 4
"""Lines of light of which an azimuth takes the median, so that single stars fall out."""

SHARPEST_DEG: Final = 0.15
"""An edge softer than this, and than four pixels, is cloud or haze (tried on rendered frames)."""

SINGLE: Final = 0.97
"""Share of what lies above an edge that must be sky, and of what lies below that must be land."""

STEEPEST: Final = 1.7
"""Land seems no steeper than this, degrees for a degree (60 degrees, seen from the side); trunks,
walls and crowns do."""

WIDEST_THING_DEG: Final = 8.0
SUBJECT_MARGIN_DEG: Final = 0.4
_FEWEST_TOGETHER: Final = 4


class Around(NamedTuple):
    """Where the subject stands, degrees: its azimuth and half its width."""

    azimuth_deg: float
    half_deg: float


@dataclass(frozen=True, slots=True)
class FrameEdge:
    """The land's edge as one frame shows it.

    Attributes
    ----------
    azimuth_deg, altitude_deg, sigma_deg : ndarray, shape (n,)
        Where it is clear: true azimuths, apparent altitudes and one standard deviation of them
        by the picture and the stars.
    asked : int
        Azimuths looked at.
    unclear, at_subject, on_things : int
        How many were left open, and why.
    """

    azimuth_deg: Floats
    altitude_deg: Floats
    sigma_deg: Floats
    asked: int
    unclear: int
    at_subject: int
    on_things: int


class _Grid(NamedTuple):
    """Light over altitudes (k) and azimuths (m): ``light`` (k, m), NaN out of the picture."""

    azimuth_deg: Floats
    lowest_deg: Floats
    step_deg: float
    light: Floats


def read_edge(
    picture: Picture,
    solved: PlateSolution,
    *,
    expected_deg: Callable[[Floats], Floats],
    subject: Around | None = None,
) -> FrameEdge:
    """Read the skyline off a frame.

    Parameters
    ----------
    picture : Picture
    solved : PlateSolution
        Where it pointed.
    expected_deg : callable
        From true azimuths to the altitudes about which to look: the raster's skyline.
    subject : Around, optional
        What stands in front of it and is no skyline.
    """
    grid = _followed(picture, solved, expected_deg)
    altitude, width, clear = _edges(grid, solved)
    unclear = int((~clear).sum())
    aside = np.zeros(len(clear), dtype=bool)
    if subject is not None:
        off = np.abs(wrap_180_deg(grid.azimuth_deg - subject.azimuth_deg))
        aside = np.asarray(off < subject.half_deg + SUBJECT_MARGIN_DEG)
    step = float(np.diff(grid.azimuth_deg[:2])[0]) if len(clear) > 1 else LEAST_STEP_DEG
    things = _things(altitude, clear, step) & ~aside
    kept = _together(clear & ~aside & ~things)
    pixel = solved.optics.pixel_deg
    sigma = np.sqrt((0.3 * max(pixel, grid.step_deg)) ** 2 + (width / 4.0) ** 2
                    + solved.sigma_deg**2 + (0.5 * solved.misfit_px * pixel) ** 2)  # fmt: skip
    return FrameEdge(
        azimuth_deg=wrap_360_deg(grid.azimuth_deg[kept]),
        altitude_deg=altitude[kept],
        sigma_deg=sigma[kept],
        asked=len(clear),
        unclear=unclear,
        at_subject=int((aside & clear).sum()),
        on_things=int((things & clear).sum()),
    )


def _followed(
    picture: Picture, solved: PlateSolution, expected_deg: Callable[[Floats], Floats]
) -> _Grid:
    """Light along lines of one azimuth, about the altitudes expected."""
    optics = solved.optics
    pixel = optics.pixel_deg
    # The azimuths that the frame's edges look at on the horizon, the axis's between them.
    half = math.degrees(math.atan(optics.width_px * optics.pixel_mm / 2.0
                                  / optics.lens.focal_length_mm)) * 1.3 + 1.0  # fmt: skip
    step = max(4.0 * pixel, LEAST_STEP_DEG)
    count = int(min(half, 100.0) / step)
    azimuth = solved.azimuth_deg + step * np.arange(-count, count + 1, dtype=np.float64)
    about = np.nan_to_num(np.asarray(expected_deg(wrap_360_deg(azimuth)), dtype=np.float64))
    over = about + np.linspace(-BELOW_DEG, ABOVE_DEG, 14)[:, None]
    inside = _inside(solved, *solved.place(np.broadcast_to(azimuth, over.shape), over)).any(axis=0)
    azimuth, about = azimuth[inside], about[inside]
    fine = max(pixel, FINEST_DEG)
    up = np.arange(-BELOW_DEG, ABOVE_DEG, fine)
    light = np.full((len(up), len(azimuth)), np.nan)
    aside = step * (np.arange(SIDE_BY_SIDE) / SIDE_BY_SIDE - 0.375)
    for begin in range(0, len(azimuth), 64):
        part = slice(begin, begin + 64)
        wide = (azimuth[part, None] + aside).ravel()
        high = np.repeat(about[part], SIDE_BY_SIDE) + up[:, None]
        values = _light_at(picture, solved, np.broadcast_to(wide, high.shape), high)
        light[:, part] = np.median(values.reshape(len(up), -1, SIDE_BY_SIDE), axis=2)
    return _Grid(azimuth, about - BELOW_DEG, fine, light)


def _inside(solved: PlateSolution, column: Floats, row: Floats) -> Flags:
    wide, tall = solved.optics.width_px, solved.optics.height_px
    with np.errstate(invalid="ignore"):
        return np.asarray((column > 0.5) & (column < wide - 1.5) & (row > 0.5) & (row < tall - 1.5))


def _light_at(
    picture: Picture, solved: PlateSolution, azimuth_deg: Floats, altitude_deg: Floats
) -> Floats:
    """Light of the pixels nearest to directions; NaN out of the picture."""
    column, row = solved.place(azimuth_deg, altitude_deg)
    inside = _inside(solved, column, row)
    light = np.full(column.shape, np.nan)
    rows, columns = np.rint(row[inside]).astype(int), np.rint(column[inside]).astype(int)
    light[inside] = picture.light_at(rows, columns)
    return light


def _edges(grid: _Grid, solved: PlateSolution) -> tuple[Floats, Floats, Flags]:
    """Altitude of the sharpest rise on each azimuth, how wide it is, and whether it is one."""
    from scipy import ndimage

    light = ndimage.median_filter(grid.light, size=(3, 1), mode="nearest")
    count, many = light.shape
    nothing = np.full(many, np.nan)
    reach = max(4, round(0.25 / grid.step_deg))
    if count < 4 * reach or many == 0:
        return nothing, nothing, np.zeros(many, dtype=bool)
    total = np.nancumsum(np.vstack([np.zeros((1, many)), light]), axis=0)
    known = np.cumsum(np.vstack([np.zeros((1, many)), np.isfinite(light)]), axis=0)
    # Means of so many samples above and below each place between two.
    at = np.arange(reach, count - reach)
    above = (total[at + reach] - total[at]) / reach
    below = (total[at] - total[at - reach]) / reach
    whole = (known[at + reach] - known[at - reach]) == 2 * reach
    rise = np.where(whole, above - below, -np.inf)
    best = at[rise.argmax(axis=0)]
    has = np.isfinite(rise.max(axis=0))
    sky = _level(light, best, reach, upward=True)
    land = _level(light, best, reach, upward=False)
    half = 0.5 * (sky + land)
    place = _crossing(light, best, reach, half)
    width = grid.step_deg * _between(light, best, reach, land, sky)
    with np.errstate(invalid="ignore"):
        clear = has & np.isfinite(place) & (land < DARKER * sky)
        softest = max(SHARPEST_DEG, 4.0 * solved.optics.pixel_deg)
        clear &= (width < softest) & _once(light, place, half, grid.step_deg)
    return grid.lowest_deg + place * grid.step_deg, width, np.asarray(clear)


def _rows_about(light: Floats, place: ArrayLike, first: int, last: int) -> Floats:
    """Samples from ``first`` to ``last`` about a place of each azimuth; NaN beyond the ends."""
    rows = np.nan_to_num(np.asarray(place)).astype(int) + np.arange(first, last)[:, None]
    held = (rows >= 0) & (rows < light.shape[0])
    columns = np.broadcast_to(np.arange(light.shape[1]), rows.shape)
    return np.where(held, light[np.clip(rows, 0, light.shape[0] - 1), columns], np.nan)


def _level(light: Floats, best: NDArray[np.int64], reach: int, *, upward: bool) -> Floats:
    """Median light on one side of an edge, clear of the edge itself."""
    span = (2, 2 + 2 * reach) if upward else (-2 - 2 * reach, -2)
    part = _rows_about(light, best, *span)
    some = np.isfinite(part).any(axis=0)
    out = np.full(light.shape[1], np.nan)
    out[some] = np.nanmedian(part[:, some], axis=0)
    return out


def _crossing(light: Floats, best: NDArray[np.int64], reach: int, half: Floats) -> Floats:
    """Where the light passes half way, samples from the lowest, fractions by interpolation."""
    part = _rows_about(light, best, -reach, reach)
    with np.errstate(invalid="ignore"):
        passes = (part[:-1] < half) & (part[1:] >= half)
    # Of several the one nearest to the sharpest rise.
    far = np.abs(np.arange(len(passes)) - (reach - 1))[:, None]
    first = np.where(passes, far, 10 * reach).argmin(axis=0)
    across = np.arange(light.shape[1])
    lower, upper = part[first, across], part[first + 1, across]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (half - lower) / (upper - lower)
    return np.where(passes.any(axis=0), best - reach + first + share, np.nan)


def _between(
    light: Floats, best: NDArray[np.int64], reach: int, land: Floats, sky: Floats
) -> Floats:
    """How many samples lie between a fifth and four fifths of the way."""
    part = _rows_about(light, best, -reach, reach)
    low, high = land + 0.2 * (sky - land), land + 0.8 * (sky - land)
    with np.errstate(invalid="ignore"):
        return np.asarray(((part > low) & (part < high)).sum(axis=0), dtype=np.float64)


def _once(light: Floats, place: Floats, half: Floats, step_deg: float) -> Flags:
    """Whether all is land for a degree below an edge, and all sky for two above."""
    under = _rows_about(light, place, -round(1.0 / step_deg), -2)
    over = _rows_about(light, place, 4, round(2.0 / step_deg))
    with np.errstate(invalid="ignore"):
        land = (under < half).sum(axis=0) / np.maximum(np.isfinite(under).sum(axis=0), 1)
        sky = (over > half).sum(axis=0) / np.maximum(np.isfinite(over).sum(axis=0), 1)
    seen = np.isfinite(over).sum(axis=0) > 4
    return np.asarray((land >= SINGLE) & (sky >= SINGLE) & seen)


def _things(altitude: Floats, clear: Flags, step_deg: float) -> Flags:
    """What stands up with sides steeper than land's: its azimuths, and those at its sides."""
    out = np.zeros(len(clear), dtype=bool)
    known = np.flatnonzero(clear)
    if len(known) < 2:
        return out
    high, apart = altitude[known], np.diff(known) * step_deg
    jump = np.diff(high)
    steep = np.abs(jump) > STEEPEST * apart + 2.0 * FINEST_DEG
    ends = [0, *(np.flatnonzero(steep) + 1), len(known)]
    for begin, end in pairwise(ends):
        part = slice(begin, end)
        wide = (known[end - 1] - known[begin]) * step_deg
        over_left = begin == 0 or jump[begin - 1] > 0.0
        over_right = end == len(known) or jump[end - 1] < 0.0
        alone = begin > 0 or end < len(known)
        if alone and over_left and over_right and wide < WIDEST_THING_DEG:
            out[known[part]] = True
    # The foot of a thing is seldom as sharp as its sides.
    return out | (np.convolve(out, np.ones(3), "same") > 0.0)


def _together(kept: Flags) -> Flags:
    """Without azimuths that stand in runs of fewer than some, nor those beside a gap.

    Beside a gap some of an azimuth's lines may lie in it already.
    """
    from scipy import ndimage

    runs = ndimage.binary_opening(kept, structure=np.ones(_FEWEST_TOGETHER))
    return np.asarray(ndimage.binary_erosion(runs, structure=np.ones(3), border_value=1))
