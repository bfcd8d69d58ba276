"""Kinds of things that stand on the land: their words, usual sizes and OpenStreetMap tags.

The usual sizes are common practice, no source: they keep a candidate of unknown size in the
list, and every one of them is marked as a guess. The tags are the vocabulary of [OSMTags]_;
which of them suit a lone subject is this project's own choice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

Tags = tuple[tuple[str, tuple[str, ...]], ...]
"""Keys that must all be there, each with one of the values; no values: any but ``no``."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of thing.

    Attributes
    ----------
    name, plural : str
        Words for people; the name is what files and tables carry.
    height_m, width_m : float
        Usual size, metres (common practice, no source).
    lone : bool
        Whether it suits a lone subject; if not, it only clutters the frames of others.
    words : tuple of str
        Further words by which a file may call it.
    osm : tuple of Tags
        Tag sets of OpenStreetMap, any of which makes an element one of this kind.
    """

    name: str
    plural: str
    height_m: float
    width_m: float
    lone: bool = True
    words: tuple[str, ...] = ()
    osm: tuple[Tags, ...] = ()


def _tags(**keys: str) -> Tags:
    """Write ``man_made="tower|beacon"``; a double underscore stands for a colon."""
    return tuple(
        (key.replace("__", ":"), tuple(values.split("|")) if values else ())
        for key, values in keys.items()
    )


_LONE = (
    Kind("ruin", "ruins", 6.0, 10.0, words=("ruined house", "ruined building"), osm=(
        _tags(historic="ruins"), _tags(building="ruins"), _tags(building="", ruins="yes"),
        _tags(historic="castle|church|building|farm|house", ruins="yes"),
        _tags(abandoned__building=""), _tags(ruins__building=""),
    )),
    Kind("windpump", "windpumps", 10.0, 3.0, words=("wind pump",), osm=(
        _tags(man_made="windpump"),
    )),
    Kind("windmill", "windmills", 15.0, 9.0, osm=(
        _tags(man_made="windmill"), _tags(building="windmill"), _tags(historic="windmill"),
    )),
    Kind("lighthouse", "lighthouses", 20.0, 6.0, osm=(_tags(man_made="lighthouse"),)),
    Kind("standing stone", "standing stones", 2.5, 1.2,
         words=("menhir", "megalith", "dolmen"), osm=(
        _tags(historic="megalith"), _tags(megalith_type=""),
        _tags(archaeological_site="megalith|standing_stone"),
    )),
    Kind("wayside cross", "wayside crosses", 3.0, 1.5, words=("cross", "shrine", "summit cross"),
         osm=(_tags(historic="wayside_cross|wayside_shrine"), _tags(man_made="cross"),
              _tags(summit__cross="yes"))),
    Kind("chapel", "chapels", 8.0, 8.0, osm=(
        _tags(building="chapel"), _tags(historic="chapel|wayside_chapel"),
        _tags(amenity="place_of_worship", place_of_worship="chapel|wayside_chapel"),
    )),
    Kind("church", "churches", 20.0, 18.0, osm=(
        _tags(building="church"), _tags(historic="church"), _tags(amenity="place_of_worship"),
    )),
    Kind("castle", "castles", 18.0, 30.0, words=("fort",), osm=(_tags(historic="castle|fort"),)),
    Kind("water tower", "water towers", 25.0, 9.0, osm=(
        _tags(man_made="water_tower"), _tags(building="water_tower"),
    )),
    Kind("chimney", "chimneys", 25.0, 3.0, osm=(_tags(man_made="chimney"),)),
    Kind("silo", "silos", 12.0, 5.0, osm=(_tags(man_made="silo"), _tags(building="silo"))),
    Kind("headframe", "headframes", 20.0, 8.0, words=("mine headframe",), osm=(
        _tags(man_made="mineshaft", headframe="yes"), _tags(man_made="headframe"),
    )),
    Kind("barn", "barns", 8.0, 14.0, words=("shed",), osm=(
        _tags(building="barn|farm_auxiliary|cowshed|stable|sheepfold"),
    )),
    Kind("hut", "huts", 4.0, 6.0, words=("cabin", "shelter", "bothy"), osm=(
        _tags(building="hut|cabin|shelter"), _tags(tourism="alpine_hut|wilderness_hut"),
        _tags(amenity="shelter"),
    )),
    Kind("monument", "monuments", 8.0, 4.0, words=("obelisk",), osm=(
        _tags(historic="monument"), _tags(man_made="obelisk"),
    )),
    Kind("statue", "statues", 4.0, 2.0, words=("sculpture",), osm=(
        _tags(tourism="artwork", artwork_type="statue|sculpture|stone|installation"),
        _tags(memorial="statue"),
    )),
    Kind("cairn", "cairns", 1.8, 1.8, osm=(_tags(man_made="cairn"),)),
    Kind("beacon", "beacons", 5.0, 2.0, osm=(_tags(man_made="beacon"),)),
    Kind("wreck", "wrecks", 5.0, 15.0, words=("boat",), osm=(
        _tags(historic="wreck|ship|vehicle|aircraft|locomotive"),
    )),
    Kind("rock arch", "rock arches", 10.0, 15.0, words=("arch",), osm=(_tags(natural="arch"),)),
    Kind("rock", "rocks", 4.0, 5.0, words=("boulder", "stone", "tor", "outcrop"), osm=(
        _tags(natural="rock|stone|hoodoo"),
    )),
)  # fmt: skip

_CLUTTER = (
    Kind("mast", "masts", 30.0, 3.0, lone=False, words=("antenna",), osm=(
        _tags(man_made="mast|antenna|communications_tower"),
        _tags(man_made="tower", tower__type="communication|lighting|power|monitoring|radar"),
    )),
    Kind("wind turbine", "wind turbines", 120.0, 80.0, lone=False, words=("turbine",), osm=(
        _tags(power="generator", generator__source="wind"),
    )),
    Kind("pylon", "pylons", 35.0, 10.0, lone=False, osm=(_tags(power="tower"),)),
    Kind("pole", "poles", 9.0, 0.5, lone=False, words=("power pole", "lamp post"), osm=(
        _tags(power="pole"), _tags(man_made="utility_pole|flagpole"),
        _tags(highway="street_lamp"),
    )),
    Kind("town tree", "town trees", 8.0, 6.0, lone=False, osm=(
        _tags(natural="tree", denotation="avenue|urban|street|garden|park|cluster|orchard"),
    )),
)  # fmt: skip

_GENERAL = (
    Kind("tower", "towers", 15.0, 6.0, words=("lookout", "fire tower", "bell tower"), osm=(
        _tags(man_made="tower"), _tags(historic="tower"), _tags(building="tower"),
    )),
    Kind("tree", "trees", 8.0, 7.0, words=("dead tree", "lone tree", "oak", "pine", "snag"), osm=(
        _tags(natural="tree"),
    )),
    Kind("tank", "tanks", 10.0, 10.0, lone=False, words=("storage tank",), osm=(
        _tags(man_made="storage_tank|gasometer"),
    )),
    Kind("wood", "woods", 15.0, 30.0, lone=False, words=("forest", "pines"), osm=(
        _tags(natural="wood"), _tags(landuse="forest"),
    )),
    Kind("tree row", "tree rows", 10.0, 30.0, lone=False, words=("hedge", "avenue"), osm=(
        _tags(natural="tree_row"),
    )),
    Kind("house", "houses", 7.0, 12.0, lone=False, words=("building",), osm=(
        _tags(building=""),
    )),
)  # fmt: skip

OTHER: Final = Kind("other", "other things", 5.0, 5.0)
"""What stands for a kind that is not known here."""

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {kind.name: kind for kind in (*_LONE, *_CLUTTER, *_GENERAL)}
)
"""Kinds by name; for OpenStreetMap the first that fits counts."""

EDGED: Final = ("wood", "tree row")
"""Kinds whose outline stands up all along, not in one place."""

_BY_WORD: Final[Mapping[str, str]] = MappingProxyType(
    {
        word: kind.name
        for kind in reversed((*_LONE, *_CLUTTER, *_GENERAL))
        for word in (*kind.words, kind.plural, kind.name)
    }
)


@lru_cache(maxsize=4096)
def kind_named(word: str) -> Kind | None:
    """Find a kind by its name, plural or another word, in any case; None when unknown."""
    plain = " ".join(word.casefold().replace("_", " ").split())
    if plain in ("", "other"):
        return OTHER if plain else None
    name = _BY_WORD.get(plain)
    return KINDS[name] if name else None


def kind_of_tags(tags: Mapping[str, str]) -> Kind | None:
    """Find the kind of an OpenStreetMap element by its tags; None when it is none of these."""
    best: tuple[int, Kind] | None = None
    for key in tags:
        for rank, wanted, kind in _BY_KEY.get(key, ()):
            if best is not None and rank >= best[0]:
                break
            if all(_fits(tags.get(k), values) for k, values in wanted):
                best = (rank, kind)
                break
    return best[1] if best else None


def tag_keys() -> tuple[str, ...]:
    """List the keys of which every element of a kind has at least one."""
    return tuple(sorted(_BY_KEY))


def _fits(value: str | None, wanted: tuple[str, ...]) -> bool:
    if value is None or value == "no":
        return False
    return value in wanted if wanted else True


def _by_key() -> dict[str, list[tuple[int, Tags, Kind]]]:
    """Tag sets by their first key, in the order of the kinds."""
    out: dict[str, list[tuple[int, Tags, Kind]]] = {}
    for rank, kind in enumerate(KINDS.values()):
        for wanted in kind.osm:
            out.setdefault(wanted[0][0], []).append((rank, wanted, kind))
    return out


_BY_KEY: Final = MappingProxyType(_by_key())
