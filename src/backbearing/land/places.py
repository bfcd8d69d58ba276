"""The user's own places: parking, tracks, land and hazards from GeoJSON or GeoPackage."""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING, Any, Final, get_args

from backbearing.base.datum_shift import to_wgs84
from backbearing.base.errors import OutingError
from backbearing.base.input_files import check_readable, is_missing, read_text, shown_path
from backbearing.base.limits import LONGEST_NAME, LONGEST_TEXT, shown
from backbearing.base.numbers import num
from backbearing.base.sqlite_layers import geopackage_trouble
from backbearing.base.text import shortened
from backbearing.plan.place import Access, Place, PlaceKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

KINDS: tuple[str, ...] = get_args(PlaceKind)
ACCESSES: tuple[str, ...] = get_args(Access)
LARGEST_FILE_BYTES: Final = 50_000_000
MOST_PLACES: Final = 100_000


def read_places(path: Path) -> tuple[Place, ...]:
    """Read places; coordinates are taken to WGS84 when the file names another system.

    Each feature has the properties ``kind`` (parking, track, land, water, hazard or
    note), ``name``, and where useful ``note`` and ``access`` (open, ask first, closed or
    unknown).

    Raises
    ------
    OutingError
        Names the file, the feature and the key.
    """
    if is_missing(path):
        raise OutingError(
            f"There is no places file at {shown_path(path)}",
            hint="correct [ground] places, or leave it out",
            file=str(path),
            key="ground.places",
        )
    check_readable(path, "places", largest_bytes=LARGEST_FILE_BYTES)
    readers = {".geojson": _from_geojson, ".json": _from_geojson, ".gpkg": _from_geopackage}
    suffix = path.suffix.lower()
    if suffix not in readers:
        raise OutingError(
            f"{path.name}: places are read from .geojson or .gpkg, not {suffix or 'a bare name'}.",
            file=str(path),
        )
    return tuple(
        _place(path, number, properties, geometry)
        for number, (properties, geometry) in enumerate(readers[suffix](path), start=1)
    )


def _from_geojson(path: Path) -> Iterator[tuple[Mapping[str, Any], Any]]:
    """Read the features of a FeatureCollection [RFC7946]_, in WGS84."""
    try:
        document = json.loads(read_text(path, "places", largest_bytes=LARGEST_FILE_BYTES))
    except (ValueError, RecursionError) as problem:
        raise _unreadable(path, str(problem)[:120] or "nested too deep") from problem
    features = document.get("features") if isinstance(document, dict) else None
    if not isinstance(features, list):
        raise _unreadable(path, "no list of features")
    if len(features) > MOST_PLACES:
        raise _unreadable(path, f"more than {MOST_PLACES:,} features")
    for number, feature in enumerate(features, start=1):
        if not isinstance(feature, dict):
            raise _refuse(path, number, "is no GeoJSON Feature", "write one")
        properties = feature.get("properties")
        yield (
            properties if isinstance(properties, dict) else {},
            _shape(path, number, feature.get("geometry")),
        )


def _shape(path: Path, number: int, geometry: Any) -> Any:
    """Make a geometry; what is none, or has a corner that is no number, is refused."""
    import shapely
    from shapely.geometry import shape

    if geometry is None:
        return None
    try:
        made = shapely.force_2d(shape(geometry))
        finite = all(math.isfinite(v) for v in shapely.get_coordinates(made).ravel())
    except Exception as problem:  # hostile geometries fail in every way there is
        raise _refuse(
            path, number, "has a geometry that cannot be read", "see RFC 7946, section 3.1"
        ) from problem
    if not finite:
        raise _refuse(path, number, "has a corner that is not a finite number", "draw it again")
    return made


def _from_geopackage(path: Path) -> Iterator[tuple[Mapping[str, Any], Any]]:
    trouble = geopackage_trouble(path)
    if trouble:
        raise OutingError(f"{path.name} {trouble}.", file=str(path))
    import geopandas

    try:
        frame = geopandas.read_file(path)
    except Exception as problem:  # the driver's own errors share no class
        raise _unreadable(path, str(problem)[:120]) from problem
    if not isinstance(frame, geopandas.GeoDataFrame) or frame.crs is None:
        raise _unreadable(path, "it names no coordinate system")
    if len(frame) > MOST_PLACES:
        raise _unreadable(path, f"more than {MOST_PLACES:,} features")
    shapes = to_wgs84(list(frame.geometry), frame.crs)
    rows = frame.drop(columns=frame.geometry.name).to_dict("records")
    yield from zip(rows, shapes, strict=True)


def _unreadable(path: Path, why: str) -> OutingError:
    return OutingError(
        f"{path.name} cannot be read as places ({why})",
        hint="write a GeoJSON FeatureCollection in WGS84 or a GeoPackage",
        file=str(path),
    )


def _refuse(path: Path, number: int, what: str, hint: str, **facts: Any) -> OutingError:
    return OutingError(
        f"{path.name}: feature {number} {what}", hint=hint, file=str(path), row=number, **facts
    )


def _place(path: Path, number: int, row: Mapping[str, Any], geometry: Any) -> Place:
    kind = _word(row, "kind", "note")
    access = _word(row, "access", "unknown")
    for key, value, known in (("kind", kind, KINDS), ("access", access, ACCESSES)):
        if value not in known:
            raise OutingError(
                f"{path.name}: feature {number}, {key} is {shown(value)}",
                hint=f"write one of {', '.join(known)}",
                file=str(path),
                row=number,
                key=key,
            )
    if geometry is None or geometry.is_empty:
        raise _refuse(path, number, "has no geometry", "draw it or take it out")
    west, south, east, north = geometry.bounds
    if not (-180.0 <= west <= east <= 180.0 and -90.0 <= south <= north <= 90.0):
        raise _refuse(
            path,
            number,
            f"lies off the globe ({num(west)}, {num(south)})",
            "write longitude, then latitude, in WGS84 degrees",
        )
    return Place(
        kind=kind,  # type: ignore[arg-type]  # checked against the literal just above
        name=shortened(_word(row, "name", ""), LONGEST_NAME),
        note=shortened(_word(row, "note", ""), LONGEST_TEXT),
        access=access,  # type: ignore[arg-type]
        geometry=geometry,
    )


def _word(row: Mapping[str, Any], key: str, default: str) -> str:
    value = row.get(key)
    return whole(value) if isinstance(value, str) and value else default


def whole(text: str) -> str:
    r"""Put the code point for half a surrogate pair, which JSON can escape and no file hold."""
    return _HALVES.sub(lambda found: f"<U+{ord(found.group()):04X}>", text)


_HALVES = re.compile("[\ud800-\udfff]")
