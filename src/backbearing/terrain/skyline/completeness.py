"""Whether a skyline could still change: what higher ground beyond it would have to be."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.geodesy import End, drop_per_m2, point_along

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def tangents_of(altitudes_deg: Floats) -> Floats:
    """Tangents of altitudes in degrees; -inf where there is no skyline."""
    tangent = np.tan(np.radians(altitudes_deg))
    return np.where(np.isnan(tangent), -np.inf, tangent)


def spoiling_span(tangent: Floats, rise_m: Floats, drop: float) -> tuple[Floats, Floats]:
    """Distances between which ground rising so far over the eye would top each skyline.

    Parameters
    ----------
    tangent : ndarray, shape (n,)
        Tangents of the skylines; -inf where there is none.
    rise_m : ndarray, shape (n,)
        Height of the ground above the eye, metres.
    drop : float
        As `geodesy.drop_per_m2` gives it.

    Returns
    -------
    tuple of ndarray, shape (n,)
        Nearest and farthest distance, metres: NaN and -1 where no such ground could.
    """
    with np.errstate(invalid="ignore"):
        root = np.sqrt(tangent * tangent + 4.0 * drop * rise_m)
        near, far = ((-tangent + sign * root) / (2.0 * drop) for sign in (-1.0, 1.0))
    none = np.isneginf(tangent)
    never = np.isnan(root) & ~none
    near = np.where(none, 0.0, np.where(never, np.nan, np.maximum(near, 0.0)))
    far = np.where(none, np.inf, np.where(never, -1.0, far))
    return near, far


class FoundSkyline:
    """What the answers of one eye and of many have in common, arrays of shape (n,).

    A dataclass that builds on it has these fields, the eye's own ones as numbers or arrays.
    """

    lat: Any
    lon: Any
    eye_height_m: Any
    eye_ground_m: Any
    refraction_k: float
    highest_ground_m: Any
    azimuths_deg: Floats
    altitudes_deg: Floats
    distances_m: Floats
    unknown_share: Floats
    reach_m: Floats

    def __post_init__(self) -> None:
        for value in vars(self).values():
            if isinstance(value, np.ndarray):
                value.setflags(write=False)

    @property
    def eye_m(self) -> Any:
        """Height of the eye above sea level, metres."""
        return self.eye_ground_m + self.eye_height_m

    @cached_property
    def _skyline(self) -> End:
        return point_along(
            lat=self.lat,
            lon=self.lon,
            azimuth_deg=self.azimuths_deg,
            distance_m=self.distances_m,
        )

    @property
    def skyline_lat(self) -> Floats:
        """Latitudes of the skyline points, degrees, shape (n,)."""
        return self._skyline.lat

    @property
    def skyline_lon(self) -> Floats:
        """Longitudes of the skyline points, degrees, shape (n,)."""
        return self._skyline.lon

    @property
    def could_be_hidden_from_m(self) -> Floats:
        """Nearest distance beyond ``reach_m`` at which higher ground could hide more, (n,).

        Ground as high as ``highest_ground_m`` there would rise above the skyline found.
        NaN where no such ground could: the skyline is final.
        """
        near, far = self._spoiling_span
        start = np.maximum(near, self.reach_m)
        return np.where(far > self.reach_m, start, np.nan)

    @property
    def is_final(self) -> NDArray[np.bool_]:
        """Whether neither ground beyond the raster nor unknown ground in it could hide more."""
        final: NDArray[np.bool_] = np.isnan(self.could_be_hidden_from_m) & (
            self.unknown_share == 0.0
        )
        return final

    @cached_property
    def _tangents(self) -> Floats:
        return tangents_of(self.altitudes_deg)

    @cached_property
    def _spoiling_span(self) -> tuple[Floats, Floats]:
        """Distances between which ground of ``highest_ground_m`` tops the skyline."""
        rise = np.asarray(self.highest_ground_m - self.eye_m, dtype=np.float64)
        return spoiling_span(self._tangents, rise, drop_per_m2(self.refraction_k))
