"""The shape that pictures draw for a subject: its own outline, or a plausible one of its kind.

Nothing is computed from a plausible one. Framing, light, stands and doubts take the outline
that was given, or the plain box.
"""

from __future__ import annotations

import itertools
import re
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from backbearing.outing import silhouette_parts as drawn
from backbearing.outing.outline import Outline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shapely.geometry.base import BaseGeometry

    from backbearing.outing.outline import Ring
    from backbearing.outing.silhouette_parts import Parts
    from backbearing.outing.subject import Subject

LONGEST_SIDE: Final = 5.0
"""A side is cut into pieces of at most this, of a canvas of 100: fisheyes bend what is straight."""

_SIMPLER: Final = 0.12
"""Rounded corners are simplified to this, of a canvas of 100."""

_CONIFERS: Final = "conifer pine fir spruce larch cedar cypress juniper yew redwood sequoia"
_BROADLEAVES: Final = (
    "tree oak ash beech elm birch maple lime chestnut willow poplar sycamore rowan hawthorn thorn "
    "olive eucalyptus gum baobab acacia hornbeam alder walnut"
)
_LIFELESS: Final = "dead drowned bare leafless burnt burned blasted withered"
"""Of a tree, any of these makes a dead one."""

_KINDS: Final[tuple[tuple[str, Parts], ...]] = (
    ("snag stump deadwood", drawn.DEAD_TREE),
    (_CONIFERS, drawn.CONIFER),
    (_BROADLEAVES, drawn.BROADLEAF),
    ("ruin ruined wall gable arch", drawn.RUIN),
    ("windpump", drawn.WINDPUMP),
    ("mill windmill", drawn.WINDMILL),
    ("lighthouse", drawn.LIGHTHOUSE),
    ("chimney", drawn.CHIMNEY),
    ("chapel", drawn.CHAPEL),
    ("church kirk cathedral minster abbey priory", drawn.CHURCH),
    ("mast antenna aerial pylon headframe", drawn.MAST),
    ("tower beacon folly keep castle fort lookout campanile", drawn.TOWER),
    ("barn shed stable byre", drawn.BARN),
    ("hut cabin bothy shelter", drawn.HUT),
    ("house cottage farmhouse farm building lodge watermill", drawn.HOUSE),
    ("cross shrine", drawn.CROSS),
    ("menhir megalith monolith monument obelisk", drawn.STONE),
    ("cairn", drawn.CAIRN),
    ("rock boulder stone tor outcrop crag stack", drawn.ROCK),
    ("person man woman figure people statue sculpture hiker", drawn.PERSON),
)
"""Words of a kind; the first row that holds one of them counts."""

_PAIRS: Final = {
    "wind pump": drawn.WINDPUMP,
    "water tower": drawn.WATER_TOWER,
    "standing stone": drawn.STONE,
    "fire tower": drawn.MAST,
    "rock arch": drawn.ROCK,
}
"""Two words that mean another thing than either alone."""


def drawn_outline(subject: Subject) -> Outline:
    """Shape to draw: the subject's own, or one of its kind at its width and height.

    Parameters
    ----------
    subject : Subject

    Examples
    --------
    >>> from backbearing.outing import Subject
    >>> from backbearing.outing.silhouettes import drawn_outline
    >>> tower = Subject(lat=36.30250, lon=-84.18000, height_m=12.0, width_m=4.0, kind="old tower")
    >>> shape = drawn_outline(tower)
    >>> f"{shape.width_m:.1f} m wide and {shape.height_m:.1f} m high: {shape.source}"
    '4.0 m wide and 12.0 m high: a plausible tower'
    """
    if subject.outline is not None:
        return subject.outline
    parts = _parts_of(subject.kind)
    whole = _unit_outline(parts)
    return whole.stretched(subject.shown_width_m, subject.height_m)


def shape_note(subject: Subject) -> str:
    """Say that a drawn shape is not the subject's own; empty where it is.

    The words are ours and never the outing's: a kind only chooses among them.
    """
    if subject.outline is not None:
        return ""
    return f"shape: {_source(_parts_of(subject.kind))}, not yours"


def known_kinds() -> list[str]:
    """Words of which each chooses another shape, for who is to pick one.

    Examples
    --------
    >>> "barn" in known_kinds(), "dead tree" in known_kinds()
    (True, True)
    """
    return sorted({"dead tree", *_PAIRS, *(words.split()[0] for words, _ in _KINDS)})


def _source(parts: Parts) -> str:
    return "a plain stand-in" if parts is drawn.UNKNOWN else f"a plausible {parts.words}"


def _parts_of(kind: str) -> Parts:
    """Choose by the plain English words of a kind, singular or plural."""
    words = [_singular(word) for word in re.findall(r"[a-z]+", kind[:200].casefold())]
    for pair in itertools.pairwise(words):
        if (found := _PAIRS.get(" ".join(pair))) is not None:
            return found
    if _any_of(_LIFELESS, words) and _any_of(f"{_CONIFERS} {_BROADLEAVES}", words):
        return drawn.DEAD_TREE
    for known, parts in _KINDS:
        if _any_of(known, words):
            return parts
    return drawn.UNKNOWN


def _any_of(known: str, words: list[str]) -> bool:
    return not set(known.split()).isdisjoint(words)


def _singular(word: str) -> str:
    if word.endswith(("ches", "sses", "shes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and not word.endswith("ss") else word


@lru_cache(maxsize=32)
def _unit_outline(parts: Parts) -> Outline:
    """Join the parts, as wide as 1 about the middle of the base and as high as 1."""
    import shapely

    whole = shapely.union_all(list(_filled(parts)))
    whole = whole.difference(shapely.union_all([shapely.Polygon(h) for h in _points(parts.holes)]))
    whole = whole.intersection(shapely.box(-999.0, 0.0, 999.0, 999.0))
    whole = shapely.segmentize(shapely.simplify(whole, _SIMPLER), LONGEST_SIDE)
    west, south, east, north = whole.bounds
    wide, tall, middle = east - west, north - south, (east + west) / 2.0

    def unit(line: BaseGeometry) -> Ring:
        return tuple(
            ((float(x) - middle) / wide, (float(y) - south) / tall)
            for x, y in shapely.get_coordinates(line)[:-1]
        )

    pieces = shapely.get_parts(whole)
    lines = [line for piece in pieces for line in (piece.exterior, *piece.interiors)]
    return Outline(tuple(unit(line) for line in lines), _source(parts))


def _filled(parts: Parts) -> Iterator[BaseGeometry]:
    import shapely

    for ring in _points(parts.areas):
        yield shapely.Polygon(ring)
    for ((x, y, radius),) in _points(parts.lumps):
        yield shapely.Point(x, y).buffer(radius, quad_segs=6)
    for limb in _points(parts.limbs):
        # A piece of a limb is the hull of a disc at either end.
        discs = [shapely.Point(x, y).buffer(width / 2.0, quad_segs=4) for x, y, width in limb]
        for one, other in itertools.pairwise(discs):
            yield shapely.union(one, other).convex_hull


def _points(text: str) -> list[list[tuple[float, ...]]]:
    """Read ``x y, x y | x y, ...``."""
    return [
        [tuple(float(v) for v in point.split()) for point in shape.split(",")]
        for shape in text.split("|")
        if shape.strip()
    ]
