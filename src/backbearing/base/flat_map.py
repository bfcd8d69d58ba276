"""A flat map over a whole set of places, to find what is near what."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from pyproj import Transformer

    Floats = NDArray[np.float64]

WIDEST_M: Final = 3_000_000.0
"""Data that reach farther from their middle than this are refused: the map would stretch."""


@dataclass(frozen=True, eq=False)
class FlatMap:
    """Azimuthal equidistant about the middle of some data, metres.

    Lengths across the line to the middle are stretched by ``c / sin c``, c the angle at the
    Earth's centre: 0.1 per cent at 500 km, 4 per cent at 3,000 km. It serves to find what is
    nearest, not to say how far that is.
    """

    lat: float
    lon: float

    @classmethod
    def about(cls, geometries: Sequence[Any]) -> FlatMap:
        """Lay a map about longitude-latitude geometries.

        Raises
        ------
        OutingError
            When they reach too far.
        """
        import shapely

        corners = shapely.get_coordinates(np.array(geometries, dtype=object))
        lam, phi = np.radians(corners[:, 0]), np.radians(corners[:, 1])
        axes = np.column_stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)])
        middle = axes.mean(axis=0)
        middle /= max(float(np.linalg.norm(middle)), 1e-12)
        lat = float(np.degrees(np.arcsin(np.clip(middle[2], -1.0, 1.0))))
        lon = float(np.degrees(np.arctan2(middle[1], middle[0])))
        reach = 6_371_000.0 * float(np.arccos(np.clip(axes @ middle, -1.0, 1.0)).max())
        if reach > WIDEST_M:
            raise OutingError(
                f"The ways reach {reach / 1000.0:,.0f} km from their middle; cut out the part "
                "about your candidates."
            )
        return cls(lat, lon)

    @cached_property
    def _transformer(self) -> Transformer:
        from pyproj import Transformer

        return Transformer.from_crs(
            "EPSG:4326",
            f"+proj=aeqd +lat_0={self.lat:.9f} +lon_0={self.lon:.9f} +datum=WGS84 +units=m",
            always_xy=True,
        )

    def metres(self, *, lat: Floats, lon: Floats) -> Floats:
        """Put degrees on the map: shape (n, 2)."""
        return np.column_stack(self._transformer.transform(lon, lat))

    def places(self, points: Floats) -> tuple[Floats, Floats]:
        """Longitude and latitude of points on the map."""
        lon, lat = self._transformer.transform(points[:, 0], points[:, 1], direction="INVERSE")
        return np.asarray(lon), np.asarray(lat)

    def geometries(self, shapes: Sequence[Any]) -> NDArray[Any]:
        """Take longitude-latitude geometries to the map."""
        import shapely

        return np.asarray(
            shapely.transform(
                np.array(shapes, dtype=object), lambda xy: self.metres(lon=xy[:, 0], lat=xy[:, 1])
            )
        )
