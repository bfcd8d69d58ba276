"""Plans with a twist: hostile names, no stands, the 180th meridian."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import (
    GeometryCollection,
    LinearRing,
    LineString,
    MultiPolygon,
    Point,
    Polygon,
)

from backbearing.base.grouped import changed
from backbearing.plan.place import Place

if TYPE_CHECKING:
    from backbearing.alignment import Plan

HOSTILE = (
    "plain \"quotes\" and 'more', commas; semicolons",
    "two\nlines\r\nand a third\rfourth",
    "cow 🐄 family 👩‍👩‍👧 flag 🏴󠁧󠁢󠁳󠁣󠁴󠁿",
    "שלום מגדל",
    "\u202egnp.tfel ot thgir",
    "closer\u2069 opener\u2067",
    "controls \x00 \x07 \x1b[31m \x0b \x7f \ufffe \ud800 end",
    "]]> <!-- --> <![CDATA[ &amp; &#0; <img src=x onerror=alert(1)>",
    "$[description] ${x} {{ 7 * 7 }}",
    '=HYPERLINK("http://example.invalid","x")',
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "x;=1+1",
    "a\n=1+1",
    "'=1",
    "＝1",
    "END:VEVENT\r\nEND:VCALENDAR",
    "tab\tinside",
)


@pytest.fixture(scope="session")
def hostile_names() -> tuple[str, ...]:
    return HOSTILE


@pytest.fixture(scope="session", params=range(len(HOSTILE)))
def hostile(request: pytest.FixtureRequest, plan: Plan) -> tuple[str, Plan]:
    """One hostile name and the sample's plan with it in every free text."""
    name = HOSTILE[request.param]
    stands = [replace(lens.stand, cautions=(name,)) for lens in plan.lenses]
    lenses = tuple(
        replace(lens, sentence=name, stand=stand, lens=replace(lens.lens, name=name))
        for lens, stand in zip(plan.lenses, stands, strict=True)
    )
    return name, changed(
        plan,
        name=name,
        subject=replace(plan.subject, name=name, kind=name),
        target=replace(plan.target, name=name),
        lenses=lenses,
        places=tuple(replace(place, name=name, note=name) for place in plan.places),
        ground=replace(plan.ground, source=name, credit=name),
        cautions=(name,),
        notes=(name,),
        emergency_number=name,
        dark_reason=name,
        version=name,
    )


@pytest.fixture(scope="session")
def standless(plan: Plan) -> Plan:
    """A plan in which no lens has a stand and nobody named a place."""
    lenses = tuple(
        replace(lens, stand=None, arc=(), usable=(), sentence="Nothing clears the ridge.")
        for lens in plan.lenses
    )
    return changed(plan, lenses=lenses, places=(), dark=(), dark_reason="The Moon is up.")


@pytest.fixture(scope="session")
def odd_shapes(plan: Plan) -> Plan:
    """Places of every kind of geometry, with heights, holes and rings the wrong way round."""
    square = [(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0)]
    hole = [(0.2, 0.2), (0.8, 0.2), (0.8, 0.8), (0.2, 0.8)]
    shapes = (
        Point(1.0, 2.0, 300.0),
        LineString([(0, 0, 5), (1, 1, 6)]),
        LinearRing(square),
        Polygon(square, [hole]),
        MultiPolygon([Polygon(square, [hole]), Polygon([(2, 2), (2, 3), (3, 3)])]),
        GeometryCollection([Point(0.5, 0.5), Polygon(square)]),
    )
    places = tuple(Place("land", shape.geom_type, "", "unknown", shape) for shape in shapes)
    return changed(plan, places=places)


@pytest.fixture(scope="session")
def far_east(plan: Plan) -> Plan:
    """Subject on one side of the 180th meridian, stands on the other."""
    lenses = tuple(
        replace(lens, stand=changed(lens.stand, lon=-179.9998, skyline_lon=179.99, lat=36.373))
        for lens in plan.lenses
    )
    lenses = (
        *lenses[:-1],
        replace(lenses[-1], stand=changed(lenses[-1].stand, lon=179.99999999)),
    )
    return replace(plan, subject=replace(plan.subject, lon=180.0), lenses=lenses)
