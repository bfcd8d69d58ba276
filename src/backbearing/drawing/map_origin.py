"""Positions for the map, all on the subject's side of the antimeridian."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.geodesy import line_between, point_along
from backbearing.base.numbers import rounded

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from backbearing.base.geodesy import Line
    from backbearing.plan.plan import Plan

Spot = list[float]
"""Latitude and longitude, degrees; the longitude may lie beyond 180 to stay by the subject."""


@dataclass(frozen=True, slots=True)
class MapOrigin:
    """The subject's position, and positions seen from it.

    Parameters
    ----------
    lat, lon : float
        WGS84 degrees.
    """

    lat: float
    lon: float

    @classmethod
    def of(cls, plan: Plan) -> MapOrigin:
        """The plan's subject."""
        return cls(plan.subject.lat, plan.subject.lon)

    def spot(self, lat: float, lon: float) -> Spot:
        """A position to about a millimetre."""
        return [rounded(float(lat), 8), rounded(self.beside(float(lon)), 8)]

    def beside(self, lon: float) -> float:
        """The longitude, by whole turns, within half a turn of the subject's."""
        return self.lon + wrap_180_deg(lon - self.lon)

    def spots(self, lat: ArrayLike, lon: ArrayLike) -> list[Spot]:
        """Several positions."""
        pairs = zip(np.ravel(np.asarray(lat)), np.ravel(np.asarray(lon)), strict=True)
        return [self.spot(a, b) for a, b in pairs]

    def around(self, azimuth_deg: Any, distance_m: Any) -> list[Spot]:
        """Positions at azimuths and distances from the subject."""
        end = point_along(
            lat=self.lat, lon=self.lon, azimuth_deg=azimuth_deg, distance_m=distance_m
        )
        return self.spots(end.lat, end.lon)

    def to(self, lat: ArrayLike, lon: ArrayLike) -> Line:
        """Geodesics from the subject."""
        return line_between(lat1=self.lat, lon1=self.lon, lat2=lat, lon2=lon)
