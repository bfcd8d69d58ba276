"""The session on the page: what is drawn, what is said, and a page without one."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import Point, Polygon

from backbearing.base.geodesy import line_between
from backbearing.drawing.texts import Texts
from backbearing.drawing.wall_clock import WallClock
from backbearing.maps import page_html
from backbearing.maps.layers import layers
from backbearing.maps.session_layers import session_layers
from backbearing.maps.session_text import session_text
from backbearing.plan.turns import as_planned, lens_of, turn_of_each

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    """No one spot hides its light from all four turns."""
    return deep_valley_plan


@pytest.fixture
def drawn(plan: Plan):
    return session_layers(plan, Texts())


def test_turns_and_walks_are_drawn_where_they_are(plan, drawn):
    assert plan.session is not None
    shown = layers(as_planned(plan), WallClock(plan.zone), Texts())
    turns = [shown["lenses"][i]["stand"] for i in shown["order"]]
    assert [turn["number"] for turn in turns] == [shot.number for shot in plan.session.shots]
    for turn, shot in zip(turns, plan.session.shots, strict=True):
        lat, lon = turn["at"]
        off = line_between(lat1=lat, lon1=lon, lat2=shot.stand.lat, lon2=shot.stand.lon)
        assert float(off.distance_m) < 0.002
    first = drawn["walks"][0]["line"]
    assert first[-1] == pytest.approx(turns[0]["at"], abs=2e-5)
    assert len(drawn["walks"]) == len(plan.session.shots) + 1


def test_the_light_lies_in_the_patches_of_its_turns(drawn, plan):
    light = drawn["light"]
    blind = plan.session.lighting.blind
    own = dict(blind.from_stands)
    assert [len(blind.spots), light["patch"]] == [len(light["spots"]), None]
    for spot, shown in zip(blind.spots, light["spots"], strict=True):
        lat, lon = shown["at"]
        for label in spot.lenses:
            assert own[label].buffer(1e-7).contains(Point(lon, lat))
    assert len(light["sides"]) == 2


def test_an_empty_patch_and_an_unknown_spot_are_left_out(plan):
    lighting = plan.session.lighting
    none = replace(lighting.blind, area=Polygon(), spots=())
    dim = replace(plan, session=replace(plan.session, lighting=replace(lighting, blind=none)))
    light = session_layers(dim, Texts())["light"]
    assert light["patch"] is None
    assert light["spots"] == []
    json.dumps(light, allow_nan=False)


@pytest.mark.slow
def test_without_a_session_the_page_has_no_part_for_one(plan, elevation):
    html = page_html(replace(plan, session=None), elevation)
    assert 'id="session"' not in html
    assert 'data-layer="walks"' not in html
    assert session_text(replace(plan, session=None), WallClock(plan.zone), Texts()) is None


@pytest.mark.slow
def test_lenses_left_out_are_named_with_why_and_what_would_help(plan, elevation):
    from backbearing.plan.session import LeftOut

    session, shot = plan.session, plan.session.shots[-1]
    left = LeftOut(shot.lens, shot.minutes, "The hours are too short.", ("Begin at 22:00.",))
    html = page_html(
        replace(plan, session=replace(session, shots=session.shots[:-1], left_out=(left,))),
        elevation,
    )
    assert "is left out." in html
    block = re.search(r'id="text-data">(.*?)</script>', html, flags=re.DOTALL)
    assert block is not None
    assert {"The hours are too short.", "Begin at 22:00."} <= set(json.loads(block.group(1)))


def test_of_two_equal_lenses_a_turn_takes_the_one_with_its_share(plan):
    shot = plan.session.shots[0]
    own = lens_of(plan, shot)
    other = replace(own, asked_share=own.asked_share + 0.2)
    twins = replace(plan, lenses=(other, own))
    alone = replace(twins, session=replace(plan.session, shots=(shot,)))
    assert lens_of(alone, shot) is own


def test_two_lenses_that_are_alike_in_all_get_a_turn_each(plan):
    shot = plan.session.shots[0]
    own, other = lens_of(plan, shot), replace(shot, number=2)
    both = replace(plan.session, shots=(shot, other))
    twins = replace(plan, lenses=(own, own), session=both)
    assert turn_of_each(twins) == (shot, other)


@pytest.mark.slow
def test_the_page_is_under_three_megabytes(plan, elevation):
    assert len(page_html(plan, elevation).encode()) < 3_000_000
