"""The plan as GeoJSON (RFC 7946): WGS84, longitude first, seven decimals."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, Polygon, mapping
from shapely.geometry.polygon import orient

from backbearing.exports.plan_json import dumps, plain

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.plan import LensPlan, Plan, Stand

DECIMALS = 7  # about a centimetre


def plan_geojson(plan: Plan) -> str:
    """Give subject, stands, sight lines, arcs and places as one FeatureCollection."""
    features = [_subject(plan)]
    for lens_plan in plan.lenses:
        features.extend(_lens_features(plan, lens_plan))
    for place in plan.places:
        facts = {"role": place.kind, "name": place.name, "note": place.note}
        features.append(_feature(place.geometry, facts | {"access": place.access}))
    return dumps({"type": "FeatureCollection", "features": features})


def _subject(plan: Plan) -> dict[str, Any]:
    subject = plain(plan.subject)
    facts = {"role": "subject", **subject, "ground_m": plan.subject_ground_m}
    return _feature(Point(plan.subject.lon, plan.subject.lat), facts)


def _lens_features(plan: Plan, lens_plan: LensPlan) -> list[dict[str, Any]]:
    label = lens_plan.lens.label
    features = []
    if lens_plan.stand is not None:
        features.append(_stand(lens_plan.stand, label, lens_plan.sentence))
        line = _sight_line(plan, lens_plan.stand)
        features.append(_feature(line, {"role": "sight line", "lens": label}))
    points = [point for point in lens_plan.arc if point.lat == point.lat]
    if points:
        facts = {
            "role": "arc",
            "lens": label,
            "times": [plain(point.time) for point in points],
            "limits": [list(point.limits) for point in points],
        }
        features.append(_feature(MultiPoint([(p.lon, p.lat) for p in points]), facts))
    return features


def _stand(stand: Stand, label: str, sentence: str) -> dict[str, Any]:
    facts = {
        field.name: plain(getattr(stand, field.name))
        for field in dataclasses.fields(stand)
        if field.name not in {"lens", "lat", "lon"}
    }
    place = Point(stand.lon, stand.lat)
    return _feature(place, {"role": "stand", "lens": label, "sentence": sentence, **facts})


def _sight_line(plan: Plan, stand: Stand) -> LineString:
    ends = [(stand.lon, stand.lat), (plan.subject.lon, plan.subject.lat)]
    if stand.skyline_lat == stand.skyline_lat:
        ends.append((stand.skyline_lon, stand.skyline_lat))
    return LineString(ends)


def _feature(geometry: BaseGeometry, properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": _rounded(mapping(_right_handed(geometry))),
        "properties": plain(properties),
    }


def _right_handed(geometry: BaseGeometry) -> BaseGeometry:
    """Turn polygons as RFC 7946 section 3.1.6 asks: outer rings counter-clockwise."""
    if isinstance(geometry, Polygon):
        return orient(geometry)
    if isinstance(geometry, MultiPolygon):
        return MultiPolygon([orient(part) for part in geometry.geoms])
    return geometry


def _rounded(geometry: Any) -> Any:
    """Cut the coordinates to the decimals that mean something."""
    if isinstance(geometry, float):
        return round(geometry, DECIMALS)
    if isinstance(geometry, list | tuple):
        return [_rounded(part) for part in geometry]
    if isinstance(geometry, dict):
        return {key: _rounded(part) for key, part in geometry.items()}
    return geometry
