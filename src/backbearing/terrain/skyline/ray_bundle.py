"""Rays from many eyes at once, and the compiled look along them, on more than one core."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.terrain.skyline.chords import STRAY, Chords

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunk
    from backbearing.terrain.skyline.rays import Rays
    from backbearing.terrain.skyline.sightings import Sightings

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


LEAST_CURVE: Final = 1e-12
"""Bend below which a sight line counts as straight, half the second derivative, per metre."""

MOST_THREADS: Final = 8

WORTH_A_THREAD: Final = 600
"""Rays (some 2 ms of work) that repay the starting of a thread."""


@dataclass(frozen=True)
class Bundle:
    """Rays that need not share an eye; arrays of shape (n,) but for the lines.

    Attributes
    ----------
    rows, cols : ndarray, shape (n, degree + 1)
        Coefficients of ``(s / reach) ** k`` for row and column, centre-based.
    reaches_m : ndarray
        Distance over which each line's polynomials hold.
    starts_m, ends_m : ndarray
        Between which distances the ground counts.
    eyes_m : ndarray
        Heights of the eyes above sea level.
    drop_per_m2 : float
        ``(1 - k) / 2R``.
    cell_m : float
        The larger of the steps from row to row and from column to column.
    """

    rows: Floats
    cols: Floats
    reaches_m: Floats
    starts_m: Floats
    ends_m: Floats
    eyes_m: Floats
    drop_per_m2: float
    cell_m: float

    @classmethod
    def from_one_eye(
        cls, rays: Rays, *, start_m: float, ends_m: Floats, eye_m: float, drop: float, cell_m: float
    ) -> Bundle:
        """Bundle rays that share their eye and their beginning."""
        n = len(rays.rows)
        reaches, starts, eyes = (np.full(n, v) for v in (rays.reach_m, start_m, eye_m))
        return cls(rays.rows, rays.cols, reaches, starts, ends_m, eyes, drop, cell_m)

    def cells_crossed(self) -> float:
        """Estimate how many cells all rays cross together."""
        per_ray = np.abs(self.rows[:, 1]) + np.abs(self.cols[:, 1])
        return float(per_ray @ (self.ends_m / self.reaches_m))

    def chords(self, which: Ints) -> Chords:
        """Cut some of the rays into chords that stray from them by at most `STRAY` of the distance.

        5 mm for each kilometre from the eye moves an altitude over a slope of 45 degrees by
        0.0003 degree. A chord strays equally to both sides: by ``c L^2 / 8`` for a length L
        of a ray that bends by ``c s^2``. Steps are even in the root of the distance. The
        first one begins on the ray itself: beside a near eye a millimetre is an angle.
        """
        rows, cols, reach = self.rows[which], self.cols[which], self.reaches_m[which]
        start = self.starts_m[which]
        end = np.maximum(self.ends_m[which], start)
        orders = np.arange(rows.shape[1])
        weights = orders * (orders - 1) / 2.0
        bend = np.hypot(np.abs(rows) @ weights, np.abs(cols) @ weights)
        curve = np.maximum(bend * self.cell_m / reach**2, LEAST_CURVE)
        root, last = np.sqrt(start), np.sqrt(end)
        count = ((last - root) / np.sqrt(2.0 * STRAY / curve)).astype(np.int64) + 1
        number = np.arange(count.max(initial=1) + 1)
        s = (root[:, None] + number * ((last - root) / count)[:, None]) ** 2
        s = np.where(number >= count[:, None], end[:, None], s)
        s[:, 0] = start
        ends = (*_balanced(rows, reach, s), *_balanced(cols, reach, s))
        return Chords(s, *ends)


def _balanced(lines: Floats, reach: Floats, s: Floats) -> tuple[Floats, Floats]:
    """Rows (or columns) at both ends of chords, moved by half of their rise."""

    def at(s: Floats) -> Floats:
        t, out = s / reach[:, None], np.zeros_like(s)
        for k in range(lines.shape[1] - 1, -1, -1):
            out = out * t + lines[:, k, None]
        return out

    path, middle = at(s), at((s[:, :-1] + s[:, 1:]) / 2.0)
    near, far = path[:, :-1], path[:, 1:]
    shift = (middle - (near + far) / 2.0) / 2.0
    begin = near + shift
    begin[:, :1] = near[:, :1]
    return begin, far + shift


def march_compiled(chunk: Chunk, bundle: Bundle, which: Ints, seen: Sightings) -> None:
    """Do what :func:`backbearing.terrain.skyline.march.march` does, compiled.

    A ray's answer depends on nothing but the ray and the raster.
    """
    from backbearing.terrain.skyline._march_kernels import march_rays

    fine, coarse = chunk.blocks
    highest, has_void = chunk.highest_m, chunk.has_void

    def look(part: Ints) -> None:
        march_rays(
            chunk.heights_m,
            fine,
            coarse,
            (float(chunk.row0), float(chunk.col0)),
            highest,
            has_void,
            (bundle.cell_m, STRAY, LEAST_CURVE),
            part,
            bundle.rows,
            bundle.cols,
            bundle.reaches_m,
            bundle.starts_m,
            bundle.ends_m,
            bundle.eyes_m,
            bundle.drop_per_m2,
            seen.tangent,
            seen.distance_m,
            seen.unknown_m,
            seen.unknown_from_m,
        )

    threads = min(_cores(), MOST_THREADS, len(which) // WORTH_A_THREAD)
    if threads < 2:
        look(which)
        return
    # More parts than threads, for some rays take longer than others.
    parts = np.array_split(which, 4 * threads)
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(look, parts))


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
