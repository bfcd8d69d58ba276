"""One plan a lens: with a session every view names the turn and none the lens's own minute."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import sqlite3
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.view.lens_views import views
from backbearing.cli.compare_table import print_comparison
from backbearing.cli.plan_answer import print_answer
from backbearing.cli.screen import Screen
from backbearing.exports.formats import export_content
from backbearing.pictures.preview_files import preview_files
from backbearing.pictures.skyline_picture import ridge_picture
from backbearing.plan.turns import at_turns, turn_of_each
from backbearing.sheet import sheet_html, sheet_pdf
from invented import hill, write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A kit whose turns fall on other minutes than the lenses' own."""
    asked = write_outing(
        tmp_path_factory.mktemp("one"), lat=-31.0, lon=149.0, evening=dt.date(2027, 8, 5),
        ground=hill(80.0, 900.0), lenses=(20.0, 18.0, 16.0), night={"moon": "any"}, session={},
        subject={"kind": "cairn", "height_m": 5.0, "width_m": 4.0},
    )  # fmt: skip
    elevation = open_elevation(asked)
    return asked, elevation, plan_night(asked, elevation)


def own(plan: Plan) -> list[dt.datetime]:
    """Minutes that only lenses by themselves have, two minutes off any turn's frames."""
    busy = [
        t
        for s in plan.session.shots
        for t in (s.walk_start, s.setup_start, s.focus_start, s.frames_start, s.frames_end)
    ]
    both = [span for lens in plan.lenses for span in (*lens.usable, *lens.hidden)]
    spans = [t for span in both for t in (span.start, span.end)]
    found = [
        lens.stand.time for lens in plan.lenses
        if all(abs((lens.stand.time - t).total_seconds()) > 90.0 for t in (*busy, *spans))
    ]  # fmt: skip
    assert found, "the turns fall on the lenses' own minutes: choose another night"
    return found


def clocks(plan: Plan) -> set[str]:
    zone = ZoneInfo(plan.zone)
    return {f"{t.astimezone(zone):%H:%M}" for t in own(plan)}


def turns(plan: Plan) -> list[str]:
    zone = ZoneInfo(plan.zone)
    return [f"{shot.stand.time.astimezone(zone):%H:%M}" for shot in plan.session.shots]


@pytest.mark.parametrize("suffix", [".gpx", ".kml", ".csv", ".ics"])
def test_text_exports_name_the_turns_alone(made, suffix: str) -> None:
    _, _, plan = made
    text = export_content(plan, suffix).replace("\r\n ", "")
    for clock in clocks(plan):
        assert clock not in text
    for moment in own(plan):
        assert f"{moment:%H:%M:%SZ}" not in text
    for shot in plan.session.shots:
        assert f"{shot.stand.lat:.7f}"[:-2] in text


def test_tables_and_layers_hold_one_stand_a_lens(made, tmp_path: Path) -> None:
    _, _, plan = made
    wanted = {
        shot.lens.label: (shot.stand.lat, shot.stand.lon, shot.stand.distance_m)
        for shot in plan.session.shots
    }
    layers = json.loads(export_content(plan, ".geojson"))["features"]
    stands = [f for f in layers if f["properties"]["role"] == "stand"]
    assert len(stands) == len(wanted)
    for feature in stands:
        lat, lon, distance = wanted[feature["properties"]["lens"]]
        assert feature["geometry"]["coordinates"] == pytest.approx([lon, lat], abs=1e-7)
        assert feature["properties"]["distance_m"] == pytest.approx(distance)
    path = tmp_path / "p.gpkg"
    path.write_bytes(export_content(plan, ".gpkg"))
    with sqlite3.connect(path) as file:
        names = [row[0] for row in file.execute("select table_name from gpkg_contents")]
        (layer,) = [name for name in names if "stand" in name]
        rows = list(file.execute(f'select lens, distance_m, time_utc from "{layer}"'))  # noqa: S608
    assert {lens: distance for lens, distance, _ in rows} == {
        lens: pytest.approx(value[2]) for lens, value in wanted.items()
    }
    assert len(rows) == len(wanted)


def test_json_answers_with_the_turns_and_keeps_the_lenses_behind(made) -> None:
    _, _, plan = made
    document = json.loads(export_content(plan, ".json"))
    stands = document["stands"]
    assert [one["turn"] for one in stands] == [1, 2, 3]
    for one, shot in zip(stands, plan.session.shots, strict=True):
        assert one["lens"] == shot.lens.label
        assert one["time_utc"] == f"{shot.stand.time:%Y-%m-%dT%H:%M:%SZ}"
        assert one["distance_m"] == shot.stand.distance_m
        assert one["shutter_s"] == shot.figures.shutter_s
    assert {lens["stand"]["time"] for lens in document["plan"]["lenses"]} >= {
        f"{t:%Y-%m-%dT%H:%M:%SZ}" for t in own(plan)
    }


def test_sheet_previews_and_pictures_show_the_turns_alone(made, tmp_path: Path) -> None:
    _, elevation, plan = made
    pages = PdfReader(io.BytesIO(sheet_pdf(plan, elevation))).pages
    paper = " ".join(page.extract_text() for page in pages)
    page = sheet_html(plan, elevation)
    for clock in clocks(plan):
        # The map's clock scale has every half hour.
        if clock[3:] not in ("00", "30"):
            assert clock not in paper
            assert clock not in re.sub(r"<svg.*?</svg>", "", page, flags=re.S)
    for clock in turns(plan):
        assert clock in paper
    seen = views(at_turns(plan), elevation)
    files = preview_files(plan, seen)
    assert [view.label for view in seen] == [lens.lens.label for lens in plan.lenses]
    sheet = files["views.svg"]
    labels = [mark.text for mark in sheet.marks if getattr(mark, "bold", False)][1:]
    assert labels == [shot.lens.label for shot in plan.session.shots]  # by turn, not by file
    for clock in clocks(plan):
        assert clock not in sheet.description
    picture = ridge_picture(plan, tmp_path / "r.svg").read_text(encoding="utf-8")
    marked = " ".join(re.findall(r">([^<>]* mm[^<>]*)</text>", picture))
    for clock in turns(plan):
        assert clock in marked
    for clock in clocks(plan):
        assert clock not in marked


def test_the_terminal_answers_and_compares_at_the_turns(made) -> None:
    _, _, plan = made
    out = Screen(200)
    print_answer(out, plan, then="x")
    print_comparison(out, plan)
    told = out.text
    for clock in clocks(plan):
        assert clock not in told
    for shot in plan.session.shots:
        assert f"{shot.stand.distance_m:.1f} m" in told


@pytest.fixture
def run(monkeypatch, capsys):
    import sys

    from backbearing.cli import main

    def call(*words: object) -> str:
        monkeypatch.setattr(sys, "argv", ["backbearing", *map(str, words)])
        monkeypatch.setenv("COLUMNS", "200")
        with pytest.raises(SystemExit):
            main()
        return capsys.readouterr().out

    return call


def test_ridge_looks_from_the_turns_stand_and_marks_its_minute(made, run, tmp_path) -> None:
    asked, _, plan = made
    for lens, shot in zip(plan.lenses, turn_of_each(plan), strict=True):
        picture = tmp_path / f"{lens.lens.label}.svg"
        out = run(
            "ridge", asked.path, "--lens", lens.lens.focal_length_mm, "--picture", picture
        )  # fmt: skip
        zone = ZoneInfo(plan.zone)
        start, end = (t.astimezone(zone) for t in (shot.frames_start, shot.frames_end))
        assert f"{shot.stand.lat:.6f}, {shot.stand.lon:.6f}" in out
        assert f"Turn {shot.number}: frames {start:%H:%M} to {end:%H:%M}." in out
        drawn = picture.read_text(encoding="utf-8")
        clock = f"{shot.stand.time.astimezone(zone):%H:%M}"
        assert f"{lens.lens.label}, turn {shot.number} · {clock}" in drawn
        assert "The subject's shape: a plausible cairn, not yours." in drawn
    # Without a lens it is the first turn's stand, wherever that lens stands in the file.
    first = plan.session.shots[0]
    assert f"Skyline from the {first.lens.label} stand" in run("ridge", asked.path)


def test_explain_answers_with_the_turn_and_remarks_the_lens(made, run) -> None:
    asked, _, plan = made
    lens, shot = next(
        (lens, shot) for lens, shot in zip(plan.lenses, turn_of_each(plan), strict=True)
        if lens.stand.time in own(plan)
    )  # fmt: skip
    name = f"{lens.lens.label.replace(' ', '')}.bearing_deg"
    out = run("explain", asked.path, name)
    assert out.startswith(f"turn.{name} = {shot.stand.bearing_deg:.7g} degrees")
    remark = " ".join(out.split())
    assert f"A remark: by itself, were it the only lens, {lens.stand.bearing_deg:.7g}" in remark
    assert f"\n{name} = " not in out
    assert f"\n{name} = {lens.stand.bearing_deg:.7g}" in run("explain", asked.path, name, "--all")
