"""Find single stars fit to be measured in a picture, and cut them out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.review.picture import srgb_to_light

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from backbearing.review.picture import Picture

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

MOST_STARS: Final = 40
"""Stars measured in each window, the brightest that are not clipped."""

WINDOW_PX: Final = 1600
"""Largest side of a window: corners stay corners, and memory stays small."""

BLOCK_PX: Final = 16
DETECT_SIGMA: Final = 6.0
MOST_HALF_PX: Final = 60
"""Half the side of the largest cut-out; longer trails are not measured."""

LEAST_NOISE_SHARE: Final = 0.5
"""Of a window's largest noise: what any of its pixels is taken to have (tried on rendered land)."""

WHERE: Final = (
    ("upper left", "upper middle", "upper right"),
    ("middle left", "centre", "middle right"),
    ("lower left", "lower middle", "lower right"),
)


class TooBusyError(BackbearingError):
    """A part of a picture with more bright detail than stars can be told from."""


@dataclass(frozen=True, slots=True)
class Window:
    """One of the nine windows of a picture."""

    where: str
    rows: slice
    columns: slice


@dataclass(frozen=True, slots=True)
class Cuts:
    """Stars cut out of one window.

    Attributes
    ----------
    where : str
    light : ndarray, shape (n, side, side)
    x, y : ndarray, shape (n,)
        Fractions of the frame from its left and bottom edge, of the cut-out's middle.
    start : ndarray, shape (n, 3)
        First guess for `fit_sweeps`.
    noise : ndarray, shape (n,)
        Of one pixel, one standard deviation.
    """

    where: str
    light: Floats
    x: Floats
    y: Floats
    start: Floats
    noise: Floats


def windows(width_px: int, height_px: int) -> Iterator[Window]:
    """Split a picture into three by three windows, large ones cut to `WINDOW_PX`."""
    downs, acrosses = _thirds(height_px), _thirds(width_px)
    for i, rows in enumerate(downs):
        for j, columns in enumerate(acrosses):
            yield Window(WHERE[i][j], rows, columns)


def _thirds(length_px: int) -> tuple[slice, slice, slice]:
    third = length_px // 3
    side = min(third, WINDOW_PX)
    middle = (length_px - side) // 2
    return slice(0, side), slice(middle, middle + side), slice(length_px - side, length_px)


def spoiled_blocks(picture: Picture) -> Flags:
    """Blocks of `BLOCK_PX` on the edge of something dark or bright against the sky.

    A silhouette's edge, a lit wall or the Moon changes within a block or two by more than
    the sky does; the limits (a quarter of the level, 6 of 255) are this package's own,
    tried on rendered frames.
    """
    from scipy import ndimage

    # A median over blocks takes single stars out of their means.
    level = ndimage.median_filter(picture.blocks(BLOCK_PX), size=3, mode="nearest")
    high = ndimage.maximum_filter(level, size=3, mode="nearest")
    low = ndimage.minimum_filter(level, size=3, mode="nearest")
    edge = (high - low) > np.maximum(6.0 / 255.0, 0.25 * high)
    return np.asarray(ndimage.binary_dilation(edge, iterations=1))


def cut_stars(
    picture: Picture,
    window: Window,
    spoiled: Flags,
    *,
    expected_px: float = math.nan,
    sky: Callable[[Floats, Floats], Flags] | None = None,
) -> Cuts:
    """Find stars in a window and cut out those that stand alone.

    Background and detection are those of the library sep [Barbary2016]_.

    Parameters
    ----------
    picture : Picture
    window : Window
    spoiled : ndarray
        From `spoiled_blocks`.
    expected_px : float
        Trail to expect, so that cut-outs are wide enough; NaN takes what is detected.
    sky : callable, optional
        Tells which places (fractions) are open sky by the plan.

    Raises
    ------
    BackbearingError
        When the optional library is missing, or the window is too busy.
    """
    light, clipped = picture.window(window.rows, window.columns)
    if min(light.shape) < 3 * BLOCK_PX:
        return no_cuts(window)
    mask = _pixels(spoiled, window, light.shape) | ~np.isfinite(light)
    if mask.mean() > 0.98:
        return no_cuts(window)
    over, noise, found = _detect(light, mask, rounding(picture))
    if len(found) == 0:
        return no_cuts(window)
    length, angle, sigma = _shapes(found)
    half = _half_side(expected_px, length, sigma)
    if half > MOST_HALF_PX:
        return no_cuts(window)
    x = (found["x"] + window.columns.start + 0.5) / picture.width_px
    y = 1.0 - (found["y"] + window.rows.start + 0.5) / picture.height_px
    good = _alone(found, half) & _inside(found, half, light.shape)
    if sky is not None:
        good &= sky(x, y)
    chosen = []
    for i in np.flatnonzero(good)[np.argsort(-found["flux"][good])]:
        row, column = round(found["y"][i]), round(found["x"][i])
        box = np.s_[row - half : row + half + 1, column - half : column + half + 1]
        if clipped[box].any() or mask[box].any():
            continue
        chosen.append((i, box))
        if len(chosen) == MOST_STARS:
            break
    if not chosen:
        return no_cuts(window)
    index = np.array([i for i, _ in chosen])
    q = length[index] ** 2
    return Cuts(
        where=window.where,
        light=np.array([over[box] for _, box in chosen], dtype=np.float64),
        x=x[index],
        y=y[index],
        start=np.stack(
            [q * np.cos(2 * angle[index]), q * np.sin(2 * angle[index]), sigma[index]], axis=1
        ),
        noise=np.array([float(noise[box].mean()) for _, box in chosen]),
    )


class Rounding(NamedTuple):
    """What storing rounds off: one standard deviation at levels of light, both shape (n,)."""

    light: Floats
    sigma: Floats


def rounding(picture: Picture, *, pixels: int = 1) -> Rounding:
    """How far stored values can be told apart, of one pixel or of a mean of some.

    Rounding to steps adds their 12th part's root [JCGM100]_ 4.3.7; land that is crushed to one
    dark value shows no noise of its own.
    """
    if picture.stored.dtype != np.uint8:
        return Rounding(np.zeros(1), np.full(1, 1e-7))
    light = np.asarray(srgb_to_light(np.arange(256) / 255.0), dtype=np.float64)
    return Rounding(light, np.gradient(light) / math.sqrt(12.0 * pixels))


def find_sources(light: NDArray[np.float32], mask: Flags, floor: Rounding) -> Any:
    """What stands out of a picture's sky, as sep lists it.

    Raises
    ------
    BackbearingError
        When the optional library is missing, or the picture is too busy.
    """
    return _detect(light, mask, floor)[2]


def _detect(light: NDArray[np.float32], mask: Flags, floor: Rounding) -> tuple[Any, Any, Any]:
    """Background taken off, noise of each pixel, and sep's list of what stands out."""
    sep = _sep()
    background = sep.Background(light, mask=mask, bw=64, bh=64, fw=3, fh=3)
    # At the edge of black land the background's spline swings below all that is there, and the
    # land's own noise is little: stars stand in the sky, whose noise is more.
    darkest = float(np.percentile(light[::4, ::4], 1.0))
    level = np.maximum(background.back(), darkest)
    over, noise = light - level, background.rms()
    least = np.interp(level, floor.light, floor.sigma).astype(np.float32)
    most = float(np.percentile(noise[::4, ::4], 90.0))
    noise = np.maximum(noise, np.maximum(least, most * LEAST_NOISE_SHARE))
    # More than an eighth of a window's pixels standing out is no sky of stars.
    sep.set_extract_pixstack(max(10_000, light.size // 8))
    try:
        found = sep.extract(
            over, DETECT_SIGMA, err=noise, mask=mask, minarea=5, deblend_cont=1.0, clean=False
        )
    except Exception as problem:  # sep raises a bare Exception when its lists are full
        raise TooBusyError(
            "The frame has more bright detail than stars can be told from",
            hint="name a frame of the night sky that is not overexposed",
        ) from problem
    return over, noise, found


def check_library() -> None:
    """Refuse early when the library that finds the stars is missing.

    Raises
    ------
    BackbearingError
        With how to install it.
    """
    _sep()


def _sep() -> Any:
    try:
        import sep
    except ImportError:
        raise BackbearingError(
            "Measuring trails needs the library sep",
            hint=(
                'install it with pip install "backbearing[review]", or read the EXIF alone '
                "with --exif-only"
            ),
        ) from None
    return sep


def _shapes(found: Any) -> tuple[Floats, Floats, Floats]:
    """First guess of length, angle (upwards, radians) and width from second moments."""
    a, b = found["a"].astype(np.float64), found["b"].astype(np.float64)
    sigma = np.clip(b, 0.6, 6.0)
    length = np.sqrt(np.maximum(12.0 * (a**2 - b**2), 0.25))
    return length, -found["theta"].astype(np.float64), sigma


def _half_side(expected_px: float, length: Floats, sigma: Floats) -> int:
    """Half the side of a cut-out that holds the trail and a margin of sky."""
    seen = float(np.median(length))
    trail = max(seen, expected_px) if math.isfinite(expected_px) else seen
    return math.ceil(trail / 2.0 + 4.0 * float(np.median(sigma)) + 2.0)


def _alone(found: Any, half: int) -> Flags:
    """Whether no other detection lies within a cut-out's reach."""
    from scipy.spatial import cKDTree

    places = np.stack([found["x"], found["y"]], axis=1)
    if len(places) < 2:
        return np.ones(len(places), dtype=bool)
    nearest, _ = cKDTree(places).query(places, k=2)
    return np.asarray(nearest[:, 1] > half)


def _inside(found: Any, half: int, shape: tuple[int, ...]) -> Flags:
    x, y = found["x"], found["y"]
    return np.asarray(
        (x > half + 1) & (y > half + 1) & (x < shape[1] - half - 2) & (y < shape[0] - half - 2)
    )


def _pixels(blocks: Flags, window: Window, shape: tuple[int, ...]) -> Flags:
    """Blocks laid out over a window's pixels; what lies beyond the last block is kept."""
    rows = np.minimum((np.arange(shape[0]) + window.rows.start) // BLOCK_PX, len(blocks) - 1)
    columns = (np.arange(shape[1]) + window.columns.start) // BLOCK_PX
    columns = np.minimum(columns, blocks.shape[1] - 1)
    return np.asarray(blocks[np.ix_(rows, columns)])


def no_cuts(window: Window) -> Cuts:
    """No star in a window."""
    empty = np.zeros(0)
    return Cuts(window.where, np.zeros((0, 1, 1)), empty, empty, np.zeros((0, 3)), empty)
