"""From the geometries of a file to places: points on the Earth, and widths of outlines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.geodesy import metres_per_degree

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_POINT: Final = 0
"""How shapely numbers a point."""


class Spots(NamedTuple):
    """A place for each geometry: degrees, width in metres (NaN for a point), and its kind."""

    lat: Floats
    lon: Floats
    width_m: Floats
    was_point: NDArray[np.bool_]
    faults: dict[int, str]


def spots_of(geometries: Sequence[Any] | NDArray[Any]) -> Spots:
    """Put a point on each longitude-latitude geometry: its middle, or else a point on it.

    The width of a line or an area is its mean over all directions of sight: the perimeter of
    its convex hull over pi (Cauchy's formula, [Santalo2004]_).
    """
    import shapely

    shapes: NDArray[Any] = np.empty(len(geometries), dtype=object)
    shapes[:] = geometries
    faults: dict[int, str] = {}
    missing = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    for i in np.flatnonzero(missing):
        faults[int(i)] = "it has no geometry; give it a point"
    was_point = (shapely.get_type_id(shapes) == _POINT) & ~missing
    lat, lon, width = (np.full(len(shapes), np.nan) for _ in range(3))
    lon[was_point] = shapely.get_x(shapes[was_point])
    lat[was_point] = shapely.get_y(shapes[was_point])
    rest = np.flatnonzero(~missing & ~was_point)
    if rest.size:
        finite = _finite(shapes[rest])
        for i in rest[~finite]:
            faults[int(i)] = "its geometry has a corner that is not a finite number; draw it again"
        rest = rest[finite]
        spots = _on(shapes[rest])
        lon[rest], lat[rest] = shapely.get_x(spots), shapely.get_y(spots)
        width[rest] = mean_widths_m(shapes[rest])
    return Spots(lat, lon, width, np.asarray(was_point), faults)


def _finite(shapes: NDArray[Any]) -> NDArray[np.bool_]:
    import shapely

    corners, of = shapely.get_coordinates(shapes, return_index=True)
    out = np.ones(len(shapes), dtype=np.bool_)
    out[of[~np.isfinite(corners).all(axis=1)]] = False
    return out


def _on(shapes: NDArray[Any]) -> NDArray[Any]:
    """Take the centroid where it lies on the shape, else a point that does."""
    import shapely

    middle = shapely.centroid(shapes)
    broken = ~shapely.is_valid(shapes)
    inside = np.zeros(len(shapes), dtype=np.bool_)
    inside[~broken] = shapely.intersects(shapes[~broken], middle[~broken])
    middle[~inside] = shapely.point_on_surface(shapes[~inside])
    # GEOS finds no point on a shape of no area.
    nowhere = shapely.is_empty(middle)
    if nowhere.any():
        middle[nowhere] = [
            shapely.Point(shapely.get_coordinates(shape)[0]) for shape in shapes[nowhere]
        ]
    return np.asarray(middle)


def mean_widths_m(shapes: NDArray[Any]) -> Floats:
    """Mean width of longitude-latitude shapes over all directions, metres.

    Each is measured on a plane that touches the ellipsoid at its middle: good to a part in a
    thousand for shapes up to some kilometres.
    """
    import shapely

    hulls = shapely.convex_hull(shapes)
    corners, of = shapely.get_coordinates(hulls, return_index=True)
    counts = np.maximum(np.bincount(of, minlength=len(shapes)), 1)
    middle = np.bincount(of, weights=corners[:, 1], minlength=len(shapes)) / counts
    east, north = metres_per_degree(middle)
    scale = np.column_stack([east[of], north[of]])
    flat = shapely.set_coordinates(hulls.copy(), corners * scale)
    edge = shapely.length(flat)
    # The hull of a line counts both of its sides.
    line = shapely.get_type_id(flat) == 1
    return np.asarray(np.where(line, 2.0 * edge, edge) / np.pi)
