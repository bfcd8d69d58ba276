"""Find the subject in a frame: what stands up out of the land, dark or lit, against the sky."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.review.picture import Picture

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

WORK_PX: Final = 500
"""Rows to which the search window is reduced; edges stay good to half a reduced pixel."""

DARKER: Final = 0.6
"""A silhouette is darker than this share of the sky beside it (tried on rendered frames)."""

BRIGHTER: Final = 1.7
"""A lit subject is brighter than so many times the sky beside it (tried on rendered frames)."""

DARK_PART: Final = 20.0
"""Percentile of a row's sky that a silhouette is held against: the sky beside the Milky Way."""

SHARP_PX: Final = 0.4
"""How well a side is read in the picture's own pixels (tried on rendered frames)."""

LEAST_SHARE: Final = 0.4
MOST_SHARE: Final = 2.2
"""What is so much smaller or larger than planned is not taken for the subject."""


class Box(NamedTuple):
    """Where the subject should stand, pixels: its middle, top and base, and its width."""

    column: float
    top_row: float
    base_row: float
    width: float


class SeenSubject(NamedTuple):
    """Where it stands, pixels: its top, its outermost points to each side, and the doubt of each.

    Upright edges lean in a tilted frame: a side is a point, with a row of its own.
    """

    top_column: float
    top_row: float
    left: float
    left_row: float
    right: float
    right_row: float
    sigma_px: float
    side_sigma_px: float


def find_subject(picture: Picture, planned: Box) -> SeenSubject | None:
    """Find the thing nearest in place and size to the planned one.

    Parameters
    ----------
    picture : Picture
    planned : Box

    Returns
    -------
    SeenSubject or None
        None where nothing like it stands up out of the land.
    """
    tall = planned.base_row - planned.top_row
    if not (math.isfinite(tall) and tall > 8.0):
        return None
    reach = max(3.0 * planned.width, 1.5 * tall)
    top = max(0, int(planned.top_row - 1.5 * tall))
    bottom = min(picture.height_px, int(planned.base_row + 0.5 * tall))
    left = max(0, int(planned.column - reach))
    right = min(picture.width_px, int(planned.column + reach))
    if bottom - top < 16 or right - left < 16:
        return None
    step = max(1, (bottom - top) // WORK_PX)
    light = _reduced(picture, slice(top, bottom), slice(left, right), step)
    for lit in (False, True):
        # A silhouette first: a bright Milky Way stands out of the sky as well as a lit wall does.
        runs = _standing(_stands_out(light, lit=lit))
        found = _nearest(runs, planned, top=top, left=left, step=step)
        if found is not None:
            return _sharpened(picture, found, step)
    return None


def _reduced(picture: Picture, rows: slice, columns: slice, step: int) -> Floats:
    """Means of the window's light over blocks, strip by strip: a window can be a whole frame."""
    down, across = ((part.stop - part.start) // step for part in (rows, columns))
    wide = slice(columns.start, columns.start + across * step)
    light = np.empty((down, across))
    strip = max(1, 256 // step)
    for top in range(0, down, strip):
        bottom = min(down, top + strip)
        part, _ = picture.window(slice(rows.start + top * step, rows.start + bottom * step), wide)
        light[top:bottom] = part.reshape(bottom - top, step, across, step).mean(axis=(1, 3))
    return light


def _stands_out(light: Floats, *, lit: bool) -> Flags:
    """Pixels much darker than the sky, or brighter too; stars and grain taken off."""
    from scipy import ndimage

    size = max(3, round(light.shape[0] / 100.0) | 1)
    smooth = ndimage.median_filter(light, size=size, mode="nearest")
    # The sky's level changes with height over the horizon, slowly.
    sky = _sky_level(smooth, share=50.0 if lit else DARK_PART)
    out = smooth < DARKER * sky
    if lit:
        out |= smooth > BRIGHTER * sky
    return np.asarray(ndimage.binary_opening(out, structure=np.ones((3, 3)), border_value=0))


def _sky_level(smooth: Floats, *, share: float) -> Floats:
    """The sky's light: in each row a percentile of what is like the rows above it."""
    level = np.empty(smooth.shape[0])
    known = float(np.percentile(smooth[: max(3, smooth.shape[0] // 20)], share))
    for row, values in enumerate(smooth):
        like = values[(values > DARKER * known) & (values < BRIGHTER * known)]
        if like.size > values.size // 8:
            known = 0.8 * known + 0.2 * float(np.percentile(like, share))
        level[row] = known
    return np.repeat(level[:, None], smooth.shape[1], axis=1)


class _Run(NamedTuple):
    first: int
    last: int
    top: int
    top_column: float
    left_row: int
    right_row: int
    tall: int


def _standing(out: Flags) -> list[_Run]:
    """Runs of columns in which something reaches above the land on both sides."""
    from scipy import ndimage

    rows = out.shape[0]
    # The topmost pixel of each column, whatever sky lies under a crown.
    joined = _joined_to_land(out)
    tops = np.where(joined.any(axis=0), joined.argmax(axis=0), rows)
    wide = max(9, (out.shape[1] * 3 // 5) | 1)
    land = ndimage.percentile_filter(tops, 80, size=wide, mode="nearest")
    least = max(4, rows // 25)
    above = land - tops >= least
    labels, count = ndimage.label(above)
    runs = []
    for columns in ndimage.find_objects(labels)[:count]:
        first, last = _sides(tops, columns[0].start, columns[0].stop, least)
        top = int(tops[first:last].min())
        highest = first + float(np.flatnonzero(tops[first:last] == top).mean())
        tall = int(np.median(land[first:last])) - top
        runs.append(_Run(first, last, top, highest, int(tops[first]), int(tops[last - 1]), tall))
    return runs


def _sides(tops: NDArray[np.int64], first: int, last: int, least: int) -> tuple[int, int]:
    """A run's columns above the land as it goes on from one side of it to the other."""
    near = max(6, (last - first) // 4)
    left, right = tops[max(0, first - near) : first], tops[last : last + near]
    if len(left) < 3 or len(right) < 3:
        return first, last
    ends = [first - 1 - len(left) / 2.0, last + len(right) / 2.0]
    land = np.interp(np.arange(first, last), ends, [np.median(left), np.median(right)])
    over = np.flatnonzero(land - tops[first:last] >= least)
    return (first + int(over[0]), first + int(over[-1]) + 1) if len(over) else (first, last)


def _joined_to_land(out: Flags) -> Flags:
    """Without what floats in the sky: clouds, streaks, a bird."""
    from scipy import ndimage

    labels, _ = ndimage.label(out, structure=np.ones((3, 3)))
    grounded = np.unique(labels[-1])
    grounded = grounded[grounded > 0]
    return np.asarray(np.isin(labels, grounded))


def _nearest(
    runs: list[_Run], planned: Box, *, top: int, left: int, step: int
) -> SeenSubject | None:
    """The run that is most like the planned one in place and size."""
    tall = planned.base_row - planned.top_row
    best, found = math.inf, None
    for run in runs:
        width = (run.last - run.first) * step
        size = max(width / planned.width, planned.width / width)
        if not LEAST_SHARE <= run.tall * step / tall <= MOST_SHARE or size > 1.0 / LEAST_SHARE:
            continue
        middle = left + (run.first + run.last) / 2.0 * step - 0.5
        off = abs(middle - planned.column) / tall + abs(math.log(size))
        if off < best:
            sigma = 0.5 + 0.5 * step
            best = off
            found = SeenSubject(
                top_column=left + (run.top_column + 0.5) * step - 0.5,
                top_row=top + run.top * step - 0.5,
                left=left + run.first * step - 0.5,
                left_row=top + (run.left_row + 0.5) * step - 0.5,
                right=left + run.last * step - 0.5,
                right_row=top + (run.right_row + 0.5) * step - 0.5,
                sigma_px=sigma,
                side_sigma_px=sigma,
            )
    return found


def _sharpened(picture: Picture, found: SeenSubject, step: int) -> SeenSubject:
    """Read both sides again in the picture's own pixels; as found where one is not clear."""
    left = _side(picture, found.left, found.left_row, step, inward=1)
    right = _side(picture, found.right, found.right_row, step, inward=-1)
    if not (math.isfinite(left) and math.isfinite(right)):
        return found
    down = 1.5 * step
    return found._replace(
        left=left, left_row=found.left_row + down, right=right, right_row=found.right_row + down,
        side_sigma_px=SHARP_PX + 0.1 * step,
    )  # fmt: skip


def _side(picture: Picture, column: float, row: float, step: int, *, inward: int) -> float:
    """Where the light passes half way from the sky to the subject; NaN where it does not."""
    reach = 4 * step + 4
    first, last = round(column) - reach, round(column) + reach + 1
    top, bottom = round(row), round(row) + 3 * step + 1
    if first < 0 or last > picture.width_px or top < 0 or bottom > picture.height_px:
        return math.nan
    light, _ = picture.window(slice(top, bottom), slice(first, last))
    profile = np.median(light, axis=0).astype(np.float64)[::inward]
    third = len(profile) // 3
    sky, thing = float(np.median(profile[:third])), float(np.median(profile[-third:]))
    if not (thing < DARKER * sky or thing > BRIGHTER * sky):
        return math.nan
    share = (profile - sky) / (thing - sky)
    passes = np.flatnonzero((share[:-1] < 0.5) & (share[1:] >= 0.5))
    if len(passes) == 0:
        return math.nan
    at = int(passes[np.abs(passes + 0.5 - reach).argmin()])
    place = at + float((0.5 - share[at]) / (share[at + 1] - share[at]))
    return first + place if inward > 0 else last - 1 - place
