"""The plan as KML 2.2 ([KML2008]_): subject, stands, sight lines, arcs and places.

All shapes lie on the ground (``clampToGround``), so no height in a coordinate can be
taken for another; heights stand in the extended data with what they count from. Viewers
draw a description as HTML, therefore foreign text is escaped for HTML first, then for XML.
"""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree as ET

from shapely.geometry import LineString, Point, Polygon

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.drawing.palette import MAP
from backbearing.exports.file_text import (
    NOT_XML,
    Said,
    caution_lines,
    place_lines,
    plan_lines,
    stand_lines,
    subject_lines,
    utc,
    visible,
    wall,
)
from backbearing.exports.geometry import sight_line, stretches, tidy
from backbearing.exports.rows import stand_row, written
from backbearing.exports.session_walks import walk_lines, walk_row, walks_of
from backbearing.plan.in_units import in_units

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from backbearing.base.units import Units
    from backbearing.drawing.palette import Colour
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan

NAMESPACE = "http://www.opengis.net/kml/2.2"
DECIMALS = 7  # about a centimetre

STYLES: Final[dict[str, Colour]] = {
    "subject": MAP.subject,
    "stand": MAP.go,
    "sight": MAP.core,
    "walk": MAP.subject,
    "usable": MAP.go,
    "spoilt": MAP.frame,
    "open": MAP.open,
    "ask-first": MAP.ask,
    "closed": MAP.closed,
    "unknown": MAP.sky,
}
"""Style id to colour, as on the plan's page."""


def plan_kml(plan: Plan, *, height_reference: str = "", units: Units = METRIC) -> str:
    """Write the plan as KML 2.2 text.

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
    root = ET.Element("kml", {"xmlns": NAMESPACE})
    document = ET.SubElement(root, "Document")
    _add(document, "name", plan.name)
    _add(document, "description", _described(plan_lines(plan)))
    for name, colour in STYLES.items():
        _style(document, name, colour)
    _subject(document, plan, said)
    _stands(document, plan, said)
    _sight_lines(document, plan)
    for lens_plan in plan.lenses:
        _arc(document, plan, lens_plan)
    _walks(document, plan, said)
    _places(document, plan)
    ET.indent(root, " ")
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text.decode("utf-8") + "\n"


def _subject(document: ET.Element, plan: Plan, said: Said) -> None:
    _placemark(
        document,
        name=plan.subject.name,
        lines=[*subject_lines(plan, *said), *caution_lines(plan)],
        style="subject",
        shape=Point(plan.subject.lon, plan.subject.lat),
    )


def _stands(document: ET.Element, plan: Plan, said: Said) -> None:
    folder = _folder(document, "Stands")
    for lens_plan in plan.lenses:
        if lens_plan.stand is None:
            continue
        row = stand_row(plan, lens_plan, said.height_reference)
        _placemark(
            folder,
            name=f"Stand {lens_plan.lens.label}",
            lines=[*stand_lines(plan, lens_plan, *said), *caution_lines(plan)],
            style="stand",
            shape=Point(lens_plan.stand.lon, lens_plan.stand.lat),
            data={"role": "stand"} | {name: written(name, fact) for name, fact in row.items()},
        )


def _sight_lines(document: ET.Element, plan: Plan) -> None:
    folder = _folder(document, "Sight lines")
    for lens_plan in plan.lenses:
        if lens_plan.stand is not None:
            _placemark(
                folder,
                name=f"Sight line {lens_plan.lens.label}",
                lines=["Stand, subject and the skyline under the target. Not a path."],
                style="sight",
                shape=sight_line(plan, lens_plan.stand),
            )


def _arc(document: ET.Element, plan: Plan, lens_plan: LensPlan) -> None:
    parts = stretches(lens_plan)
    if not parts:
        return
    folder = _folder(document, f"Arc {lens_plan.lens.label}")
    for part in parts:
        first, last = part.start.time, part.end.time
        limits = ", ".join(part.limits) or "none"
        _placemark(
            folder,
            name=f"{wall(first, plan.zone)[11:16]} to {wall(last, plan.zone)[11:16]}",
            lines=[f"{utc(first)} to {utc(last)}. What spoils it: {limits}."],
            style="spoilt" if part.limits else "usable",
            shape=part.line,
            data={"start_utc": utc(first), "end_utc": utc(last), "limits": limits},
        )


def _walks(document: ET.Element, plan: Plan, said: Said) -> None:
    walks = walks_of(plan)
    if not walks:
        return
    folder = _folder(document, "Walks")
    for walk in walks:
        _placemark(
            folder,
            name=f"{walk.start} to {walk.end}",
            lines=walk_lines(walk, said.units),
            style="closed" if walk.closed else "walk",
            shape=tidy(walk.line),
            data={"role": "walk"} | {k: written(k, v) for k, v in walk_row(walk).items()},
        )


def _places(document: ET.Element, plan: Plan) -> None:
    folder = _folder(document, "Places")
    for place in plan.places:
        _placemark(
            folder,
            name=place.name or place.kind,
            lines=place_lines(place),
            style=place.access.replace(" ", "-"),
            shape=tidy(place.geometry),
            data={"role": place.kind, "access": place.access, "note": place.note},
        )


def _style(document: ET.Element, name: str, colour: Colour) -> None:
    """Add a style; KML writes a colour as alpha, blue, green, red."""
    red, green, blue = (f"{part:02x}" for part in colour)
    style = ET.SubElement(document, "Style", {"id": name})
    _add(ET.SubElement(style, "IconStyle"), "color", f"ff{blue}{green}{red}")
    line = ET.SubElement(style, "LineStyle")
    _add(line, "color", f"ff{blue}{green}{red}")
    _add(line, "width", "3")
    _add(ET.SubElement(style, "PolyStyle"), "color", f"40{blue}{green}{red}")


def _folder(document: ET.Element, name: str) -> ET.Element:
    folder = ET.SubElement(document, "Folder")
    _add(folder, "name", name)
    return folder


def _placemark(
    parent: ET.Element,
    *,
    name: str,
    lines: Sequence[str],
    style: str,
    shape: BaseGeometry,
    data: Mapping[str, str] | None = None,
) -> None:
    """Add a placemark; its parts stand in the schema's order (PlacemarkType)."""
    placemark = ET.SubElement(parent, "Placemark")
    _add(placemark, "name", name)
    _add(placemark, "description", _described(lines))
    _add(placemark, "styleUrl", f"#{style}")
    if data:
        extended = ET.SubElement(placemark, "ExtendedData")
        for key, value in data.items():
            _add(ET.SubElement(extended, "Data", {"name": key}), "value", value)
    _geometry(placemark, shape)


def _geometry(parent: ET.Element, shape: BaseGeometry) -> None:
    if isinstance(shape, Point):
        point = ET.SubElement(parent, "Point")
        _add(point, "altitudeMode", "clampToGround")
        _add(point, "coordinates", _pairs(shape.coords))
    elif isinstance(shape, LineString):
        line = ET.SubElement(parent, "LineString")
        _add(line, "tessellate", "1")
        _add(line, "altitudeMode", "clampToGround")
        _add(line, "coordinates", _pairs(shape.coords))
    elif isinstance(shape, Polygon):
        area = ET.SubElement(parent, "Polygon")
        _add(area, "tessellate", "1")
        _add(area, "altitudeMode", "clampToGround")
        _ring(ET.SubElement(area, "outerBoundaryIs"), shape.exterior.coords)
        for hole in shape.interiors:
            _ring(ET.SubElement(area, "innerBoundaryIs"), hole.coords)
    else:
        several = ET.SubElement(parent, "MultiGeometry")
        for part in getattr(shape, "geoms", ()):
            _geometry(several, part)


def _ring(parent: ET.Element, coords: Iterable[tuple[float, ...]]) -> None:
    _add(ET.SubElement(parent, "LinearRing"), "coordinates", _pairs(coords))


def _pairs(coords: Iterable[tuple[float, ...]]) -> str:
    return " ".join(f"{num(lon, DECIMALS)},{num(lat, DECIMALS)}" for lon, lat, *_ in coords)


def _described(lines: Sequence[str]) -> str:
    """Write lines as the HTML that a viewer makes of a description, with nothing live in it."""
    # A viewer may replace $[name] by a field's content.
    return "<br>".join(html.escape(line).replace("$", "&#36;") for line in lines)


def _add(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = visible(text, NOT_XML)
