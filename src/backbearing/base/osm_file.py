"""Streaming through an OpenStreetMap extract (.osm.pbf) with pyosmium, an optional extra."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path
    from types import ModuleType

    from numpy.typing import NDArray


MOST_BYTES_AT_ONCE: Final = 50_000_000

Corners = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Element:
    """A node, a way or a multipolygon relation, with its tags and its lines of corners.

    Corners are longitude and latitude. ``form`` is ``point``, ``line`` or ``area``; a closed
    way is an area unless it is a way to go on or says ``area=no``, and of an area only the
    outer rings are kept.
    """

    label: str
    number: int
    tags: dict[str, str]
    form: str
    lines: list[Corners]


def shapes_of(found: Sequence[Element]) -> NDArray[Any]:
    """Make the elements' geometries, each form at once."""
    import shapely

    out: NDArray[Any] = np.empty(len(found), dtype=object)
    for form in ("point", "line", "area"):
        at = np.array([i for i, one in enumerate(found) if one.form == form], dtype=np.intp)
        if not at.size:
            continue
        lines = [(k, line) for k, i in enumerate(at) for line in found[i].lines]
        corners = np.array([corner for _, line in lines for corner in line])
        of = np.repeat(np.arange(len(lines)), [len(line) for _, line in lines])
        if form == "point":
            out[at] = shapely.points(corners)
        elif form == "line":
            out[at] = shapely.linestrings(corners, indices=of)
        else:
            parts: Any = shapely.polygons(shapely.linearrings(corners, indices=of))
            owner = np.array([k for k, _ in lines])
            out[at] = parts[np.searchsorted(owner, np.arange(len(at)))]
            counts = np.bincount(owner)
            for k in np.flatnonzero(counts > 1):
                out[at[k]] = shapely.MultiPolygon(list(parts[owner == k]))
    return out


def osmium_module() -> ModuleType:
    """Import pyosmium.

    Raises
    ------
    OutingError
        When it is not installed.
    """
    try:
        import osmium
        import osmium.area
        import osmium.filter
    except ImportError as problem:
        raise OutingError(
            "OpenStreetMap extracts need the package osmium",
            hint=(
                "install it with `pip install 'backbearing[osm]'`, or export the places as GeoJSON"
            ),
            package="osmium",
        ) from problem
    return osmium


def elements(
    file: Path, keys: tuple[str, ...], *, index: Path | None = None, nodes_only: bool = False
) -> Iterator[Element]:
    """Give every element that has one of the keys among its tags and a place.

    Parameters
    ----------
    file : Path
    keys : tuple of str
    index : Path, optional
        Where the places of all nodes are kept while ways are read, 16 bytes each; in memory
        without one.
    nodes_only : bool
        Whether ways and relations are left out, which takes a fraction of the time.

    Raises
    ------
    OutingError
        For a file that is no extract in PBF, is cut short, or gives nodes after ways.
    """
    osmium = osmium_module()
    # The format is said, so that no other kind of file is tried behind this name.
    source = _source(osmium, file)
    try:
        if nodes_only:
            stream = osmium.FileProcessor(source, osmium.osm.NODE)
        else:
            stream = osmium.FileProcessor(source)
            if index is not None:
                stream = stream.with_locations(f"sparse_file_array,{index}")
            stream = stream.with_areas(osmium.filter.KeyFilter(*keys))
        past_nodes = False
        for one in stream.with_filter(osmium.filter.KeyFilter(*keys)):
            if past_nodes and one.is_node():
                raise _out_of_order(file)
            past_nodes = past_nodes or not one.is_node()
            element = _element(one)
            if element is not None:
                yield element
    except (RuntimeError, OSError) as problem:
        raise OutingError(
            f"{file.name} cannot be read as an OpenStreetMap extract in PBF ({str(problem)[:120]})",
            hint="download or cut it anew",
            file=str(file),
        ) from problem


def _out_of_order(file: Path) -> OutingError:
    return OutingError(
        f"{file.name} gives nodes after ways, whose places are then not known",
        hint="sort it by type and number, as extracts are",
        file=str(file),
    )


def _source(osmium: ModuleType, file: Path) -> Any:
    """A file's bytes, or the file where they are many: of a damaged file osmium keeps one open."""
    if file.stat().st_size <= MOST_BYTES_AT_ONCE:
        return osmium.io.FileBuffer(file.read_bytes(), "pbf")
    return osmium.io.File(str(file), "pbf")


def _element(one: Any) -> Element | None:
    kind = one.type_str()
    if kind == "n":
        if not one.location.valid():
            return None
        return Element(f"node {one.id}", one.id, _tags(one), "point", [[(one.lon, one.lat)]])
    if kind == "w":
        corners = [(n.lon, n.lat) for n in one.nodes if n.location.valid()]
        if len(corners) < 2 or len(corners) != len(one.nodes):
            return None
        tags = _tags(one)
        closed = len(corners) >= 4 and corners[0] == corners[-1]
        area = closed and tags.get("area") != "no" and ("highway" not in tags or "area" in tags)
        return Element(f"way {one.id}", one.id, tags, "area" if area else "line", [corners])
    # Closed ways come as ways; of the areas only relations are left.
    if kind == "a" and not one.from_way():
        rings = [[(n.lon, n.lat) for n in ring] for ring in one.outer_rings()]
        rings = [ring for ring in rings if len(ring) >= 4]
        if rings:
            number = one.orig_id()
            return Element(f"relation {number}", number, _tags(one), "area", rings)
    return None


def _tags(one: Any) -> dict[str, str]:
    return {tag.k: tag.v for tag in one.tags}


def extent_of(file: Path) -> tuple[float, float, float, float] | None:
    """South, west, north and east that an extract's own header states; None where it states none.

    Raises
    ------
    OutingError
        When osmium is not installed.
    """
    osmium = osmium_module()
    try:
        reader = osmium.io.Reader(_source(osmium, file))
    except (RuntimeError, OSError):
        return None
    box = reader.header().box()
    reader.close()
    if not box.valid():
        return None
    low, high = box.bottom_left, box.top_right
    return low.lat, low.lon, high.lat, high.lon
