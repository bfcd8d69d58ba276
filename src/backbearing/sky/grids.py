"""Evenly spaced instants, on which many places share one set of directions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from backbearing.sky.directions import earth_fixed
from backbearing.sky.instants import MJD_EPOCH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.sky.targets import Target

_DAY_US = 86_400_000_000
_MORE = 3


@dataclass(frozen=True)
class EvenGrid:
    """Instants ``start + i step``, microseconds since MJD 0 in UTC; hashable.

    Attributes
    ----------
    start_us, step_us, count : int
        First instant, spacing, number of instants.
    """

    start_us: int
    step_us: int
    count: int

    @classmethod
    def covering(cls, first: np.datetime64, last: np.datetime64, step_s: int) -> EvenGrid:
        """Whole UTC days that hold an interval, so that neighbouring zones share them.

        With a few steps more at both ends, for the neighbours that interpolation needs.
        """
        start = int((first - MJD_EPOCH) / np.timedelta64(1, "us")) // _DAY_US * _DAY_US
        end = -(-int((last - MJD_EPOCH) / np.timedelta64(1, "us")) // _DAY_US) * _DAY_US
        step = step_s * 1_000_000
        return cls(start - _MORE * step, step, (end - start) // step + 1 + 2 * _MORE)

    @property
    def utc(self) -> NDArray[np.datetime64]:
        """The instants (count,) as ``datetime64[us]``."""
        return _instants(self)


@lru_cache(maxsize=12)
def _instants(grid: EvenGrid) -> NDArray[np.datetime64]:
    micro = grid.start_us + np.arange(grid.count, dtype=np.int64) * grid.step_us
    out: NDArray[np.datetime64] = MJD_EPOCH + micro.astype("timedelta64[us]")
    out.setflags(write=False)
    return out


def earth_fixed_at(target: Target, when: EvenGrid | NDArray[np.datetime64]) -> NDArray[np.float64]:
    """`earth_fixed` vectors (3, n), remembered for a grid."""
    return _on_grid(target, when) if isinstance(when, EvenGrid) else earth_fixed(target, when)


@lru_cache(maxsize=12)
def _on_grid(target: Target, grid: EvenGrid) -> NDArray[np.float64]:
    vectors = earth_fixed(target, grid.utc)
    vectors.setflags(write=False)
    return vectors
