"""The lamp on the screen, in the JSON, on the page and the sheet; kept from what did not ask."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment import plan_night
from backbearing.explain.lamp import LAMP_FACTS, lamp_explanations
from backbearing.explain.tracker import TRACKER_FACTS, tracker_explanations
from backbearing.sheet.content import sheet_content
from invented import write_outing

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.outing.request import Outing

WHERE: dict[str, Any] = {
    "lat": -31.4,
    "lon": 148.9,
    "evening": dt.date(2027, 6, 5),
    "lenses": (20.0, 35.0),
}
LIGHT = {"lumens": 300.0, "beam_deg": 60.0}


@pytest.fixture
def asked(tmp_path: Path) -> Outing:
    return write_outing(tmp_path, **WHERE, light=LIGHT, tracker={}, session={"frames_minutes": 6.0})


def test_one_line_on_the_screen_and_the_rest_under_all(
    asked: Outing, run: Callable[..., tuple[int, str, str]]
) -> None:
    code, said, _ = run("stand", asked.path)
    assert code == 0
    lines = said.splitlines()
    (line,) = [one for one in lines if "Lamp:" in one]
    assert "lux on the subject" in line
    assert len(line) <= 80
    assert len(lines) <= 30
    text = " ".join(run("stand", asked.path, "--all")[1].split())
    for words in (
        "night vision",
        "everybody within sight",
        "Twilight lights dry grass",
        "dimmed by the air",
        "On a tracking mount 10 arcminutes",
    ):
        assert words in text


def test_places_of_the_session_are_told_for_each_turn(asked: Outing) -> None:
    plan = plan_night(asked, whole_skyline=False)
    assert plan.lamp is not None
    assert plan.session is not None
    assert plan.session.lighting is not None
    sides = {one.side: one.distance_m for one in plan.session.lighting.side_lights}
    for turn in plan.lamp.turns:
        beside = {spot.place: spot.distance_m for spot in turn.spots if spot.place != "hidden"}
        assert beside == sides
    hidden = [s for t in plan.lamp.turns for s in t.spots if s.place == "hidden"]
    assert {s.distance_m for s in hidden} == {
        s.distance_m for s in plan.session.lighting.blind.spots
    }
    # Straight from behind less light shows than from the side at the same distance.
    for spot in hidden:
        assert spot.off_sigma_stops > 2.0


def test_the_sheet_and_explain_say_the_same(asked: Outing) -> None:
    plan = plan_night(asked)
    assert plan.lamp is not None
    content = sheet_content(plan)
    assert plan.lamp.line in content.light
    assert "land with the mount off" in str(content.shots)
    known = lamp_explanations(plan)
    assert known.keys() == LAMP_FACTS.keys()
    assert all(one.value is not None for one in known.values())
    mount = tracker_explanations(plan)
    assert mount.keys() == TRACKER_FACTS.keys()
    assert "20 mm" in mount["tracker.pixel_s"].value


def test_json_holds_the_numbers(asked: Outing, run: Callable[..., tuple[int, str, str]]) -> None:
    plan = json.loads(run("stand", asked.path, "--json")[1])["plan"]
    assert plan["lamp"]["turns"][0]["wanted_lux"] > 0.0
    assert plan["lamp"]["blue_hour"]["frames"][0]["shutter_s"] > 0.0
    assert plan["lenses"][0]["air"]["dimmer_mag"] >= 0.0
    assert plan["lenses"][0]["tracker"]["pixel_s"] > 0.0


@pytest.mark.parametrize("name", ["lamp.wanted_lux", "tracker.pixel_s"])
def test_a_number_that_was_not_asked_for(
    tmp_path: Path, name: str, run: Callable[..., tuple[int, str, str]]
) -> None:
    outing = write_outing(tmp_path, **WHERE)
    code, _, said = run("explain", outing.path, name)
    assert code
    assert f"{name} has no number here" in said
