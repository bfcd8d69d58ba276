"""The sheet's maps: one pattern for one meaning, and a key of what is there."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import LineString, Point

from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.grouped import changed
from backbearing.drawing.marks import Dot, Stroke
from backbearing.drawing.palette import SHEET
from backbearing.drawing.wall_clock import WallClock
from backbearing.plan.place import Place
from backbearing.plan.plan import SkyEvent
from backbearing.sheet import sheet_html
from backbearing.sheet.ground_map import stands_map
from backbearing.sheet.map_key import map_key
from backbearing.sheet.shot_rows import turns
from backbearing.sheet.timeline import moon_up
from invented import hill, write_outing

if TYPE_CHECKING:
    from backbearing.drawing.marks import Drawing
    from backbearing.plan.plan import Plan

LAT, LON = -31.0, 149.0
DOTTED, SLANTED, CROSSED = "Dotted:", "slanted:", "cross-hatched:"


@pytest.fixture(scope="module")
def plan(tmp_path_factory) -> Plan:
    asked = write_outing(
        tmp_path_factory.mktemp("key"), lat=LAT, lon=LON, evening=dt.date(2027, 5, 5),
        ground=hill(60.0, 700.0), lenses=(20.0, 35.0), night={"moon": "any"}, session={},
    )  # fmt: skip
    return plan_night(asked)


def land(access: str) -> Place:
    return Place("land", "Far field", "", access, Point(LON, LAT).buffer(2e-3))


def drawn(plan: Plan) -> Drawing:
    return stands_map(plan, turns(plan), WallClock(plan.zone), SHEET, width=300.0, height=200.0)


def slants(drawing: Drawing) -> set[int]:
    """Which ways the thin straight strokes of a hatch go: 1 down to the right, -1 up."""
    found = set()
    for mark in drawing.marks:
        if isinstance(mark, Stroke) and len(mark.points) == 2 and mark.width <= 0.5:
            (ax, ay), (bx, by) = mark.points
            if abs(abs(bx - ax) - abs(by - ay)) < 1e-3 and abs(bx - ax) > 1.0:
                found.add(1 if (bx - ax) * (by - ay) > 0.0 else -1)
    return found


def test_the_light_is_dotted_and_never_slanted(plan):
    assert plan.session is not None
    blind = plan.session.lighting.blind
    assert not blind.area.is_empty
    drawing = drawn(plan)
    assert slants(drawing) == set()
    dots = [mark for mark in drawing.marks if isinstance(mark, Dot) and mark.radius < 1.0]
    assert len(dots) > 20
    assert DOTTED in map_key(plan, ())
    dark = changed(plan, session=replace(plan.session, lighting=None))
    assert DOTTED not in map_key(dark, ())
    assert not [m for m in drawn(dark).marks if isinstance(m, Dot) and m.radius < 1.0]


@pytest.mark.parametrize(
    ("access", "ways", "said"),
    [
        ("ask first", {-1}, {SLANTED}),
        ("unknown", {-1}, {SLANTED}),
        ("closed", {-1, 1}, {CROSSED}),
        ("open", set(), set()),
    ],
)
def test_land_is_hatched_by_access_close_up_too_and_the_key_names_what_is_there(
    plan, access, ways, said
):
    there = changed(plan, places=(land(access),))
    assert slants(drawn(there)) == ways
    key = map_key(there, ())
    assert {word for word in (SLANTED, CROSSED) if word in key} == said
    assert "bare: open" in key
    for other in ("water", "hazard", "track", "walk"):
        assert other not in key


def test_the_key_says_nothing_of_what_is_not_drawn(plan):
    assert "Land" not in map_key(changed(plan, places=()), ())
    wet = Place("water", "Tarn", "", "unknown", Point(LON, LAT).buffer(1e-4))
    lane = Place("track", "Lane", "", "open", LineString([(LON, LAT), (LON + 1e-3, LAT)]))
    key = map_key(changed(plan, places=(wet, lane)), ())
    assert "water" in key
    assert "Dashed: track." in key


@pytest.mark.parametrize("credit", ["", "  ", "Survey of the Nowhere Hills, CC0."])
def test_ground_is_named_where_there_is_a_name(plan, credit):
    named = changed(plan, ground=replace(plan.ground, credit=credit))
    page = sheet_html(named, None)
    assert ("Ground:" in page) == bool(credit.strip())
    assert "no credit" not in page
    assert not re.search(r"\.\.</bdi>", page)


def test_a_moon_that_set_before_sunset_is_not_up(plan):
    start = dt.datetime(2027, 5, 5, 8, tzinfo=dt.UTC)
    end = start + dt.timedelta(hours=12)

    def with_moon(**hours: float):
        events = [SkyEvent(start + dt.timedelta(hours=h), name) for name, h in hours.items()]
        return changed(plan, events=tuple(events), moon_path=())

    def spans(**hours: float) -> list[tuple[float, float]]:
        found = moon_up(with_moon(**hours), start, end)
        return [tuple((t - start).total_seconds() / 3600.0 for t in span) for span in found]

    assert spans(moonset=-7.0, moonrise=5.0) == [(5.0, 12.0)]
    assert spans(moonset=3.0) == [(0.0, 3.0)]
    assert spans(moonrise=-2.0, moonset=4.0) == [(0.0, 4.0)]
    assert spans(moonrise=-6.0, moonset=-1.0) == []
    assert spans(moonrise=13.0) == []
