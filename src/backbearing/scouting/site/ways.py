"""Ways, parking, water and land about many places at once, from the user's own data.

The vocabulary is that of the outing's ``places`` file. Only what the data hold can be said:
land that they do not name is unknown, and nothing here is a promise of access.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.geodesy import line_between
from backbearing.base.local_plane import LocalPlane
from backbearing.land.closed_ground import AREAS, closes
from backbearing.land.places import read_places
from backbearing.scouting.reading.osm_ways import read_ways

if TYPE_CHECKING:
    from collections.abc import Sequence
    from os import PathLike

    import shapely
    from numpy.typing import ArrayLike, NDArray

    from backbearing.plan.place import Place

    Floats = NDArray[np.float64]

FARTHEST_M: Final = 50_000.0
"""Nothing farther than this counts as near; the distance is then unknown, NaN."""

WIDEST_M: Final = 3_000_000.0
"""Data that reach farther from their middle than this are refused: a plane would stretch."""

GRAVITY: Final = ("open", "unknown", "ask first", "closed")
"""Words on access, the gravest last: where lands overlap the gravest counts."""

_WAYS: Final = ("track", "parking")


class Nearest(NamedTuple):
    """What lies nearest to each place: metres (NaN for none) and its name (empty for none)."""

    distance_m: Floats
    name: NDArray[np.object_]


class Land(NamedTuple):
    """What is known of the land at each place.

    Attributes
    ----------
    access : ndarray of str, shape (n,)
        ``closed``, ``ask first``, ``open``, or ``unknown`` where nothing is said.
    name : ndarray of str, shape (n,)
        Of the land whose word counts; empty where none is named.
    named : ndarray of bool, shape (n,)
        Whether any land of the data covers the place.
    """

    access: NDArray[np.object_]
    name: NDArray[np.object_]
    named: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Ways:
    """Places of the kinds track, parking, land, water and hazard, ready to be asked in bulk.

    Parameters
    ----------
    places : sequence of Place
        As from `read_places`, or of an OpenStreetMap extract. Public roads are tracks too.
    source : str
        Where they come from, for people.
    """

    places: tuple[Place, ...]
    source: str = ""
    notes: tuple[str, ...] = field(default=())

    @classmethod
    def read(cls, path: str | PathLike[str]) -> Ways:
        """Read ways from .geojson or .gpkg (as the outing's ``places``) or from .osm.pbf.

        Raises
        ------
        OutingError
            Names the file, and the feature where one is at fault.
        """
        file = Path(path)
        if file.name.lower().endswith(".osm.pbf"):
            places, notes = read_ways(file)
            return cls(places, file.name, notes)

        return cls(read_places(file), file.name)

    @classmethod
    def joined(cls, *ways: Ways) -> Ways:
        """Put several together."""
        return cls(
            tuple(place for one in ways for place in one.places),
            ", ".join(one.source for one in ways if one.source),
            tuple(note for one in ways for note in one.notes),
        )

    def nearest_way(self, *, lat: ArrayLike, lon: ArrayLike) -> Nearest:
        """Find the nearest track, road or parking.

        A straight line, not a walk: water, fences and closed land may lie between.

        Parameters
        ----------
        lat, lon : array_like, shape (n,)
            Degrees; NaN gives NaN.
        """
        return self._nearest(_WAYS, lat, lon)

    def nearest_way_m(self, *, lat: ArrayLike, lon: ArrayLike) -> Floats:
        """Metres to the nearest track, road or parking; NaN where none is known."""
        return self._nearest(_WAYS, lat, lon).distance_m

    def nearest_track_m(self, *, lat: ArrayLike, lon: ArrayLike) -> Floats:
        """Metres to the nearest track or road; NaN where none is known."""
        return self._nearest(("track",), lat, lon).distance_m

    def nearest_parking(self, *, lat: ArrayLike, lon: ArrayLike) -> Nearest:
        """Find the nearest parking."""
        return self._nearest(("parking",), lat, lon)

    def nearest_parking_m(self, *, lat: ArrayLike, lon: ArrayLike) -> Floats:
        """Metres to the nearest parking; NaN where none is known."""
        return self._nearest(("parking",), lat, lon).distance_m

    def nearest_water(self, *, lat: ArrayLike, lon: ArrayLike) -> Nearest:
        """Find the nearest water; 0 m in it."""
        return self._nearest(("water",), lat, lon)

    def water_within(
        self, *, lat: ArrayLike, lon: ArrayLike, distance_m: float
    ) -> NDArray[np.bool_]:
        """Whether water of the data lies so near; water that they do not name may lie nearer."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self._nearest(("water",), lat, lon).distance_m <= distance_m)

    def hazard_within(
        self, *, lat: ArrayLike, lon: ArrayLike, distance_m: float
    ) -> NDArray[np.bool_]:
        """Whether a hazard of the data lies so near; others may."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self._nearest(("hazard",), lat, lon).distance_m <= distance_m)

    def land_of(self, *, lat: ArrayLike, lon: ArrayLike) -> Land:
        """Tell what the data say of the land at places; the gravest word where lands overlap."""
        x, y = _pairs(lat, lon)
        lands = self._areas("land")
        access = np.full(len(x), "unknown", dtype=object)
        name = np.full(len(x), "", dtype=object)
        named = np.zeros(len(x), dtype=np.bool_)
        if not lands.places:
            return Land(access, name, named)
        spot, area = lands.covering(x, y)
        grave = np.array([GRAVITY.index(place.access) for place in lands.places])
        # Later entries win an assignment, so the gravest goes last.
        order = np.argsort(grave[area], kind="stable")
        spot, area = spot[order], area[order]
        named[spot] = True
        access[spot] = np.array([p.access for p in lands.places], dtype=object)[area]
        name[spot] = np.array([p.name or "land" for p in lands.places], dtype=object)[area]
        return Land(access, name, named)

    def on_closed_ground(self, *, lat: ArrayLike, lon: ArrayLike) -> NDArray[np.bool_]:
        """Whether no tripod is put there: closed land, or an area of water or hazard."""
        x, y = _pairs(lat, lon)
        closed = self._areas("closed")
        out = np.zeros(len(x), dtype=np.bool_)
        if closed.places:
            out[closed.covering(x, y)[0]] = True
        return out

    def has(self, kind: str) -> bool:
        """Whether the data hold anything of a kind: track, parking, land, water, hazard."""
        return any(place.kind == kind for place in self.places)

    def _nearest(self, kinds: tuple[str, ...], lat: ArrayLike, lon: ArrayLike) -> Nearest:
        x, y = _pairs(lat, lon)
        distance = np.full(len(x), np.nan)
        name = np.full(len(x), "", dtype=object)
        chosen = self._of(kinds)
        known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
        if not chosen or not known.size:
            return Nearest(distance, name)
        import shapely

        tree, shapes = self._tree(kinds)
        plane = self._plane
        points: Any = shapely.points(plane.points(lon=x[known], lat=y[known]))
        # A limit of distance here makes the tree several times slower; it is drawn below.
        spot, which = tree.query_nearest(points, all_matches=False)
        lines = shapely.shortest_line(points[spot], shapes[which])
        ends = shapely.get_coordinates(shapely.get_point(lines, -1))
        # The plane finds which is nearest; how far it is, the ellipsoid says.
        end_lat, end_lon = plane.places(east_m=ends[:, 0], north_m=ends[:, 1])
        rows = known[spot]
        away = line_between(lat1=y[rows], lon1=x[rows], lat2=end_lat, lon2=end_lon).distance_m
        near = away <= FARTHEST_M
        distance[rows[near]] = away[near]
        name[rows[near]] = np.array([p.name for p in chosen], dtype=object)[which[near]]
        return Nearest(distance, name)

    @cached_property
    def _plane(self) -> LocalPlane:
        shapes = [place.geometry for place in self.places]
        plane = LocalPlane.about(shapes)
        reach = plane.reach_m(shapes)
        if reach > WIDEST_M:
            raise OutingError(
                f"The ways reach {reach / 1000.0:,.0f} km from their middle",
                hint="cut out the part about your candidates",
            )
        return plane

    @cached_property
    def _kept(self) -> dict[Any, Any]:
        return {}

    def _of(self, kinds: tuple[str, ...]) -> list[Place]:
        return [p for p in self.places if p.kind in kinds]

    def _tree(self, kinds: tuple[str, ...]) -> tuple[shapely.STRtree, NDArray[Any]]:
        if kinds not in self._kept:
            import shapely

            chosen = np.array([place.geometry for place in self._of(kinds)], dtype=object)
            shapes = self._plane.to_plane(chosen)
            self._kept[kinds] = (shapely.STRtree(shapes), shapes)
        found: tuple[shapely.STRtree, NDArray[Any]] = self._kept[kinds]
        return found

    def _areas(self, what: str) -> _Areas:
        if what not in self._kept:
            chosen = [
                place
                for place in self.places
                if (closes(place) if what == "closed" else place.kind == what)
                and place.geometry.geom_type in AREAS
            ]
            self._kept[what] = _Areas(chosen)
        areas: _Areas = self._kept[what]
        return areas


class _Areas:
    """Areas in longitude and latitude, and which of them cover a place."""

    def __init__(self, places: Sequence[Place]) -> None:
        import shapely

        self.places = places
        self._shapes = np.array([place.geometry for place in places], dtype=object)
        shapely.prepare(self._shapes)
        self._tree = shapely.STRtree(self._shapes)

    def covering(self, x: Floats, y: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Pairs of place and area that touch."""
        import shapely

        known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
        spot, area = self._tree.query(shapely.points(x[known], y[known]), predicate="intersects")
        return known[spot], area


def _pairs(lat: ArrayLike, lon: ArrayLike) -> tuple[Floats, Floats]:
    y, x = np.broadcast_arrays(
        np.atleast_1d(np.asarray(lat, dtype=np.float64)),
        np.atleast_1d(np.asarray(lon, dtype=np.float64)),
    )
    if x.ndim != 1:
        raise OutingError(f"Places have the shape {x.shape}", hint="give lat and lon of shape (n,)")
    return x, y
