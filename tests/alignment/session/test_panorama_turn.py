"""A panorama's minutes in the session, and a tracked sky with its land."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment import plan_night
from backbearing.base.errors import OutingError
from backbearing.drawing.wall_clock import WallClock
from backbearing.maps.lens_rows import lens_rows
from backbearing.outing.load import load_outing
from backbearing.plan.turns import as_planned
from backbearing.sheet.content import sheet_content
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan

WHERE: dict[str, Any] = {"lat": -31.4, "lon": 148.9, "evening": dt.date(2027, 6, 5)}


def planned(folder: Path, lenses: Any, **sections: Any) -> Plan:
    outing = write_outing(folder, **WHERE, lenses=lenses, **sections)
    return plan_night(outing, whole_skyline=False)


def test_the_turn_is_as_long_as_the_panorama(tmp_path: Path) -> None:
    lenses = (16.0, {"focal_length_mm": 50.0, "panorama": True})
    plan = planned(tmp_path, lenses, session={"frames_minutes": 5.0})
    # Minutes that the session itself gives win.
    assert plan.session is not None
    assert {shot.minutes.frames_minutes for shot in plan.session.shots} == {5.0}
    plan = planned(tmp_path, lenses, session={})
    assert plan.session is not None
    (shot,) = [one for one in plan.session.shots if one.lens.focal_length_mm == 50.0]
    assert shot.figures.shutter is not None
    rows = shot.figures.shutter.panorama
    assert rows is not None
    # Each frame: its shutter, 2 s of pause as asked, 5 s to turn the head.
    seconds = rows.frames * (shot.figures.shutter_s + 2.0 + 5.0)
    assert rows.shooting_minutes == pytest.approx(seconds / 60.0)
    assert shot.minutes.frames_minutes >= math.ceil(seconds / 60.0 - 1e-9)
    assert shot.minutes.frames_minutes <= seconds / 60.0 + 2.0
    # A row's time at 360 degrees in a sidereal day.
    row_s = max(rows.rows) * (shot.figures.shutter_s + 7.0)
    assert rows.sky_turn_deg == pytest.approx(360.0 / 86164.0905 * row_s, rel=1e-6)


def test_rows_frames_minutes_and_turn_are_told_where_they_are_asked_for(tmp_path: Path) -> None:
    lenses = (16.0, {"focal_length_mm": 50.0, "panorama": True}, 35.0)
    plan = planned(tmp_path, lenses, session={})
    assert plan.session is not None
    clock = WallClock(plan.zone)
    for shot in plan.session.shots:
        assert shot.figures.shutter is not None
        rows = shot.figures.shutter.panorama
        [lens] = [one for one in as_planned(plan).lenses if one.lens == shot.lens]
        page = dict(lens_rows(lens, clock, "core"))
        if shot.lens.focal_length_mm != 50.0:
            assert "Panorama" not in page
            continue
        assert rows is not None
        assert rows.is_asked
        for words in (str(page["Panorama"]), rows.sentence):
            assert f"{rows.frames} frames in {len(rows.rows)} rows" in words
            assert ", ".join(map(str, rows.rows)) in words
            assert "min to shoot" in words
            assert "from a row to the next" in words
    notes = " ".join(row.note for row in sheet_content(plan).shots)
    assert notes.count("Panorama:") == 1
    assert "the sky turning" in notes


def test_the_outing_s_own_overlap_reaches_the_rows(tmp_path: Path) -> None:
    lenses = (16.0, {"focal_length_mm": 50.0, "panorama": True})
    file = write_outing(tmp_path, **WHERE, lenses=lenses, session={}).path
    text, found = file.read_text(encoding="utf-8"), []
    for overlap in (0.1, 0.6):
        file.write_text(
            text.replace("[camera]", f"[camera]\npanorama_overlap = {overlap}"), "utf-8"
        )
        lens = plan_night(load_outing(file), whole_skyline=False).lenses[1]
        assert lens.shutter is not None
        assert lens.shutter.panorama is not None
        assert lens.shutter.panorama.overlap == overlap
        found.append(lens.shutter.panorama.frames)
    # Both ways each frame brings 0.4 instead of 0.9 of itself: some five times as many.
    assert found[1] > 3 * found[0]


def test_the_widest_lens_has_none_and_is_told_so(tmp_path: Path) -> None:
    lenses = ({"focal_length_mm": 16.0, "panorama": True}, 50.0)
    plan = planned(tmp_path, lenses, session={})
    figures = plan.lenses[0].shutter
    assert figures is not None
    assert figures.panorama is not None
    assert figures.panorama.frames == 0
    assert "no lens of this kit sees wider" in figures.panorama.sentence
    other = plan.lenses[1].shutter
    assert other is not None
    assert other.panorama is not None
    assert not other.panorama.is_asked


def test_a_panorama_without_a_session_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutingError, match="panorama means something only in a session"):
        planned(tmp_path, (16.0, {"focal_length_mm": 50.0, "panorama": True}))


def test_a_tracked_sky_and_its_land(tmp_path: Path) -> None:
    plan = planned(tmp_path, (20.0, 35.0), tracker={"polar_error_arcmin": 30.0})
    for lens in plan.lenses:
        assert lens.tracker is not None
        assert lens.stand is not None
        assert lens.tracker.polar_drift_arcsec_min == pytest.approx(
            15.041 / 2.0 * 60.0 * 0.0174533, rel=1e-3
        )
        drift = lens.tracker.polar_drift_arcsec_min + lens.tracker.air_drift_arcsec_min
        pixel = 206.265 * plan.camera.pixel_pitch_um / lens.lens.focal_length_mm
        assert lens.tracker.pixel_s == pytest.approx(60.0 * pixel / drift, rel=1e-4)
        assert lens.tracker.tracked_shutter_s <= lens.tracker.pixel_s
        # The land moves as far as stars would without the mount: the trail of that shutter.
        trail = lens.trail_core_px / lens.shutter_s * lens.tracker.tracked_shutter_s
        assert lens.tracker.land_smear_px == pytest.approx(trail, rel=0.35)
        assert "straight after" in lens.tracker.tracker_sentence


def test_without_a_mount_nothing_is_said(tmp_path: Path) -> None:
    plan = planned(tmp_path, (20.0,))
    assert plan.lenses[0].tracker is None
