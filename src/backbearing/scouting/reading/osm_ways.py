"""Ways, parking, water and land from an OpenStreetMap extract [OSMTags]_, as places.

Which tags count as what is this project's own choice. A map's word on access is neither leave
nor a promise: people edit it, and owners do not ask it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.base.errors import OutingError
from backbearing.base.osm_file import Element, elements, shapes_of
from backbearing.plan.place import Access, Place, PlaceKind
from backbearing.scouting.reading.osm import ACCESS_WORDS, CREDIT
from backbearing.tables.cleaned import LONGEST_NAME, clean
from backbearing.tables.limits import LARGEST_BYTES, check_file

if TYPE_CHECKING:
    from pathlib import Path

MOST_PLACES: Final = 2_000_000

KEYS: Final = (
    *("highway", "amenity", "natural", "waterway", "landuse", "leisure", "military"),
    *("aeroway", "water"),
)

_NOT_WALKED: Final = {
    *("motorway", "motorway_link", "trunk", "trunk_link", "construction", "proposed"),
    *("street_lamp", "bus_stop", "crossing", "traffic_signals", "raceway", "abandoned"),
}
_WATER: Final = {
    "natural": {"water", "wetland", "bay", "strait"},
    "waterway": {"river", "stream", "canal", "riverbank", "dock", "tidal_channel"},
    "landuse": {"reservoir", "basin", "salt_pond"},
}
_HAZARDS: Final = {"natural": {"cliff", "sinkhole", "glacier", "mud"}, "landuse": {"quarry"}}
_CLOSED: Final = {
    "landuse": {"military", "railway", "industrial", "landfill", "construction"},
    "aeroway": {"aerodrome"},
    "leisure": {"golf_course"},
}
_ASKED: Final = {
    "landuse": {"residential", "farmyard", "farmland", "orchard", "vineyard", "cemetery"},
    "leisure": {"nature_reserve", "garden"},
}
"""Land on which one asks first, unless its own tag says otherwise."""


def read_ways(file: Path) -> tuple[tuple[Place, ...], tuple[str, ...]]:
    """Read places of the kinds track, parking, water, hazard and land, and what to say of them.

    Raises
    ------
    OutingError
        Without the `osmium` package, or for a file that is no extract.
    """
    check_file(file, LARGEST_BYTES[".osm.pbf"], "ways")
    found: list[Element] = []
    meant: list[tuple[int, PlaceKind, Access]] = []
    for element in elements(file, KEYS):
        kinds = _kinds(element)
        if not kinds:
            continue
        meant += [(len(found), kind, access) for kind, access in kinds]
        found.append(element)
        if len(meant) > MOST_PLACES:
            raise OutingError(
                f"{file.name} holds more than {MOST_PLACES:,} ways and lands",
                hint="cut out a smaller part",
                file=str(file),
            )
    shapes = shapes_of(found)
    names = [_name(element) for element in found]
    places = tuple(Place(kind, names[i], "", access, shapes[i]) for i, kind, access in meant)
    notes = (
        CREDIT,
        "The sea is no area in the extract: water within reach of a coast is not known from it.",
    )
    return places, notes


def _kinds(element: Element) -> list[tuple[PlaceKind, Access]]:
    """List what an element stands for: a quarry is both land and hazard."""
    tags = element.tags
    access: Access = ACCESS_WORDS.get(tags.get("foot", tags.get("access", "")), "unknown")
    line, area = element.form == "line", element.form == "area"
    highway = tags.get("highway")
    out: list[tuple[PlaceKind, Access]] = []
    if highway and highway not in _NOT_WALKED and access != "closed" and (line or area):
        out.append(("track", access))
    if tags.get("amenity") == "parking" and access not in ("closed", "ask first"):
        out.append(("parking", access))
    if (line or area) and _is(tags, _WATER):
        out.append(("water", "unknown"))
    if (line or area) and _is(tags, _HAZARDS):
        out.append(("hazard", "unknown"))
    word = _land_word(tags, access) if area and not highway else None
    if word:
        out.append(("land", word))
    return out


def _land_word(tags: dict[str, str], access: Access) -> Access | None:
    """Word on access to an area of land; None where nothing is said."""
    if "military" in tags or _is(tags, _CLOSED) or access == "closed":
        return "closed"
    if access == "open":
        return "open"
    if access == "ask first" or _is(tags, _ASKED):
        return "ask first"
    return None


def _is(tags: dict[str, str], table: dict[str, set[str]]) -> bool:
    return any(tags.get(key) in values for key, values in table.items())


def _name(element: Element) -> str:
    tags = element.tags
    what = next((tags[key] for key in KEYS if tags.get(key)), "place").replace("_", " ")
    return clean(tags.get("name", ""), LONGEST_NAME) or clean(
        f"{what}, {element.label}", LONGEST_NAME
    )
