"""What a hiking map shows of the land, read from the user's own extract or places file.

A few kinds, chosen here by what helps somebody to recognise where they are. Woods and waters are
their outer edges: a clearing within a wood is not known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.osm_file import Element, elements, shapes_of
from backbearing.land.places import read_places
from backbearing.scouting.reading.osm import CREDIT
from backbearing.tables.cleaned import LONGEST_NAME, clean
from backbearing.tables.limits import LARGEST_BYTES, check_file

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Box = tuple[float, float, float, float]

MOST_FEATURES: Final = 400_000

LINES: Final = ("road", "lane", "track", "path", "stream")
AREAS: Final = ("wood", "water", "building")
NAMED: Final = "named"
"""Kinds by how they are drawn; what is only named is found by its name."""

KEYS: Final = (
    *("highway", "waterway", "natural", "water", "landuse", "building", "place"),
    *("tourism", "historic", "man_made", "amenity"),
)
"""Tags that are looked at [OSMTags]_."""

WAYS: Final[dict[str, str]] = {
    **dict.fromkeys(("motorway", "trunk", "primary", "secondary", "tertiary"), "road"),
    **dict.fromkeys(
        ("motorway_link", "trunk_link", "primary_link", "secondary_link", "tertiary_link"), "road"
    ),
    **dict.fromkeys(("unclassified", "residential", "living_street", "service", "road"), "lane"),
    "track": "track",
    **dict.fromkeys(("path", "footway", "bridleway", "cycleway", "steps", "pedestrian"), "path"),
}
STREAMS: Final = {"river", "stream", "canal", "tidal_channel"}
WATERS: Final = {
    "natural": {"water", "bay", "strait"},
    "waterway": {"riverbank", "dock"},
    "landuse": {"reservoir", "basin"},
}
WOODS: Final = {"natural": {"wood"}, "landuse": {"forest"}}

RANKS: Final = ("city", "town", "village", "hamlet", "peak", "locality")
"""Names of the map, the farthest seen first."""

RANKED: Final[dict[str, int]] = {
    **{word: i for i, word in enumerate(RANKS)},
    "suburb": 3,
    "isolated_dwelling": 3,
    "farm": 3,
    "saddle": 4,
}
NOT_SHOWN: Final = len(RANKS)


@dataclass(frozen=True, eq=False)
class MapFeatures:
    """Features of one file, n of them.

    Attributes
    ----------
    kind : ndarray of str
        One of `LINES`, `AREAS`, or `NAMED`.
    shape : ndarray of shapely geometries
        In longitude and latitude.
    name : ndarray of str
        Empty where there is none.
    rank : ndarray of int
        Place in `RANKS` of a name that the map shows; `NOT_SHOWN` for the others.
    credit : str
        Whose data they are.
    source : str
        The file's name.
    """

    kind: NDArray[np.str_]
    shape: NDArray[Any]
    name: NDArray[np.str_]
    rank: NDArray[np.int8]
    credit: str
    source: str

    def packed(self) -> tuple[Any, ...]:
        """Give what another process can be sent quickly; see `unpacked`."""
        import shapely

        wkb = shapely.to_wkb(self.shape).tolist()
        return (self.kind, wkb, self.name, self.rank, self.credit, self.source)

    @classmethod
    def unpacked(cls, packed: tuple[Any, ...]) -> MapFeatures:
        """Undo `packed`."""
        import shapely

        kind, wkb, *rest = packed
        return cls(kind, shapely.from_wkb(np.array(wkb, dtype=object)), *rest)


def read_map_features(file: Path, within: Box) -> MapFeatures:
    """Read what a file holds of the land within west, south, east and north, degrees.

    Parameters
    ----------
    file : Path
        An extract (.osm.pbf), or places as :func:`.read_places` reads them.
    within : tuple of float
        Features that touch this box are kept.

    Raises
    ------
    OutingError
        For a file that cannot be read, or holds too much.
    """
    if file.name.lower().endswith(".osm.pbf"):
        rows, shapes = _of_extract(file)
        credit = CREDIT
    else:
        places = read_places(file)
        rows = [(_kind_of_place(p.kind, p.geometry), p.name, NOT_SHOWN) for p in places]
        shapes = np.array([p.geometry for p in places], dtype=object)
        credit = f"Places: {file.name}."
    import shapely

    if not rows:
        shapes = np.empty(0, dtype=object)
    keep = np.flatnonzero(shapely.intersects(shapes, shapely.box(*within)))
    chosen = [rows[i] for i in keep]
    return MapFeatures(
        np.array([kind for kind, _, _ in chosen], dtype=np.str_),
        shapes[keep],
        np.array([name for _, name, _ in chosen], dtype=np.str_),
        np.array([rank for _, _, rank in chosen], dtype=np.int8),
        credit,
        file.name,
    )


def _of_extract(file: Path) -> tuple[list[tuple[str, str, int]], NDArray[Any]]:
    check_file(file, LARGEST_BYTES[".osm.pbf"], "a map")
    found: list[Element] = []
    rows: list[tuple[str, str, int]] = []
    for element in elements(file, KEYS):
        row = _row(element)
        if row is None:
            continue
        found.append(element)
        rows.append(row)
        if len(rows) > MOST_FEATURES:
            raise OutingError(
                f"{file.name} holds more than {MOST_FEATURES:,} things that a map would show",
                hint="cut out the part about your ground",
                file=str(file),
            )
    return rows, shapes_of(found)


def _row(element: Element) -> tuple[str, str, int] | None:
    """Kind, name and rank of the name; None for what is neither drawn nor named."""
    tags = element.tags
    name = clean(tags.get("name", ""), LONGEST_NAME)
    rank = RANKED.get(tags.get("place", tags.get("natural", "")), NOT_SHOWN) if name else NOT_SHOWN
    kind = _drawn(element)
    if kind is None and not name:
        return None
    return kind or NAMED, name, rank


def _drawn(element: Element) -> str | None:  # one return for each kind
    """As what an element is drawn; None where it is not."""
    tags = element.tags
    if element.form == "line":
        if "highway" in tags:
            return WAYS.get(tags["highway"])
        return "stream" if tags.get("waterway") in STREAMS else None
    if element.form != "area":
        return None
    for kind, table in (("water", WATERS), ("wood", WOODS)):
        if any(tags.get(key) in values for key, values in table.items()):
            return kind
    if tags.get("building", "no") != "no":
        return "building"
    return WAYS.get(tags.get("highway", ""))


def _kind_of_place(kind: str, geometry: Any) -> str:
    """As what a place of the user's own file is drawn."""
    area = geometry.geom_type in ("Polygon", "MultiPolygon")
    line = geometry.geom_type in ("LineString", "MultiLineString")
    if kind == "track" and (line or area):
        return "track"
    if kind == "water" and (line or area):
        return "water" if area else "stream"
    return NAMED
