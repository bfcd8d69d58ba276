"""A forecast of cloud at points and times: over a place, and along a line of sight."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.geodesy import point_along, sphere_xyz_m
from backbearing.weather.line_of_sight import distance_to_height_m

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

LAYERS: Final = ("low", "middle", "high")
"""The three layers that weather services tell apart."""

TOTAL: Final = "total"

LAYER_HEIGHT_M: Final = {"low": 2_000.0, "middle": 5_000.0, "high": 9_000.0, TOTAL: 5_000.0}
"""Where a line of sight is taken to meet each layer, metres above the sea. Services part low,
middle and high cloud near 2 and 6 to 7 km (from memory); the heights are round numbers within
the layers, and for a total cover alone the middle one (common practice, no source)."""

WIDEST_GAP_H: Final = 6.5
"""Hours between two moments of a forecast that are joined by a straight line; not across more."""


class CloudSeen(NamedTuple):
    """Cloud for n moments, shares of one from 0 to 1, NaN where unknown; arrays of shape (n,).

    Attributes
    ----------
    site : dict
        By layer and ``total``, over the place.
    towards : dict
        By layer, where the line of sight passes its height; ``total`` is that of a forecast
        that tells no layers.
    away_m : dict
        How far away the line of sight passes each height, metres over the ground.
    beyond : ndarray of bool
        Whether the moments lie outside the forecast's time.
    """

    site: dict[str, Floats]
    towards: dict[str, Floats]
    away_m: dict[str, Floats]
    beyond: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class CloudForecast:
    """Cloud cover at p points and t times.

    Parameters
    ----------
    name : str
        The file's.
    times : ndarray of datetime64[us], shape (t,)
        UTC, rising.
    lat, lon : ndarray, shape (p,)
        WGS84 degrees.
    cover : dict of ndarray, shape (t, p)
        Shares of the sky, 0 to 1, by layer or ``total``; NaN where unknown.
    reach_m : float
        How far from a point it still speaks.
    run : datetime, optional
        When the forecast was begun, UTC; None where the file does not say.
    """

    name: str
    times: NDArray[np.datetime64]
    lat: Floats = field(repr=False)
    lon: Floats = field(repr=False)
    cover: dict[str, NDArray[np.float32]] = field(repr=False)
    reach_m: float
    run: dt.datetime | None = None

    @cached_property
    def _tree(self) -> Any:
        from scipy.spatial import cKDTree

        return cKDTree(sphere_xyz_m(lat=self.lat, lon=self.lon))

    def at(self, layer: str, *, lat: Floats, lon: Floats, times: NDArray[np.datetime64]) -> Floats:
        """Cover of a layer at n places and times: the nearest point's, linear between its times.

        NaN outside the forecast's points and times, across gaps of more than six hours, and
        where the file does not know.
        """
        values = self.cover.get(layer)
        known = np.isfinite(lat) & np.isfinite(lon)
        if values is None or not known.any():
            return np.full(lat.shape, np.nan)
        away, point = self._tree.query(
            sphere_xyz_m(lat=np.where(known, lat, 0.0), lon=np.where(known, lon, 0.0))
        )
        known &= away <= self.reach_m
        after = np.clip(np.searchsorted(self.times, times), 0, len(self.times) - 1)
        exact = self.times[after] == times
        before = np.where(exact, after, np.maximum(after - 1, 0))
        known &= exact | ((self.times[before] <= times) & (times <= self.times[after]))
        gap = (self.times[after] - self.times[before]) / np.timedelta64(1, "h")
        known &= gap <= WIDEST_GAP_H
        past = (times - self.times[before]) / np.timedelta64(1, "h")
        share = np.divide(past, gap, out=np.zeros_like(gap), where=gap > 0.0)
        first = values[before, point].astype(np.float64)
        last = values[after, point].astype(np.float64)
        # A moment on the hour needs nothing of the next one.
        between = np.where(share > 0.0, first + share * (last - first), first)
        return np.where(known, between, np.nan)

    def seen(
        self,
        *,
        lat: ArrayLike,
        lon: ArrayLike,
        height_m: ArrayLike,
        azimuth_deg: ArrayLike,
        altitude_deg: ArrayLike,
        times: NDArray[np.datetime64],
    ) -> CloudSeen:
        """Cloud over n places and along lines of sight from them.

        Parameters
        ----------
        lat, lon, height_m : array_like
            The eyes, WGS84 degrees and metres above the sea.
        azimuth_deg, altitude_deg : array_like
            Where they look; below the horizontal nothing is known.
        times : ndarray of datetime64, shape (n,)
            UTC.
        """
        n = len(times)
        lat, lon, height, azimuth, altitude = (
            np.array(np.broadcast_to(np.asarray(v, dtype=np.float64), n))
            for v in (lat, lon, height_m, azimuth_deg, altitude_deg)
        )
        when = times.astype("datetime64[us]")
        site = {layer: self.at(layer, lat=lat, lon=lon, times=when) for layer in (*LAYERS, TOTAL)}
        towards, away = {}, {}
        for layer in (*LAYERS, TOTAL):
            far = distance_to_height_m(altitude, height, LAYER_HEIGHT_M[layer])
            there = point_along(
                lat=np.where(np.isfinite(far), lat, np.nan),
                lon=lon,
                azimuth_deg=azimuth,
                distance_m=far,
            )
            towards[layer] = self.at(layer, lat=there.lat, lon=there.lon, times=when)
            away[layer] = far
        beyond = (when < self.times[0]) | (when > self.times[-1])
        return CloudSeen(site, towards, away, beyond)


def together(shares: dict[str, Floats]) -> Floats:
    """Cover of the three layers together, as if each lay at random over the others.

    ``1 - (1 - low)(1 - middle)(1 - high)`` [Geleyn1979]_; NaN where one of them is unknown,
    unless another already covers everything. Where no layer is told, the total.
    """
    stacked = np.stack([shares[layer] for layer in LAYERS])
    both = 1.0 - np.prod(1.0 - stacked, axis=0)
    full = np.nanmax(np.where(np.isnan(stacked), 0.0, stacked), axis=0) >= 1.0
    both = np.where(full, 1.0, both)
    return np.where(np.isnan(stacked).all(axis=0), shares[TOTAL], both)
