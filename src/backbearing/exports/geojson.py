"""The plan as GeoJSON (RFC 7946): WGS84, longitude first, seven decimals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shapely.geometry import MultiPoint, Point, mapping

from backbearing.base.grouped import flat_values
from backbearing.base.numbers import rounded
from backbearing.base.plain import plain
from backbearing.exports.file_text import height_reference_words
from backbearing.exports.geometry import placed, sight_line, tidy
from backbearing.exports.plan_json import dumps
from backbearing.exports.session_walks import walk_row, walks_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand

DECIMALS = 7  # about a centimetre


def plan_geojson(plan: Plan, *, height_reference: str = "") -> str:
    """Give subject, stands, sight lines, arcs, walks and places as one FeatureCollection.

    No coordinate has a height, for that would count from the ellipsoid ([RFC7946]_ section
    4); ``ground_m`` counts from ``height_reference``, such as ``EGM96 geoid``, the
    plan's own when empty.
    """
    height_reference = height_reference or plan.ground.vertical_datum
    features = [_subject(plan, height_reference)]
    for lens_plan in plan.lenses:
        features.extend(_lens_features(plan, lens_plan, height_reference))
    features += [_feature(walk.line, {"role": "walk"} | walk_row(walk)) for walk in walks_of(plan)]
    for place in plan.places:
        facts = {"role": place.kind, "name": place.name, "note": place.note}
        features.append(_feature(place.geometry, facts | {"access": place.access}))
    return dumps({"type": "FeatureCollection", "features": features})


def _subject(plan: Plan, height_reference: str) -> dict[str, Any]:
    facts = {
        "role": "subject",
        **plain(plan.subject),
        "ground_m": plan.subject_ground_m,
        "height_reference": height_reference_words(height_reference),
        "cautions": plan.cautions,
    }
    return _feature(Point(plan.subject.lon, plan.subject.lat), facts)


def _lens_features(plan: Plan, lens_plan: LensPlan, height_reference: str) -> list[dict[str, Any]]:
    label = lens_plan.lens.label
    features = []
    if lens_plan.stand is not None:
        features.append(_stand(lens_plan.stand, lens_plan, height_reference))
        line = sight_line(plan, lens_plan.stand)
        features.append(_feature(line, {"role": "sight line", "lens": label}))
    points = placed(lens_plan)
    if points:
        facts = {
            "role": "arc",
            "lens": label,
            "times": [plain(point.time) for point in points],
            "limits": [list(point.limits) for point in points],
        }
        features.append(_feature(MultiPoint([(p.lon, p.lat) for p in points]), facts))
    return features


def _stand(stand: Stand, lens_plan: LensPlan, height_reference: str) -> dict[str, Any]:
    facts = {
        name: plain(value)
        for name, value in flat_values(stand).items()
        if name not in {"lens", "lat", "lon"}
    }
    said = {
        "role": "stand",
        "lens": lens_plan.lens.label,
        "sentence": lens_plan.sentence,
        "height_reference": height_reference_words(height_reference),
    }
    return _feature(Point(stand.lon, stand.lat), said | facts)


def _feature(geometry: BaseGeometry, properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": _rounded(mapping(tidy(geometry))),
        "properties": plain(properties),
    }


def _rounded(geometry: Any) -> Any:
    """Cut the coordinates to the decimals that mean something."""
    if isinstance(geometry, float):
        return rounded(geometry, DECIMALS)
    if isinstance(geometry, list | tuple):
        return [_rounded(part) for part in geometry]
    if isinstance(geometry, dict):
        return {key: _rounded(part) for key, part in geometry.items()}
    return geometry
