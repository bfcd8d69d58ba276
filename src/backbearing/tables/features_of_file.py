"""Features in GeoJSON, by [RFC7946]_: WGS84, longitude before latitude."""

from __future__ import annotations

import json
import re
from itertools import islice
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.datum_shift import Spread, to_wgs84
from backbearing.base.errors import OutingError
from backbearing.tables.json_stream import Members
from backbearing.tables.raw_table import MOST_ROWS

if TYPE_CHECKING:
    from pathlib import Path

    from pyproj import CRS

    from backbearing.base.datum_shift import DatumShift

_CODE: Final = re.compile(r"(?:urn:ogc:def:crs:)?EPSG:[\d.]*:?(\d{4,6})", re.IGNORECASE)
_UNREADABLE: Final = "its geometry cannot be read; see RFC 7946, section 3.1"
_CRS84: Final = re.compile(r"urn:ogc:def:crs:OGC:[\d.]*:CRS84", re.IGNORECASE)


def opened(
    file: Path, faults: dict[int, str]
) -> tuple[list[dict[str, Any]], list[Any], tuple[str, ...]]:
    """Read properties and geometries (WGS84, None where there are none), and what to say."""
    features, code = features_of(file)
    return understood(file, features, code, faults)


def understood(
    file: Path,
    features: list[Any],
    code: int,
    faults: dict[int, str],
    shift: DatumShift | None = None,
) -> tuple[list[dict[str, Any]], list[Any], tuple[str, ...]]:
    """Take properties and geometries out of features, as `opened` gives them.

    ``shift`` is the way to WGS84 that was chosen for more than these.
    """
    properties = [_properties(feature, i, faults) for i, feature in enumerate(features)]
    shapes = _shapes(features, faults)
    if code == 4326:
        return properties, shapes, ()
    said = f"The file says EPSG:{code}; its places were taken to WGS84."
    return properties, list(to_wgs84(shapes, _system(file, code), shift)), (said,)


def shift_of(file: Path, code: int) -> DatumShift:
    """Choose the operation for all places of a file."""
    import shapely

    spread = Spread(_system(file, code))
    features = Members(file).features()
    while some := list(islice(features, 10_000)):
        corners = shapely.get_coordinates(np.array([None, *_shapes(some, {})], dtype=object)[1:])
        spread.add(corners[:, 0], corners[:, 1])
    return spread.shift()


def features_of(file: Path) -> tuple[list[Any], int]:
    """Read a FeatureCollection's features, and the EPSG code of its coordinates.

    Raises
    ------
    OutingError
        For what is no GeoJSON, or names a system that is not known.
    """
    try:
        document = json.loads(file.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError as problem:
        raise _refuse(file, "is not UTF-8 text; save it as UTF-8") from problem
    except (ValueError, RecursionError) as problem:
        raise _refuse(
            file, f"is not GeoJSON ({_short(problem)}); write a FeatureCollection"
        ) from problem
    if isinstance(document, dict) and document.get("type") == "Feature":
        document = {**document, "features": [document]}
    features = document.get("features") if isinstance(document, dict) else None
    if not isinstance(features, list):
        raise _refuse(file, "holds no list of features; write a FeatureCollection")
    if len(features) > MOST_ROWS:
        raise _refuse(file, f"has more than {MOST_ROWS:,} features; split it")
    return features, code_of(file, document)


def code_of(file: Path, document: dict[str, Any]) -> int:
    """Read the ``crs`` member of files older than RFC 7946; WGS84 without one."""
    member = document.get("crs")
    if member is None:
        return 4326
    try:
        name = str(member["properties"]["name"])
    except (KeyError, TypeError):
        name = "an unnamed system"
    if _CRS84.fullmatch(name):
        return 4326
    code = _CODE.fullmatch(name)
    if code is None:
        raise _refuse(
            file,
            f"is in {name[:60]!r}, which is not read here; save it in WGS84, as RFC 7946 wants it",
        )
    return int(code.group(1))


def _properties(feature: Any, i: int, faults: dict[int, str]) -> dict[str, Any]:
    if not isinstance(feature, dict) or feature.get("type") != "Feature":
        faults.setdefault(i, "it is no GeoJSON Feature; write one")
        return {}
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}


def _shapes(features: list[Any], faults: dict[int, str]) -> list[Any]:
    """Make geometries, all plain points at once."""
    import shapely
    from shapely.geometry import shape

    out: list[Any] = [None] * len(features)
    at, xy = [], []
    for i, feature in enumerate(features):
        geometry = feature.get("geometry") if isinstance(feature, dict) else None
        if not isinstance(geometry, dict):
            continue
        corner = geometry.get("coordinates")
        if geometry.get("type") == "Point" and corner:
            if _is_pair(corner):
                at.append(i)
                xy.append((float(corner[0]), float(corner[1])))
            else:
                faults.setdefault(i, _UNREADABLE)
            continue
        try:
            out[i] = shapely.force_2d(shape(geometry))
        except Exception:  # hostile geometries fail in every way there is
            faults.setdefault(i, _UNREADABLE)
    if at:
        made: Any = shapely.points(np.array(xy))
        for i, point in zip(at, made, strict=True):
            out[i] = point
    return out


def _is_pair(corner: Any) -> bool:
    if not isinstance(corner, list) or len(corner) < 2:
        return False
    return all(type(v) in (int, float) and abs(v) < 1e12 for v in corner[:2])


def _system(file: Path, code: int) -> CRS:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return CRS.from_epsg(code)
    except CRSError as problem:
        raise _refuse(file, f"names EPSG:{code}, which is not known; save it in WGS84") from problem


def _short(problem: BaseException) -> str:
    return str(problem)[:120] or type(problem).__name__


def _refuse(file: Path, what: str) -> OutingError:
    return OutingError(f"{file.name} {what}.", file=str(file))
