"""Measure the stars' trails in a picture: length and angle by region, and how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.review.lens_shape import LensShape, lens_shape
from backbearing.review.region import RegionTrails, summarise
from backbearing.review.stars import (
    MOST_HALF_PX,
    TooBusyError,
    cut_stars,
    no_cuts,
    spoiled_blocks,
    windows,
)
from backbearing.review.streaks import Streak, find_streaks
from backbearing.review.sweep_fit import Sweeps, fit_sweeps

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.review.picture import Picture
    from backbearing.review.prediction import Pointing
    from backbearing.review.stars import Cuts

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LEAST_WIDTH_PX: Final = 0.45
"""A star is wider than this on any sensor; a hot pixel is not."""


@dataclass(frozen=True, slots=True)
class MeasuredTrails:
    """Trails of one picture.

    Attributes
    ----------
    whole : RegionTrails
    regions : tuple of RegionTrails
        Nine windows, row by row from the upper left.
    found : int
        Stars cut out, before those that fit badly were dropped.
    curve : str
        Tone curve undone before measuring.
    radial_px, radial_sigma_px : float
        How far the lens itself draws stars out at the corner, and its standard error: above
        zero away from the middle, below zero around it; 0 where none shows, NaN without a
        prediction or with too few stars outside. It is taken off all lengths above.
    streaks : tuple of Streak
        Straight streaks of aeroplanes and satellites, the longest first.

    Examples
    --------
    Of an invented picture with level trails of six pixels:

    >>> import numpy as np
    >>> from backbearing.review import Picture, measure_trails
    >>> rng = np.random.default_rng(1)
    >>> rows, columns = np.mgrid[-7:8, -12:13]
    >>> steps = np.linspace(-3.0, 3.0, 25)
    >>> trail = sum(np.exp(-((columns - step) ** 2 + rows**2) / 2.9) for step in steps)
    >>> light = 0.02 + rng.normal(0.0, 0.003, (600, 900))
    >>> for x, y in zip(rng.integers(0, 875, 150), rng.integers(0, 585, 150)):
    ...     light[y : y + 15, x : x + 25] += 0.02 * trail
    >>> picture = Picture.of_array(np.float32(light.clip(0.0, 1.0)))
    >>> found = measure_trails(picture)
    >>> found.curve, [region.where for region in found.regions][:3]
    ('linear', ['upper left', 'upper middle', 'upper right'])
    """

    whole: RegionTrails
    regions: tuple[RegionTrails, ...]
    found: int
    curve: str
    radial_px: float = math.nan
    radial_sigma_px: float = math.nan
    streaks: tuple[Streak, ...] = ()

    def region(self, where: str) -> RegionTrails:
        """Return one region by its name."""
        return next(region for region in self.regions if region.where == where)


@dataclass(frozen=True, slots=True)
class _Stars:
    """Stars that fitted, arrays (n,)."""

    x: Floats
    y: Floats
    q: NDArray[np.complex128]
    sigma: Floats

    def kept(self, which: Flags) -> _Stars:
        return _Stars(self.x[which], self.y[which], self.q[which], self.sigma[which])

    def less(self, q: NDArray[np.complex128]) -> _Stars:
        return _Stars(self.x, self.y, self.q - q, self.sigma)


def measure_trails(
    picture: Picture,
    pointing: Pointing | None = None,
    *,
    sky: Callable[[Floats, Floats], Flags] | None = None,
) -> MeasuredTrails:
    """Measure star trails over a picture.

    Each star is fitted by a Gaussian drawn out along a line; the medians are taken of
    ``L^2 (cos 2a, sin 2a)``, turned against the prediction where there is one, so that
    noise does not lengthen short trails and angles that change over the frame do not
    cancel.

    Parameters
    ----------
    picture : Picture
    pointing : Pointing, optional
        For the prediction beside it.
    sky : callable, optional
        Tells which places (fractions of the frame) are open sky.

    Returns
    -------
    MeasuredTrails

    Raises
    ------
    BackbearingError
        When the optional library sep is missing, or the picture is too busy.

    Examples
    --------
    Of an invented picture with level trails of six pixels:

    >>> import numpy as np
    >>> from backbearing.review import Picture, measure_trails
    >>> rng = np.random.default_rng(1)
    >>> rows, columns = np.mgrid[-7:8, -12:13]
    >>> steps = np.linspace(-3.0, 3.0, 25)
    >>> trail = sum(np.exp(-((columns - step) ** 2 + rows**2) / 2.9) for step in steps)
    >>> light = 0.02 + rng.normal(0.0, 0.003, (600, 900))
    >>> for x, y in zip(rng.integers(0, 875, 150), rng.integers(0, 585, 150)):
    ...     light[y : y + 15, x : x + 25] += 0.02 * trail
    >>> picture = Picture.of_array(np.float32(light.clip(0.0, 1.0)))
    >>> whole = measure_trails(picture).whole
    >>> f"{whole.length_px:.0f} pixels long"
    '6 pixels long'
    """
    parts, found = _all_stars(picture, pointing, sky)
    joined = _joined([stars for _, stars in parts])
    shape = _lens_shape(joined, pointing, picture)
    begin, regions = 0, []
    for where, stars in parts:
        end = begin + len(stars.x)
        own = stars.less(shape.along_px2[begin:end])
        regions.append(summarise(where, *_parts(own), pointing))
        begin = end
    whole = summarise("whole frame", *_parts(joined.less(shape.along_px2)), pointing)
    return MeasuredTrails(
        whole=whole,
        regions=tuple(regions),
        found=found,
        curve=picture.curve,
        radial_px=shape.radial_px,
        radial_sigma_px=shape.sigma_px,
        streaks=_streaks(picture, whole),
    )


def _all_stars(
    picture: Picture, pointing: Pointing | None, sky: Callable[[Floats, Floats], Flags] | None
) -> tuple[list[tuple[str, _Stars]], int]:
    """The stars of each window that fitted, and how many were cut out."""
    spoiled = spoiled_blocks(picture)
    parts: list[tuple[str, _Stars]] = []
    busy: list[TooBusyError] = []
    found = 0
    for window in windows(picture.width_px, picture.height_px):
        expected = math.nan
        if pointing is not None:
            expected = _expected(pointing, picture, window.rows, window.columns)
        try:
            cuts = cut_stars(picture, window, spoiled, expected_px=expected, sky=sky)
        except TooBusyError as problem:
            # A lit wall or foam in one part spoils no other.
            busy.append(problem)
            cuts = no_cuts(window)
        found += len(cuts.x)
        parts.append((window.where, _fitted(cuts)))
    if busy and found == 0:
        raise busy[0]
    return parts, found


def _lens_shape(stars: _Stars, pointing: Pointing | None, picture: Picture) -> LensShape:
    none = np.zeros(len(stars.x), dtype=np.complex128)
    if pointing is None or len(stars.x) == 0:
        return LensShape(math.nan, math.nan, none)
    length, angle = pointing.trails(stars.x, stars.y)
    predicted = np.asarray(length**2 * np.exp(2j * np.radians(angle)), dtype=np.complex128)
    known = np.isfinite(predicted) & np.isfinite(stars.q)
    shape = lens_shape(
        stars.x[known],
        stars.y[known],
        stars.q[known] - predicted[known],
        predicted[known],
        width_px=picture.width_px,
        height_px=picture.height_px,
    )
    none[known] = shape.along_px2
    return shape._replace(along_px2=none)


def _streaks(picture: Picture, whole: RegionTrails) -> tuple[Streak, ...]:
    lengths = (whole.length_px, whole.predicted_length_px)
    try:
        return find_streaks(picture, trail_px=max((v for v in lengths if v > 0.0), default=0.0))
    except TooBusyError:
        return ()


def _parts(stars: _Stars) -> tuple[Floats, Floats, NDArray[np.complex128], Floats]:
    return stars.x, stars.y, stars.q, stars.sigma


def _expected(pointing: Pointing, picture: Picture, rows: slice, columns: slice) -> float:
    """Longest predicted trail at a window's corners; NaN when none is known."""
    x = np.array([columns.start, columns.stop, columns.start, columns.stop]) / picture.width_px
    y = 1.0 - np.array([rows.start, rows.start, rows.stop, rows.stop]) / picture.height_px
    length, _ = pointing.trails(x, y)
    known = length[np.isfinite(length)]
    # A cut-out for a trail twice as long as can be measured would be of no use.
    return min(float(known.max()), 2.0 * (MOST_HALF_PX - 12.0)) if known.size else math.nan


def _fitted(cuts: Cuts) -> _Stars:
    """Fit a window's stars and keep those that are like a swept star."""
    if len(cuts.x) == 0:
        empty = np.zeros(0)
        return _Stars(empty, empty, np.zeros(0, dtype=np.complex128), empty)
    fit = fit_sweeps(cuts.light, start=cuts.start)
    stars = _Stars(cuts.x, cuts.y, fit.along_px2 + 1j * fit.aslant_px2, fit.sigma_px)
    return stars.kept(_good(fit, cuts))


def _good(fit: Sweeps, cuts: Cuts) -> Flags:
    half = cuts.light.shape[1] // 2
    length = np.sqrt(np.hypot(fit.along_px2, fit.aslant_px2))
    limit = np.hypot(1.5 * cuts.noise, 0.08 * fit.peak)
    with np.errstate(invalid="ignore"):
        return np.asarray(
            (np.hypot(fit.x_px, fit.y_px) < 3.0 + 0.1 * length)
            & (fit.sigma_px > LEAST_WIDTH_PX)
            & (fit.sigma_px < half / 2.5)
            & (length < 1.8 * half)
            & (fit.peak > 4.0 * cuts.noise)
            & (fit.misfit < limit)
        )


def _joined(parts: Sequence[_Stars]) -> _Stars:
    return _Stars(
        *(np.concatenate([getattr(p, name) for p in parts]) for name in ("x", "y", "q", "sigma"))
    )
