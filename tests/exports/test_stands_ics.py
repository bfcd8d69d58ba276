"""A plan's stands as events."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import icalendar
import pytest

from backbearing.base.grouped import changed
from backbearing.exports.file_text import NOT_PLAIN, visible
from backbearing.exports.stands_ics import plan_calendar
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from backbearing.alignment import Plan


def events(text: str) -> list[icalendar.Event]:
    return icalendar.Calendar.from_ical(text.encode("utf-8")).walk("VEVENT")


def test_every_stand_is_an_event_about_its_moment(plan: Plan) -> None:
    found = events(plan_calendar(plan, height_reference="EGM96 geoid"))
    assert len(found) == 4
    assert len({str(event["UID"]) for event in found}) == 4
    for event, lens in zip(found, plan.lenses, strict=True):
        start, end = event["DTSTART"].dt, event["DTEND"].dt
        assert start.utcoffset() == dt.timedelta(0)
        assert abs((start + (end - start) / 2 - lens.stand.time).total_seconds()) <= 1.0
        minutes = (end - start).total_seconds() / 60.0
        assert minutes == pytest.approx(2.0 * lens.stand.play_minutes, abs=0.05)
        said = str(event["DESCRIPTION"])
        for caution in (*plan.cautions, *lens.stand.cautions):
            assert caution in said
        assert "EGM96 geoid" in said


def test_a_turn_lasts_from_setting_up_to_the_last_frame(plan: Plan) -> None:
    assert plan.session is not None
    spans = {(e["DTSTART"].dt, e["DTEND"].dt) for e in events(plan_calendar(as_walked(plan)))}
    assert spans == {(shot.setup_start, shot.frames_end) for shot in plan.session.shots}


def test_uids_stay_and_unknown_play_is_a_moment(plan: Plan) -> None:
    later = changed(plan, made=plan.made + dt.timedelta(days=2))
    uids = [[str(e["UID"]) for e in events(plan_calendar(p))] for p in (plan, later)]
    assert uids[0] == uids[1]
    lens = plan.lenses[0]
    still = replace(lens, stand=changed(lens.stand, play_minutes=float("nan")))
    (event,) = events(plan_calendar(replace(plan, lenses=(still,))))
    assert event["DTSTART"].dt == lens.stand.time
    assert events(plan_calendar(replace(plan, lenses=()))) == []


def test_hostile_names_stay_in_their_value(hostile: tuple[str, Plan]) -> None:
    name, plan = hostile
    text = plan_calendar(plan, height_reference=name)
    assert all(len(line.encode("utf-8")) <= 75 for line in text.split("\r\n"))
    found = events(text)
    assert len(found) == 4
    assert str(found[0]["LOCATION"]) == visible(name, NOT_PLAIN)
