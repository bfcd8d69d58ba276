"""The plan's lines as geometry: longitude first, WGS84, no heights."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from shapely import force_2d
from shapely.geometry import (
    GeometryCollection,
    LinearRing,
    LineString,
    MultiLineString,
    MultiPolygon,
    Polygon,
)
from shapely.geometry.polygon import orient

from backbearing.base.numbers import rounded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint, LensPlan, Limit, Stand


@dataclass(frozen=True, slots=True)
class ArcStretch:
    """Part of a lens's arc with the same limits throughout.

    ``end`` is the next stretch's first point, so that stretches join.
    """

    start: ArcPoint
    end: ArcPoint
    limits: tuple[Limit, ...]
    line: BaseGeometry


def sight_line(plan: Plan, stand: Stand) -> BaseGeometry:
    """Draw stand, subject and, where known, the skyline point under the target."""
    ends = [(stand.lon, stand.lat), (plan.subject.lon, plan.subject.lat)]
    if stand.skyline_lat == stand.skyline_lat:
        ends.append((stand.skyline_lon, stand.skyline_lat))
    return cut_line(ends)


def placed(lens_plan: LensPlan) -> list[ArcPoint]:
    """Give the arc's minutes that have a stand at all."""
    return [point for point in lens_plan.arc if point.lat == point.lat]


def stretches(lens_plan: LensPlan) -> list[ArcStretch]:
    """Split a lens's arc where its limits change or where a minute has no stand."""
    found: list[ArcStretch] = []
    part: list[ArcPoint] = []
    for here, following in pairwise([*lens_plan.arc, None]):
        if here is None or here.lat != here.lat:
            part = []
            continue
        part.append(here)
        joins = following is not None and following.lat == following.lat
        if joins and following is not None and following.limits == here.limits:
            continue
        if joins and following is not None:
            part.append(following)
        if len(part) > 1:
            line = cut_line([(point.lon, point.lat) for point in part])
            found.append(ArcStretch(part[0], part[-1], here.limits, line))
        part = []
    return found


def cut_line(ends: Sequence[tuple[float, float]]) -> BaseGeometry:
    """Join longitudes and latitudes by a line, cut at the 180th meridian ([RFC7946]_ 3.1.9)."""
    parts = [[ends[0]]]
    for (west, south), (east, north) in pairwise(ends):
        step = east - west
        if abs(step) > 180.0:
            edge = 180.0 if step < 0.0 else -180.0
            over = (edge - west) / (step - 360.0 if step > 0.0 else step + 360.0)
            lat = south + over * (north - south)
            parts[-1].append((edge, lat))
            parts.append([(-edge, lat)])
        parts[-1].append((east, north))
    # An end that lies on the meridian itself would leave a line without length.
    lines = [LineString(part) for part in parts if len(set(part)) > 1] or [LineString(ends)]
    return lines[0] if len(lines) == 1 else MultiLineString(lines)


def tidy(geometry: BaseGeometry) -> BaseGeometry:
    """Drop heights and turn outer rings counter-clockwise ([RFC7946]_ section 3.1.6)."""
    geometry = force_2d(geometry)
    if isinstance(geometry, Polygon):
        return orient(geometry)
    if isinstance(geometry, MultiPolygon):
        return MultiPolygon([orient(part) for part in geometry.geoms])
    if isinstance(geometry, LinearRing):
        return LineString(geometry.coords)
    if isinstance(geometry, GeometryCollection):
        return GeometryCollection([tidy(part) for part in geometry.geoms])
    return geometry


def wrapped_lon(lon: float, decimals: int) -> float:
    """Round a longitude into -180 (included) to 180 (left out) degrees."""
    near = rounded(lon, decimals)
    return near - 360.0 if near >= 180.0 else near
