"""A flat little map: metres east and north of the subject, and shapes cut to its window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.local_plane import LocalPlane

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.drawing.marks import Points

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MapWindow:
    """Azimuthal equidistant about the subject, drawn in points with north up.

    Parameters
    ----------
    lat, lon : float
        The subject, WGS84 degrees.
    east_m, north_m : float
        Middle of the window.
    scale : float
        Points to a metre.
    width, height : float
        Of the window, points.
    """

    lat: float
    lon: float
    east_m: float
    north_m: float
    scale: float
    width: float
    height: float

    @classmethod
    def around(
        cls, *, lat: float, lon: float, metres: Floats, width: float, height: float, rim: float
    ) -> MapWindow:
        """Fit a window round points given in metres, with a rim in points."""
        low, high = metres.min(axis=0), metres.max(axis=0)
        middle, size = (low + high) / 2.0, np.maximum(high - low, 1.0)
        scale = min((width - 2.0 * rim) / size[0], (height - 2.0 * rim) / size[1])
        return cls(lat, lon, float(middle[0]), float(middle[1]), float(scale), width, height)

    def draw(self, metres: Floats) -> Points:
        """Metres east and north to points from the upper left."""
        x = self.width / 2.0 + (metres[:, 0] - self.east_m) * self.scale
        y = self.height / 2.0 - (metres[:, 1] - self.north_m) * self.scale
        return tuple(zip(x.tolist(), y.tolist(), strict=True))

    def spot(self, lat: float, lon: float) -> tuple[float, float]:
        """One place on the paper."""
        return self.place(lat, lon)[0]

    def place(self, lat: ArrayLike, lon: ArrayLike) -> Points:
        """Several places on the paper."""
        return self.draw(LocalPlane(self.lat, self.lon).points(lat=lat, lon=lon))

    def cut(self, shape: BaseGeometry) -> BaseGeometry:
        """A lon/lat shape on the paper, cut at the window's edge."""
        from shapely import make_valid, transform
        from shapely.geometry import box

        def onto(points: Floats) -> Floats:
            return np.array(self.place(points[:, 1], points[:, 0]))

        return make_valid(transform(shape, onto)).intersection(box(0, 0, self.width, self.height))


def lines_of(shape: BaseGeometry) -> Iterator[Points]:
    """Every line of a shape, and every ring of its areas."""
    for part in _parts(shape):
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                yield _points(ring)
        elif part.geom_type in ("LineString", "LinearRing"):
            yield _points(part)


def areas_of(shape: BaseGeometry) -> Iterator[tuple[Points, ...]]:
    """Every area of a shape as its rings."""
    for part in _parts(shape):
        if part.geom_type == "Polygon":
            yield tuple(_points(ring) for ring in (part.exterior, *part.interiors))


def hatching(shape: BaseGeometry, *, step: float, rising: bool) -> Iterator[Points]:
    """Slanting lines over the areas of a shape, so many points apart."""
    from shapely import MultiLineString, union_all

    areas = [part for part in _parts(shape) if part.geom_type == "Polygon"]
    if not areas:
        return
    whole = union_all(areas)
    left, top, right, bottom = whole.bounds
    sign = -1.0 if rising else 1.0
    low, high = (left + top, right + bottom) if rising else (left - bottom, right - top)
    # From a common origin, so that neighbours' lines do not drift against one another.
    starts = np.arange(np.floor(low / step) * step, high, step)
    lines = [[(s + sign * top, top), (s + sign * bottom, bottom)] for s in starts.tolist()]
    yield from lines_of(MultiLineString(lines).intersection(whole))


def stipple(shape: BaseGeometry, *, step: float) -> Iterator[tuple[float, float]]:
    """Points over the areas of a shape, in rows that stand half a step aside in turn."""
    from shapely import contains_xy, union_all

    areas = [part for part in _parts(shape) if part.geom_type == "Polygon"]
    if not areas:
        return
    whole = union_all(areas)
    left, top, right, bottom = whole.bounds
    rows = np.arange(np.floor(top / step), bottom / step)
    columns = np.arange(np.floor(left / step) - 1.0, right / step + 1.0)
    across, down = np.meshgrid(columns, rows)
    x, y = step * (across + 0.5 * (down % 2.0)).ravel(), step * down.ravel()
    inside = contains_xy(whole, x, y)
    yield from zip(x[inside].tolist(), y[inside].tolist(), strict=True)


def _parts(shape: BaseGeometry) -> Iterator[Any]:
    if shape.is_empty:
        return
    for part in getattr(shape, "geoms", (shape,)):
        if hasattr(part, "geoms"):
            yield from _parts(part)
        elif not part.is_empty:
            yield part


def _points(line: Any) -> Points:
    return tuple((float(x), float(y)) for x, y, *_ in line.coords)
