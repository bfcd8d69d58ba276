"""From other reference systems to WGS84 by one operation for everything that belongs together.

Left to itself the projection library picks an operation for each point, and picks another one
where a point lies outside the area that the first is published for: neighbours then land up to
hundreds of metres apart. One operation, chosen for the middle of the data, is used for all of
it; what is given out is its published accuracy. No grid file is fetched.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from pyproj import CRS, Transformer
    from pyproj.aoi import AreaOfInterest

    Floats = NDArray[np.float64]

WGS84: Final = "EPSG:4326"


@dataclass(frozen=True, slots=True)
class DatumShift:
    """One operation between WGS84 and another system.

    Attributes
    ----------
    transformer : pyproj.Transformer
        From WGS84 longitude and latitude to x and y of the other system.
    accuracy_m : float
        Published accuracy of the operation; 0 where both systems are WGS84, NaN where none
        is published for the place.
    name : str
        What the operation is called.
    """

    transformer: Transformer
    accuracy_m: float
    name: str


def is_wgs84(crs: CRS) -> bool:
    """Whether a system is WGS84 latitude and longitude itself."""
    from pyproj import CRS

    return bool(crs.equals(CRS.from_user_input(WGS84), ignore_axis_order=True))


def one_shift(crs: CRS, x: Floats, y: Floats) -> DatumShift:
    """Choose the operation for data that lie about the points ``x, y`` of a system.

    The first in the library's own order for that area, among those that need no file which
    is not there. Where none is published for the area the system's own best is carried on.
    """
    spread = Spread(crs)
    spread.add(x, y)
    return spread.shift()


class Spread:
    """Where the points of a system lie, gathered a part at a time, to choose one operation."""

    def __init__(self, crs: CRS) -> None:
        from pyproj import CRS, Transformer

        self._wgs84, self._crs = CRS.from_user_input(WGS84), crs.to_2d()
        self._rough = Transformer.from_crs(self._crs, self._wgs84, always_xy=True)
        self._first: float | None = None
        self._low = np.full(2, np.inf)
        self._high = np.full(2, -np.inf)

    def add(self, x: Floats, y: Floats) -> None:
        """Note more points."""
        lon, lat = (
            np.asarray(v, dtype=np.float64)[np.isfinite(x) & np.isfinite(y)]
            for v in self._rough.transform(np.asarray(x), np.asarray(y), errcheck=False)
        )
        known = np.isfinite(lon) & np.isfinite(lat)
        if not known.any():
            return
        lon, lat = lon[known], lat[known]
        if self._first is None:
            self._first = float(lon[0])
        east = self._first + (lon - self._first + 180.0) % 360.0 - 180.0
        self._low = np.minimum(self._low, [east.min(), lat.min()])
        self._high = np.maximum(self._high, [east.max(), lat.max()])

    def shift(self) -> DatumShift:
        """Choose the operation; see `one_shift`."""
        from pyproj import Transformer

        area = None if self._first is None else _around(self._low, self._high)
        for asked in (area, None):
            for found in _operations(self._wgs84, self._crs, asked):
                if found.accuracy >= 0.0:
                    stated = found.accuracy if asked is area and area is not None else math.nan
                    # Made anew from its own words: those of a group go to no other thread or
                    # process.
                    own = Transformer.from_pipeline(found.definition)
                    return DatumShift(own, stated, str(found.description))
        plain = Transformer.from_crs(self._wgs84, self._crs, always_xy=True)
        return DatumShift(plain, math.nan, "unknown")


def _operations(wgs84: CRS, crs: CRS, area: AreaOfInterest | None) -> Sequence[Any]:
    from pyproj.transformer import TransformerGroup

    with warnings.catch_warnings():
        # It warns where a better operation would need a grid that is not installed.
        warnings.simplefilter("ignore", UserWarning)
        about: Any = area
        group = TransformerGroup(wgs84, crs, always_xy=True, area_of_interest=about)
    return list(group.transformers)


def _around(low: Floats, high: Floats) -> AreaOfInterest:
    """The middle half of an extent, degrees; may lead over the 180th meridian."""
    from pyproj.aoi import AreaOfInterest

    (west, south), (east_, north) = low.tolist(), high.tolist()
    around, up = (west + east_) / 2.0, (south + north) / 2.0
    wide, tall = (east_ - west) / 4.0, (north - south) / 4.0
    ends = _on_globe(around - wide), _on_globe(around + wide)
    return AreaOfInterest(ends[0], max(up - tall, -90.0), ends[1], min(up + tall, 90.0))


def _on_globe(lon_deg: float) -> float:
    return (lon_deg + 180.0) % 360.0 - 180.0


def to_wgs84(shapes: Sequence[Any], crs: CRS, shift: DatumShift | None = None) -> NDArray[Any]:
    """Take shapely geometries of one system to WGS84 longitude and latitude, all in one way.

    ``shift`` is the way that was chosen for more than these.
    """
    import shapely

    made = np.array([None, *shapes], dtype=object)[1:]
    corners = shapely.get_coordinates(made)
    if is_wgs84(crs) or not len(corners):
        return made
    chosen = shift or one_shift(crs, corners[:, 0], corners[:, 1])

    def back(points: Floats) -> Floats:
        lon, lat = chosen.transformer.transform(
            points[:, 0], points[:, 1], direction="INVERSE", errcheck=False
        )
        return np.column_stack([lon, lat])

    return np.asarray(shapely.transform(made, back), dtype=object)
