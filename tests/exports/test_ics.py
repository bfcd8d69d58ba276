"""The calendar against RFC 5545, by a strict reader of our own and by the library icalendar."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.alignment import plan_season
from backbearing.base.grouped import changed
from backbearing.exports.ics import Event, calendar_text, escaped, folded, season_calendar

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.season import Season
    from backbearing.terrain import Elevation

MADE = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
HOSTILE = "Oak; \\ , \r\nEND:VCALENDAR\nBEGIN:VEVENT\x07 “ünï” 🌲 " + "très long " * 30

# RFC 5545 section 3.1: name, parameters, value; no control character but HTAB in a value.
CONTENT_LINE = re.compile(
    r"([A-Z0-9-]+)((?:;[A-Z0-9-]+=[^:;\x00-\x1f]*)*):([^\x00-\x08\x0a-\x1f\x7f]*)"
)
STAMP = re.compile(r"\d{8}T\d{6}Z")


def read(text: str) -> list[tuple[str, str]]:
    """Unfold and split strictly; anything that the grammar does not allow fails."""
    assert text.endswith("\r\n")
    lines = text.split("\r\n")[:-1]
    for line in lines:
        assert "\r" not in line
        assert "\n" not in line
        assert 1 <= len(line.encode("utf-8")) <= 75
    whole: list[str] = []
    for line in lines:
        if line[0] in " \t":
            whole[-1] += line[1:]
        else:
            whole.append(line)
    pairs = []
    for line in whole:
        match = CONTENT_LINE.fullmatch(line)
        assert match, line
        pairs.append((match.group(1), match.group(3)))
    return pairs


def text_value(value: str) -> str:
    """Undo the escaping of TEXT; a bare special character is an error (section 3.3.11)."""
    assert re.fullmatch(r"(?:[^\\;,]|\\[\\;,nN])*", value), value
    return re.sub(r"\\(.)", lambda m: "\n" if m.group(1) in "nN" else m.group(1), value)


def events(pairs: list[tuple[str, str]]) -> list[dict[str, str]]:
    assert pairs[0] == ("BEGIN", "VCALENDAR")
    assert pairs[-1] == ("END", "VCALENDAR")
    names = [name for name, _ in pairs]
    assert names.count("VERSION") == names.count("PRODID") == 1
    found: list[dict[str, str]] = []
    inside = False
    for name, value in pairs[1:-1]:
        if (name, value) == ("BEGIN", "VEVENT"):
            assert not inside
            inside = True
            found.append({})
        elif (name, value) == ("END", "VEVENT"):
            inside = False
        elif inside:
            assert name not in found[-1], name
            found[-1][name] = value
    for event in found:
        assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY"} <= set(event)
        assert all(STAMP.fullmatch(event[k]) for k in ("DTSTAMP", "DTSTART", "DTEND"))
        assert event["DTEND"] > event["DTSTART"]
    assert len({event["UID"] for event in found}) == len(found)
    return found


@pytest.fixture(scope="module")
def season(outing: Outing, elevation: Elevation) -> Season:
    return plan_season(outing, first_night=dt.date(2027, 5, 28), nights=12, elevation=elevation)


def test_every_window_is_an_event_in_utc(season: Season) -> None:
    found = events(read(season_calendar(season, made=MADE)))
    windows = [w for night in season.nights for w in night.windows]
    assert len(found) == len(windows) > 5
    for event, window in zip(found, windows, strict=True):
        begin = dt.datetime.strptime(event["DTSTART"], "%Y%m%dT%H%M%SZ").replace(tzinfo=dt.UTC)
        assert abs((begin - window.start).total_seconds()) <= 0.5
        assert event["DTSTAMP"] == "20270102T030405Z"
        lat, lon = event["GEO"].split(";")
        assert float(lat) == pytest.approx(season.lat, abs=1e-6)
        assert float(lon) == pytest.approx(season.lon, abs=1e-6)
        assert "no promise" in text_value(event["DESCRIPTION"])


def test_uids_stay_when_the_file_is_made_again(season: Season) -> None:
    again = season_calendar(season, made=MADE + dt.timedelta(days=3))
    first = {e["UID"] for e in events(read(season_calendar(season, made=MADE)))}
    assert {e["UID"] for e in events(read(again))} == first
    elsewhere = changed(season, lat=season.lat + 0.01)
    assert not first & {e["UID"] for e in events(read(season_calendar(elsewhere, made=MADE)))}


def test_hostile_names_stay_inside_their_value(season: Season) -> None:
    text = season_calendar(replace(season, subject_name=HOSTILE, name=HOSTILE), made=MADE)
    found = events(read(text))
    assert len(found) == sum(len(n.windows) for n in season.nights)
    plain = text_value(found[0]["LOCATION"])
    assert plain == HOSTILE.replace("\r\n", "\n").replace("\x07", "")


def test_a_second_reader_agrees(season: Season) -> None:
    """The library icalendar (PyPI, BSD) reads the same events."""
    text = season_calendar(replace(season, subject_name=HOSTILE), made=MADE)
    theirs = icalendar.Calendar.from_ical(text.encode("utf-8")).walk("VEVENT")
    windows = [w for night in season.nights for w in night.windows]
    assert len(theirs) == len(windows)
    for event, window in zip(theirs, windows, strict=True):
        start = event["DTSTART"].dt
        assert start.utcoffset() == dt.timedelta(0)
        assert abs((start - window.start).total_seconds()) <= 0.5
        assert str(event["LOCATION"]) == HOSTILE.replace("\r\n", "\n").replace("\x07", "")


def test_crossings_of_a_stand_become_events(outing: Outing, elevation: Elevation) -> None:
    season = plan_season(
        outing, first_night=dt.date(2027, 5, 25), nights=8, stand_lat=36.30272,
        stand_lon=-84.18010, elevation=elevation,
    )  # fmt: skip
    found = events(read(season_calendar(season, made=MADE)))
    good = [one for one in season.crossings if one.usable]
    assert len(found) == len(good) > 0
    assert "16 mm" in text_value(found[0]["DESCRIPTION"])


@given(st.text(max_size=300))
def test_any_text_folds_and_comes_back(value: str) -> None:
    event = Event("k", MADE, MADE + dt.timedelta(hours=1), value, value, 1.0, 2.0)
    (found,) = events(read(calendar_text([event], name=value, made=MADE)))
    clean = re.sub(r"[\x00-\x08\x0b-\x1f\x7f]", "", value.replace("\r\n", "\n").replace("\r", "\n"))
    assert text_value(found["SUMMARY"]) == clean
    assert folded(escaped(value)).replace("\r\n ", "") == escaped(value)


def test_folding_cuts_no_character() -> None:
    """RFC 5545 section 3.1 counts octets; a cut inside UTF-8 would not decode."""
    line = "SUMMARY:" + "ü🌲" * 60
    parts = folded(line).split("\r\n")
    assert all(len(part.encode("utf-8")) <= 75 for part in parts)
    assert all(part.startswith(" ") for part in parts[1:])
    assert parts[0] + "".join(part[1:] for part in parts[1:]) == line
