"""The plan as GPX 1.1 ([GPX11]_): subject, stands and places as waypoints, and a route.

``ele`` does not say what it counts from; every ``desc`` beside one does. ``time`` of a
waypoint is by the schema the moment it was made, so the moment to shoot stands in ``desc``.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from shapely.geometry import Point

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.exports.file_text import (
    NOT_XML,
    Said,
    caution_lines,
    inline,
    place_lines,
    plan_lines,
    stand_lines,
    subject_lines,
    utc,
    visible,
)
from backbearing.exports.geometry import wrapped_lon
from backbearing.exports.session_walks import steps_of, walk_lines, walks_of
from backbearing.plan.in_units import in_units
from backbearing.plan.place import Place

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.exports.session_walks import Step
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan

NAMESPACE = "http://www.topografix.com/GPX/1/1"
DECIMALS = 7  # about a centimetre

_LEFT_OUT = "Lines and areas are not drawn here, for GPX has no areas. Left out are:"
_WALKED = (
    "The session's walks: along your tracks, elsewhere straight and led round what your file marks "
    "as closed, water or hazard. They are not a path that anyone walked."
)
_ROUTE = "Straight lines between places in order of time. They are not a path that anyone walked."


def plan_gpx(plan: Plan, *, height_reference: str = "", units: Units = METRIC) -> str:
    """Write the plan as GPX 1.1 text.

    Parameters
    ----------
    plan : Plan
    height_reference : str
        What the raster's heights count from, such as ``EGM96 geoid``; the plan's own when
        empty.
    units : Units
        In which people read lengths; numbers for machines stay in metres.
    """
    said = Said(height_reference or plan.ground.vertical_datum, units)
    plan = in_units(plan, units)
    root = ET.Element(
        "gpx",
        {
            "xmlns": NAMESPACE,
            "version": "1.1",
            "creator": visible(f"Backbearing {plan.version}", NOT_XML),
        },
    )
    about = ET.SubElement(root, "metadata")
    _add(about, "name", plan.name)
    _add(about, "desc", "\n".join([*plan_lines(plan), *_left_out(plan)]))
    _add(about, "time", utc(plan.made))
    _subject(root, plan, said)
    stands = [lens_plan for lens_plan in plan.lenses if lens_plan.stand is not None]
    for lens_plan in stands:
        _stand(root, "wpt", plan, lens_plan, said)
    spots = [place for place in plan.places if _is_spot(place)]
    for place in spots:
        _place(root, "wpt", place)
    _route(root, plan, stands, spots, said)
    ET.indent(root, " ")
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text.decode("utf-8") + "\n"


def _left_out(plan: Plan) -> list[str]:
    """Name what is not drawn: closed land and drops matter to whoever carries this file alone."""
    said = [
        f"{place.kind}: {inline(place.name) or 'unnamed'}, access {place.access}"
        for place in plan.places
        if not _is_spot(place)
    ]
    return [_LEFT_OUT, *said] if said else []


def _is_spot(place: Place) -> bool:
    return isinstance(place.geometry, Point) or place.kind == "parking"


def _route(
    root: ET.Element,
    plan: Plan,
    stands: Sequence[LensPlan],
    spots: Sequence[Place],
    said: Said,
) -> None:
    """Go the session's ways, or from the first open parking to the stands in order of time."""
    steps = steps_of(plan)
    if steps:
        _walked(root, plan, steps, said)
        return
    parked = (place for place in spots if place.kind == "parking" and place.access != "closed")
    parking = list(parked)[:1]
    if len(parking) + len(stands) < 2:
        return
    route = ET.SubElement(root, "rte")
    _add(route, "name", f"{inline(plan.subject.name)}: stands in order of time")
    _add(route, "desc", "\n".join([_ROUTE, *caution_lines(plan)]))
    for place in parking:
        _place(route, "rtept", place)
    in_order = sorted(stands, key=lambda lens: (lens.stand.time, lens.stand.distance_m))  # type: ignore[union-attr]  # only lenses with a stand
    for lens_plan in in_order:
        _stand(route, "rtept", plan, lens_plan, said)


def _walked(root: ET.Element, plan: Plan, steps: Sequence[Step], said: Said) -> None:
    route = ET.SubElement(root, "rte")
    _add(route, "name", f"{inline(plan.subject.name)}: the session's walks")
    warned = dict.fromkeys(line for walk in walks_of(plan) for line in walk_lines(walk)[1:])
    _add(route, "desc", "\n".join([_WALKED, *warned, *caution_lines(plan)]))
    for step in steps:
        if isinstance(step, tuple):
            lon = wrapped_lon(step[1], DECIMALS)
            where = {"lat": num(step[0], DECIMALS), "lon": num(lon, DECIMALS)}
            _add(ET.SubElement(route, "rtept", where), "type", "way")
        elif isinstance(step, Place):
            _place(route, "rtept", step)
        else:
            _stand(route, "rtept", plan, step, said)


def _subject(root: ET.Element, plan: Plan, said: Said) -> None:
    lines = [*subject_lines(plan, *said), *caution_lines(plan)]
    _waypoint(
        root,
        "wpt",
        lat=plan.subject.lat,
        lon=plan.subject.lon,
        ele_m=plan.subject_ground_m,
        name=plan.subject.name,
        lines=lines,
        kind="subject",
    )


def _stand(parent: ET.Element, tag: str, plan: Plan, lens_plan: LensPlan, said: Said) -> None:
    stand = lens_plan.stand
    assert stand is not None  # noqa: S101  # only lenses with a stand come here
    _waypoint(
        parent,
        tag,
        lat=stand.lat,
        lon=stand.lon,
        ele_m=stand.ground_m,
        name=f"Stand {lens_plan.lens.label}",
        lines=[*stand_lines(plan, lens_plan, *said), *caution_lines(plan)],
        kind="stand",
    )


def _place(parent: ET.Element, tag: str, place: Place) -> None:
    spot = place.geometry.representative_point()
    _waypoint(
        parent,
        tag,
        lat=spot.y,
        lon=spot.x,
        ele_m=math.nan,
        name=place.name or place.kind,
        lines=place_lines(place),
        kind=place.kind,
    )


def _waypoint(
    parent: ET.Element,
    tag: str,
    *,
    lat: float,
    lon: float,
    ele_m: float,
    name: str,
    lines: Sequence[str],
    kind: str,
) -> None:
    """Add a point; its parts stand in the schema's order (wptType)."""
    west_to_east = wrapped_lon(lon, DECIMALS)
    where = {"lat": num(lat, DECIMALS), "lon": num(west_to_east, DECIMALS)}
    point = ET.SubElement(parent, tag, where)
    if math.isfinite(ele_m):
        _add(point, "ele", f"{num(ele_m, 1)}")
    _add(point, "name", name)
    _add(point, "desc", "\n".join(lines))
    _add(point, "type", kind)


def _add(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = visible(text, NOT_XML)
