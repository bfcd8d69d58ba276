"""One thing drawn twice in OpenStreetMap: as a building's outline and as a node inside it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.scouting.reading.kinds import EDGED, KINDS, Kind

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.base.osm_file import Element

_PLAIN: Final = KINDS["house"]
_NOT_BUILT: Final = ("tree", "rock", "rock arch", "cairn", "standing stone", "wayside cross")


def may_be_joined(element: Element, kind: Kind) -> bool:
    """Whether it is a node that an outline about it may stand for."""
    return element.form == "point" and kind.lone and kind.name not in _NOT_BUILT


def may_join(element: Element, kind: Kind) -> bool:
    """Whether it is an outline that may stand for a node inside it."""
    return element.form == "area" and kind.name not in EDGED


def join_inside(
    found: list[Element], kinds: list[Kind], shapes: NDArray[Any]
) -> tuple[list[Element], list[Kind], dict[int, str]]:
    """Join a node with the outline about it, where both are of one kind or the outline is plain.

    The outline keeps its place and width and takes the node's kind, and such tags as it has
    not itself.

    Returns
    -------
    tuple
        Elements and kinds anew, and for each node that was joined what to say of it.
    """
    import shapely

    found, kinds = list(found), list(kinds)
    pairs = list(enumerate(zip(found, kinds, strict=True)))
    nodes = [i for i, (one, kind) in pairs if may_be_joined(one, kind)]
    areas = [i for i, (one, kind) in pairs if may_join(one, kind)]
    said: dict[int, str] = {}
    if not nodes or not areas:
        return found, kinds, said
    tree = shapely.STRtree(shapes[areas])
    near, about = tree.query(shapes[nodes], predicate="intersects")
    for k in np.lexsort((about, near)):
        node, area = nodes[near[k]], areas[about[k]]
        if node in said or (kinds[area] is not _PLAIN and kinds[area] is not kinds[node]):
            continue
        kinds[area] = kinds[node]
        found[area] = replace(found[area], tags={**found[node].tags, **found[area].tags})
        said[node] = f"it lies in {found[area].label}, which is the same thing; joined with it"
    return found, kinds, said
