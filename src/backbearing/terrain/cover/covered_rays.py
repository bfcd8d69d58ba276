"""Skylines that know what trees and buildings do to them."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Final, overload

import numpy as np

from backbearing.terrain.horizon import Horizon
from backbearing.terrain.skylines import Skylines

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAME_DEG: Final = 1e-6
"""Closer than this two skylines are one: ground in single precision is no cover."""


@dataclass(frozen=True, eq=False)
class CoveredRays:
    """What cover does to the rays of a skyline, kept beside it; arrays of shape (n,).

    Attributes
    ----------
    bare_deg, bare_m : ndarray
        The bare ground's own skyline, and how far away it is.
    are_covered : ndarray of bool
        Where trees or buildings make the skyline.
    """

    bare_deg: Floats
    bare_m: Floats
    are_covered: NDArray[np.bool_]


@dataclass(frozen=True, eq=False, repr=False)
class CoveredHorizon(Horizon):
    """A skyline of the tops of trees and buildings, and of the ground where there are none."""

    covered: CoveredRays | None = None


@dataclass(frozen=True, eq=False, repr=False)
class CoveredSkylines(Skylines):
    """Skylines of the tops of trees and buildings, and of the ground where there are none."""

    covered: CoveredRays | None = None


def covered_rays(seen: Horizon | Skylines) -> CoveredRays | None:
    """What is known of the cover on the rays of a skyline; None where nothing was asked of it."""
    return seen.covered if isinstance(seen, CoveredHorizon | CoveredSkylines) else None


@overload
def raised(bare: Horizon, tops: Horizon) -> CoveredHorizon: ...
@overload
def raised(bare: Skylines, tops: Skylines) -> CoveredSkylines: ...
def raised(bare: Horizon | Skylines, tops: Horizon | Skylines) -> CoveredHorizon | CoveredSkylines:
    """The higher of two skylines on each ray, with the bare one beside it."""
    with np.errstate(invalid="ignore"):
        over = np.isfinite(tops.altitudes_deg) & ~(
            tops.altitudes_deg <= bare.altitudes_deg + SAME_DEG
        )
    found = {one.name: getattr(bare, one.name) for one in fields(bare)}
    found["altitudes_deg"] = np.where(over, tops.altitudes_deg, bare.altitudes_deg)
    found["distances_m"] = np.where(over, tops.distances_m, bare.distances_m)
    found["covered"] = CoveredRays(bare.altitudes_deg, bare.distances_m, over)
    return CoveredHorizon(**found) if isinstance(bare, Horizon) else CoveredSkylines(**found)
