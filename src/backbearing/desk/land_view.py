"""A view of the map's features: clipped to it, thinned to its pixels, and found by name."""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.numbers import rounded
from backbearing.desk.map_features import AREAS, LINES, NOT_SHOWN, MapFeatures

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

FROM_ZOOM: Final[dict[str, int]] = {
    "road": 0,
    "lane": 13,
    "track": 12,
    "path": 13,
    "stream": 11,
    "water": 9,
    "wood": 10,
    "building": 15,
}
"""Zoom from which on a kind is drawn."""

NAMES_FROM_ZOOM: Final = (0, 9, 11, 13, 12, 14)
"""The same for the ranks of names."""

TOLERANCE_PX: Final = 0.7
LEAST_AREA_PX: Final = 3.0
"""An area that is smaller both ways is not drawn."""

MOST_CORNERS: Final = 24_000
"""Of one kind in a view; beyond it the smallest are left out."""

MOST_NAMES: Final = 60
MOST_FOUND: Final = 12


class View(NamedTuple):
    """What the page shows: its zoom and its edges in degrees."""

    zoom: int
    west: float
    south: float
    east: float
    north: float

    @property
    def pixel_deg(self) -> float:
        """Degrees of longitude to a pixel."""
        return 360.0 / (256.0 * 2.0**self.zoom)


class LandView:
    """Features ready to be asked for views and names.

    Parameters
    ----------
    features : MapFeatures
    """

    def __init__(self, features: MapFeatures) -> None:
        self.features = features

    def shown(self, view: View) -> dict[str, Any]:
        """What a view shows: corners as latitude and longitude, by kind, and names."""
        shown: dict[str, Any] = {}
        left_out = 0
        for kind in (*AREAS, *LINES):
            if view.zoom < FROM_ZOOM[kind] or kind not in self._trees:
                continue
            parts, lost = self._parts(kind, view)
            left_out += lost
            if parts:
                shown[kind] = parts
        return {
            "kinds": shown,
            "names": self._names(view),
            "left_out": left_out,
            "credit": self.features.credit,
            "source": self.features.source,
        }

    def found(self, text: str) -> list[dict[str, Any]]:
        """The features whose names hold a text, those that begin with it first, one a name."""
        wanted = text.strip().casefold()
        if not wanted:
            return []
        holds = [i for i, name in enumerate(self._folded) if wanted in name]
        holds.sort(
            key=lambda i: (
                not self._folded[i].startswith(wanted),
                int(self.features.rank[i]),
                len(self._folded[i]),
                self._folded[i],
            )
        )
        first: dict[str, int] = {}
        for i in holds:
            first.setdefault(str(self.features.name[i]), i)
        return [self._spot(i) for i in list(first.values())[:MOST_FOUND]]

    def _spot(self, i: int) -> dict[str, Any]:
        import shapely

        shape = self.features.shape[i]
        west, south, east, north = (float(v) for v in shapely.bounds(shape))
        middle = shapely.point_on_surface(shape)
        return {
            "name": str(self.features.name[i]),
            "lat": rounded(float(middle.y), 6),
            "lon": rounded(float(middle.x), 6),
            "bounds": [[south, west], [north, east]],
        }

    @cached_property
    def _folded(self) -> list[str]:
        return [str(name).casefold() for name in self.features.name]

    @cached_property
    def _trees(self) -> dict[str, tuple[Any, NDArray[Any]]]:
        import shapely

        found = {}
        for kind in (*AREAS, *LINES):
            shapes = self.features.shape[self.features.kind == kind]
            if len(shapes):
                found[kind] = (shapely.STRtree(shapes), shapes)
        return found

    @cached_property
    def _named(self) -> tuple[Any, NDArray[np.intp]]:
        """The names that the map shows, as points."""
        import shapely

        at = np.flatnonzero(self.features.rank < NOT_SHOWN)
        return shapely.point_on_surface(self.features.shape[at]), at

    def _parts(self, kind: str, view: View) -> tuple[list[Any], int]:
        import shapely

        tree, shapes = self._trees[kind]
        edges = (view.west, view.south, view.east, view.north)
        at = np.sort(tree.query(shapely.box(*edges)))
        if not at.size:
            return [], 0
        parts = _clipped(shapes[at], edges)
        parts = shapely.simplify(parts, TOLERANCE_PX * view.pixel_deg, preserve_topology=False)
        parts = shapely.get_parts(parts)
        if kind in AREAS:
            parts = parts[shapely.get_type_id(parts) == _POLYGON]
            parts = shapely.get_exterior_ring(parts)
        else:
            parts = parts[np.isin(shapely.get_type_id(parts), (_LINE, _RING))]
        parts = parts[~shapely.is_empty(parts)]
        parts, lost = _largest(parts, view, least_px=LEAST_AREA_PX if kind in AREAS else 0.0)
        return [_corners(one, view) for one in _each(parts)], lost

    def _names(self, view: View) -> list[dict[str, Any]]:
        import shapely

        points, at = self._named
        if not at.size:
            return []
        lon, lat = shapely.get_x(points), shapely.get_y(points)
        rank = self.features.rank[at]
        there = (lon >= view.west) & (lon <= view.east) & (lat >= view.south) & (lat <= view.north)
        there &= np.array(NAMES_FROM_ZOOM)[rank] <= view.zoom
        chosen = np.flatnonzero(there)
        chosen = chosen[np.argsort(rank[chosen], kind="stable")][:MOST_NAMES]
        return [
            {
                "name": str(self.features.name[at[i]]),
                "rank": int(rank[i]),
                "lat": rounded(float(lat[i]), 6),
                "lon": rounded(float(lon[i]), 6),
            }
            for i in chosen
        ]


_LINE: Final = 1
_RING: Final = 2
_POLYGON: Final = 3


def _clipped(shapes: NDArray[Any], edges: tuple[float, float, float, float]) -> NDArray[Any]:
    """Cut shapes at a view's edges; what is drawn wrongly is put right first."""
    import shapely

    try:
        return np.asarray(shapely.clip_by_rect(shapes, *edges))
    except shapely.errors.GEOSException:
        return np.asarray(shapely.intersection(shapely.make_valid(shapes), shapely.box(*edges)))


def _largest(parts: NDArray[Any], view: View, *, least_px: float) -> tuple[NDArray[Any], int]:
    """Leave out what is too small to be seen, and the smallest of too many."""
    import shapely

    if not len(parts):
        return parts, 0
    west, south, east, north = shapely.bounds(parts).T
    across = np.maximum(east - west, north - south) / view.pixel_deg
    parts, across = parts[across >= least_px], across[across >= least_px]
    corners = shapely.get_num_coordinates(parts)
    if corners.sum() <= MOST_CORNERS:
        return parts, 0
    order = np.argsort(-across, kind="stable")
    kept = order[np.cumsum(corners[order]) <= MOST_CORNERS]
    return parts[np.sort(kept)], len(parts) - len(kept)


def _each(parts: NDArray[Any]) -> Iterator[NDArray[np.float64]]:
    """Corners of each part, longitude and latitude."""
    import shapely

    corners, of = shapely.get_coordinates(parts, return_index=True)
    yield from np.split(corners, np.flatnonzero(np.diff(of)) + 1) if len(corners) else ()


def _corners(corners: NDArray[np.float64], view: View) -> list[list[float]]:
    """Latitude and longitude to a tenth of a pixel."""
    places = max(3, min(7, math.ceil(-math.log10(view.pixel_deg / 10.0))))
    return np.round(corners[:, ::-1], places).tolist()  # type: ignore[no-any-return]
