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
    are_near : ndarray of bool
        Where these are so near that they were looked at in cells of their own.
    """

    bare_deg: Floats
    bare_m: Floats
    are_covered: NDArray[np.bool_]
    are_near: NDArray[np.bool_]


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
def raised(bare: Horizon, near: Horizon | None, far: Horizon | None) -> CoveredHorizon: ...
@overload
def raised(bare: Skylines, near: Skylines | None, far: Skylines | None) -> CoveredSkylines: ...
def raised(
    bare: Horizon | Skylines, near: Horizon | Skylines | None, far: Horizon | Skylines | None
) -> CoveredHorizon | CoveredSkylines:
    """The highest of skylines on each ray, with the bare one beside it.

    ``near`` is that of cover in its own cells, ``far`` of cover in the ground's.
    """
    altitude, distance = bare.altitudes_deg, bare.distances_m
    by_near = by_far = np.zeros(altitude.shape, dtype=np.bool_)
    if near is not None:
        altitude, distance, by_near = _higher(altitude, distance, near)
    if far is not None:
        altitude, distance, by_far = _higher(altitude, distance, far)
    found = {one.name: getattr(bare, one.name) for one in fields(bare)}
    found["altitudes_deg"], found["distances_m"] = altitude, distance
    found["covered"] = CoveredRays(
        bare.altitudes_deg, bare.distances_m, by_near | by_far, by_near & ~by_far
    )
    return CoveredHorizon(**found) if isinstance(bare, Horizon) else CoveredSkylines(**found)


def _higher(
    altitude: Floats, distance: Floats, other: Horizon | Skylines
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Altitudes and distances raised to another skyline, and where that one is the higher."""
    with np.errstate(invalid="ignore"):
        over = np.isfinite(other.altitudes_deg) & ~(other.altitudes_deg <= altitude + SAME_DEG)
    return (
        np.where(over, other.altitudes_deg, altitude),
        np.where(over, other.distances_m, distance),
        over,
    )
