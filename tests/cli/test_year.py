"""The `year` command, as it is called: table, JSON, calendar, page, folders and candidates."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path

import icalendar
import pytest

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain"
OUTING = SAMPLE / "outing.toml"
JUNE = ("--from", "2027-06-01", "--nights", "12")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two outings in folders of their own, and a kit that is none."""
    folder = tmp_path_factory.mktemp("outings")
    text = OUTING.read_text(encoding="utf-8")
    for name in ("sample_srtm_3arcsec.tif", "places.geojson", "chapel_gable.svg"):
        text = text.replace(f'"{name}"', f'"{(SAMPLE / name).as_posix()}"')
    for name, lat in (("barn", "36.30250"), ("oak", "36.31250")):
        (folder / name).mkdir()
        named = text.replace("Averil Chapel (invented)", f"The {name}").replace("36.30250", lat)
        (folder / name / "outing.toml").write_text(named, encoding="utf-8")
    (folder / "kit.toml").write_text("# no outing\n", encoding="utf-8")
    return folder


def test_the_answer_fits_one_screen_and_names_the_next_command(run) -> None:
    code, out, _ = run("year", OUTING, *JUNE)
    assert code == 0
    assert len(out.splitlines()) <= 30
    assert max(map(len, out.splitlines())) <= 80
    told = " ".join(out.split())
    assert "1. 5–6 Jun " in told
    assert "To spare, if it is cloudy:" in told
    assert told.endswith("outing.toml --write 2027-06-05")


def test_many_subjects_fit_one_screen_too(run, folder: Path) -> None:
    oak = folder / "oak" / "outing.toml"
    more = [folder]
    for i in range(3):
        text = oak.read_text(encoding="utf-8").replace("The oak", f"The very old oak number {i}")
        path = folder / f"oak{i}.more"
        path.write_text(text, encoding="utf-8")
        more.append(path)
    code, out, _ = run("year", *more, "--from", "2027-07-25", "--nights", "12")
    lines = out.splitlines()
    assert code == 0
    assert len(lines) <= 30
    assert max(map(len, lines)) <= 80
    assert sum("of 4" in line for line in lines) >= 12
    assert "more: --all" in out
    assert lines[-1].startswith(("Next: ", "  "))


def test_all_of_it_has_every_lens_and_what_it_rests_on(run) -> None:
    _, out, _ = run("year", OUTING, *JUNE, "--choose", "1", "--all")
    told = " ".join(out.split())
    assert "23:04–23:50, 00:34–04:18" in told
    assert "Nobody is at two subjects at once" in told


def test_a_folder_stands_for_its_outings(run, folder: Path) -> None:
    code, out, _ = run("year", folder, *JUNE, "--json")
    assert code == 0
    document = json.loads(out)
    assert (document["format"], document["version"]) == ("backbearing-year", 1)
    year = document["year"]
    assert [one["name"] for one in year["subjects"]] == ["The barn", "The oak"]
    assert all(len(lens["minutes"]) == 12 for one in year["subjects"] for lens in one["lenses"])
    assert len(year["best"]) == 3
    for night in (*year["best"], *year["spare"]):
        assert [at["name"] for at in night["subjects"]] == ["The barn", "The oak"]


def test_calendar_and_page_are_written_and_not_overwritten(run, folder: Path, tmp_path) -> None:
    page, calendar = tmp_path / "y.html", tmp_path / "y.ics"
    words = ("year", folder, *JUNE, "--page", page, "--calendar", calendar)
    code, out, _ = run(*words)
    assert code == 0
    assert out.count("Wrote") == 2
    code, out, err = run(*words)
    assert (code, out) == (1, "")
    assert "already there" in err
    # RFC 5545 as the library icalendar reads it: three nights and three to spare, two subjects.
    found = icalendar.Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    assert len(found) == 12
    assert len({event["UID"] for event in found}) == 12
    first = found[0]
    assert str(first["SUMMARY"]).startswith("Night 1: Milky Way core (Sgr A*) behind The ")
    assert first.decoded("DTSTART").tzinfo is not None
    assert dt.timedelta(minutes=60) < first.decoded("DTEND") - first.decoded("DTSTART")
    assert "no promise" in str(first["DESCRIPTION"])
    assert sum(str(event["SUMMARY"]).startswith("To spare for ") for event in found) == 6


def test_candidates_become_subjects_with_the_outings_kit(run, tmp_path: Path) -> None:
    some = tmp_path / "some.csv"
    lines = (SAMPLE / "lone_things.csv").read_text(encoding="utf-8").splitlines()[:9]
    some.write_text("\n".join(lines) + "\n", encoding="utf-8")
    words = ("year", OUTING, "--candidates", some, "--top", "2", *JUNE)
    code, out, _ = run(*words, "--json")
    assert code == 0
    year = json.loads(out)["year"]
    assert len(year["subjects"]) == 2
    assert {one["name"] for one in year["subjects"]} <= {line.split(",")[0] for line in lines[1:]}
    assert [lens["label"] for lens in year["subjects"][0]["lenses"]] == [
        "16 mm", "24 mm", "40 mm", "85 mm",
    ]  # fmt: skip
    code, _, err = run("year", OUTING, OUTING, "--candidates", some)
    assert code == 2
    assert "--candidates goes with one outing file" in err


def test_no_night_at_all_says_why_and_ends_with_3(run) -> None:
    code, out, _ = run("year", OUTING, "--from", "2027-06-16", "--nights", "4")
    assert code == 3
    assert "No night of 4 nights is good." in " ".join(out.split())
    assert "only while the Moon is up" in " ".join(out.split())


def test_what_cannot_be_read_is_one_sentence(run, tmp_path: Path) -> None:
    code, _, err = run("year", tmp_path)
    assert code == 1
    assert "no outing file there" in err
    shutil.copy(SAMPLE / "towns.csv", tmp_path / "odd.toml")
    code, _, err = run("year", tmp_path)
    assert code == 1
    assert "odd.toml" in err
