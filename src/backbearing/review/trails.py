"""Measure the stars' trails in a picture: length and angle by region, and how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.review.region import RegionTrails, summarise
from backbearing.review.stars import MOST_HALF_PX, cut_stars, no_cuts, spoiled_blocks, windows
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
    spoiled = spoiled_blocks(picture)
    regions, all_stars, found = [], [], 0
    too_busy: BackbearingError | None = None
    for window in windows(picture.width_px, picture.height_px):
        expected = math.nan
        if pointing is not None:
            expected = _expected(pointing, picture, window.rows, window.columns)
        try:
            cuts = cut_stars(picture, window, spoiled, expected_px=expected, sky=sky)
        except BackbearingError as problem:
            too_busy, cuts = problem, no_cuts(window)
        found += len(cuts.x)
        stars = _fitted(cuts)
        all_stars.append(stars)
        regions.append(summarise(window.where, *_parts(stars), pointing))
    if too_busy is not None and found == 0:
        raise too_busy
    whole = _joined(all_stars)
    return MeasuredTrails(
        whole=summarise("whole frame", *_parts(whole), pointing),
        regions=tuple(regions),
        found=found,
        curve=picture.curve,
    )


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
