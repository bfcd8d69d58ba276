"""The user's own places: parking, tracks, land and hazards from GeoJSON or GeoPackage."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any, get_args

from backbearing.base.datum_shift import WGS84, to_wgs84
from backbearing.base.errors import OutingError
from backbearing.plan.place import Access, Place, PlaceKind

if TYPE_CHECKING:
    from pathlib import Path

    import geopandas

KINDS: tuple[str, ...] = get_args(PlaceKind)
ACCESSES: tuple[str, ...] = get_args(Access)
LARGEST_FILE_BYTES = 50_000_000


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
    if not path.is_file():
        raise OutingError(
            f"There is no places file at {path}",
            hint="correct [ground] places, or leave it out",
            file=str(path),
            key="ground.places",
        )
    if path.stat().st_size > LARGEST_FILE_BYTES:
        raise OutingError(
            f"{path.name} is larger than {LARGEST_FILE_BYTES // 1_000_000} MB",
            hint="keep only what lies near the subject",
            file=str(path),
        )
    frame = _read_frame(path)
    places = []
    for number, row in enumerate(frame.itertuples(index=False), start=1):
        places.append(_place(path, number, row))
    return tuple(places)


def _read_frame(path: Path) -> geopandas.GeoDataFrame:
    readers = {".geojson": _from_geojson, ".json": _from_geojson, ".gpkg": _from_geopackage}
    suffix = path.suffix.lower()
    if suffix not in readers:
        raise OutingError(
            f"{path.name}: places are read from .geojson or .gpkg, not {suffix or 'a bare name'}.",
            file=str(path),
        )
    try:
        return readers[suffix](path)
    except (ValueError, KeyError, TypeError, AttributeError, OSError, RuntimeError) as problem:
        raise OutingError(
            f"{path.name} cannot be read as places ({problem})",
            hint="write a GeoJSON FeatureCollection in WGS84 or a GeoPackage",
            file=str(path),
        ) from problem


def _from_geojson(path: Path) -> geopandas.GeoDataFrame:
    import geopandas

    features = json.loads(path.read_text(encoding="utf-8-sig"))["features"]
    if not features:
        return geopandas.GeoDataFrame({"geometry": []}, crs="EPSG:4326")
    return geopandas.GeoDataFrame.from_features(features, crs="EPSG:4326")


def _from_geopackage(path: Path) -> geopandas.GeoDataFrame:
    import geopandas

    # Any other format hiding behind this name would reach other drivers.
    with path.open("rb") as file:
        if file.read(15) != b"SQLite format 3":
            raise ValueError("it is not a GeoPackage inside")
    frame = geopandas.read_file(path)
    if frame.crs is None:
        raise ValueError("it names no coordinate system")
    return frame.set_geometry(list(to_wgs84(list(frame.geometry), frame.crs)), crs=WGS84)


def _place(path: Path, number: int, row: Any) -> Place:
    kind = _word(row, "kind", "note")
    access = _word(row, "access", "unknown")
    for key, value, known in (("kind", kind, KINDS), ("access", access, ACCESSES)):
        if value not in known:
            raise OutingError(
                f"{path.name}: feature {number}, {key} is {value!r}",
                hint=f"write one of {', '.join(known)}",
                file=str(path),
                row=number,
                key=key,
            )
    geometry = row.geometry
    if geometry is None or geometry.is_empty:
        raise OutingError(
            f"{path.name}: feature {number} has no geometry",
            hint="draw it or take it out",
            file=str(path),
            row=number,
        )
    west, south, east, north = geometry.bounds
    if not (-180.0 <= west <= east <= 180.0 and -90.0 <= south <= north <= 90.0):
        raise OutingError(
            f"{path.name}: feature {number} lies off the globe ({west:.5g}, {south:.5g})",
            hint="write longitude, then latitude, in WGS84 degrees",
            file=str(path),
            row=number,
        )
    return Place(
        kind=kind,  # type: ignore[arg-type]  # checked against the literal just above
        name=_word(row, "name", ""),
        note=_word(row, "note", ""),
        access=access,  # type: ignore[arg-type]
        geometry=geometry,
    )


def _word(row: Any, key: str, default: str) -> str:
    value = getattr(row, key, None)
    return whole(value) if isinstance(value, str) and value else default


def whole(text: str) -> str:
    r"""Put the code point for half a surrogate pair, which JSON can escape and no file hold."""
    return _HALVES.sub(lambda found: f"<U+{ord(found.group()):04X}>", text)


_HALVES = re.compile("[\ud800-\udfff]")
