"""Exports and sheet name the same places and minutes."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING

import pytest

from backbearing.exports.formats import export_content
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from backbearing.alignment import Plan


def test_every_turn_replaces_the_lenss_own_minute(plan: Plan) -> None:
    assert plan.session is not None
    walked = as_walked(plan)
    turns = {shot.lens: shot for shot in plan.session.shots}
    assert turns
    for before, after in zip(plan.lenses, walked.lenses, strict=True):
        if before.lens in turns:
            assert after.stand is turns[before.lens].stand
            assert f"Turn {turns[before.lens].number} " in after.sentence
        else:
            assert after.stand is before.stand
            assert after.sentence.startswith("No turn")


def test_the_figures_are_the_turns(plan: Plan) -> None:
    session = plan.session
    assert session is not None
    shots = tuple(
        dataclasses.replace(
            shot, figures=dataclasses.replace(shot.figures, shutter_s=3.25, frames_that_fit=7)
        )
        for shot in session.shots
    )
    other = dataclasses.replace(plan, session=dataclasses.replace(session, shots=shots))
    changed = 0
    for lens, before in zip(as_walked(other).lenses, plan.lenses, strict=True):
        assert lens.shutter_s == 3.25
        shot = next(s for s in session.shots if s.lens == lens.lens)
        assert lens.focus is shot.figures.focus
        assert lens.light is shot.figures.light
        changed += lens.focus != before.focus
    # A turn may fall on the lens's own best minute: the 24 mm's does.
    assert changed >= 3
    gpx = export_content(other, ".gpx")
    assert isinstance(gpx, str)
    assert gpx.count("Shutter 3.25 s") == 2 * len(shots)  # as waypoint and on the route
    table = export_content(other, ".csv")
    assert isinstance(table, str)
    assert table.count(",3.2500,") == len(shots)


def test_gpx_waypoints_are_the_sessions(plan: Plan) -> None:
    assert plan.session is not None
    text = export_content(plan, ".gpx")
    root = ET.fromstring(text)  # noqa: S314  # our own text
    places = [
        (float(p.get("lat", "nan")), float(p.get("lon", "nan")))
        for p in root.iter("{http://www.topografix.com/GPX/1/1}wpt")
    ]
    for shot in plan.session.shots:
        off = [max(abs(shot.stand.lat - lat), abs(shot.stand.lon - lon)) for lat, lon in places]
        assert min(off) < 1e-6


def test_a_lens_left_out_keeps_its_stand_and_says_so(plan: Plan) -> None:
    assert plan.session is not None
    fewer = dataclasses.replace(plan.session, shots=plan.session.shots[:1])
    walked = as_walked(dataclasses.replace(plan, session=fewer))
    assert sum(lens.sentence.startswith("No turn") for lens in walked.lenses) == 3


def test_without_a_session_nothing_changes(plan: Plan) -> None:
    alone = dataclasses.replace(plan, session=None)
    assert as_walked(alone) is alone


@pytest.mark.parametrize("suffix", [".kml", ".csv", ".ics", ".geojson"])
def test_text_exports_name_the_turns(plan: Plan, suffix: str) -> None:
    content = export_content(plan, suffix)
    assert isinstance(content, str)
    assert "Turn 1 of" in content.replace("\r\n ", "").replace("\n ", "")
