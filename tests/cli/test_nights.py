"""The `nights` command, as it is called."""

from __future__ import annotations

import json
from pathlib import Path

OUTING = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"


def test_table_names_nights_by_both_dates_and_says_why(run) -> None:
    code, out, _ = run("nights", OUTING, "--from", "2027-05-17", "--nights", "16", "--all")
    assert code == 0
    assert "25–26 May" in out
    assert "31 May–1 Jun" in out
    assert "America/New_York (EDT)" in out
    assert "Nights without a window" in out
    assert "only while the" in out
    assert max(len(line.rstrip()) for line in out.splitlines()) <= 80
    assert "…" not in out


def test_lean_and_band_up_are_said_in_words_below_their_columns(run) -> None:
    words = ("nights", OUTING, "--from", "2027-06-05", "--nights", "3")
    _, short, _ = run(*words)
    assert "band up" not in short
    _, out, _ = run(*words, "--all")
    told = " ".join(out.split())
    assert "band up" in told
    assert "lean: how far the Milky Way's band tilts from upright" in told
    assert "band up: how much of the band within 30° of the galaxy's centre" in told


def test_every_night_is_there_in_json(run) -> None:
    code, out, _ = run("nights", OUTING, "--from", "2027-05-24", "--nights", "7", "--json")
    document = json.loads(out)
    assert code == 0
    assert (document["format"], document["version"]) == ("backbearing-nights", 1)
    nights = document["season"]["nights"]
    assert [n["evening"][-2:] for n in nights] == ["24", "25", "26", "27", "28", "29", "30"]
    assert all(bool(n["windows"]) != bool(n["why_not"]) for n in nights)


def test_calendar_and_picture_are_written_and_not_overwritten(run, tmp_path: Path) -> None:
    calendar, picture = tmp_path / "n.ics", tmp_path / "n.svg"
    words = ("nights", OUTING, "--nights", "3", "--calendar", calendar, "--picture", picture)
    code, out, _ = run(*words, "--red")
    assert code == 0
    assert calendar.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert picture.read_text(encoding="utf-8").lstrip().startswith("<?xml")
    assert out.count("Wrote") == 2
    code, out, err = run(*words)
    assert code == 1
    assert out == ""
    assert "already there" in err
    assert run(*words, "--overwrite")[0] == 0


def test_from_a_stand(run) -> None:
    code, out, _ = run(
        "nights", OUTING, "--nights", "3", "--all", "--from-stand", "36.30272", "-84.18010"
    )
    assert code == 0
    assert "Exactly behind the subject" in out
    assert "16 24 40" in out


def test_twilight_is_shown_where_it_matters(run, tmp_path: Path, sample_text: str) -> None:
    _, out, _ = run("nights", OUTING, "--from", "2027-06-05", "--nights", "2")
    assert "glow adds" not in out
    assert "Twilight brightens the target's sky by 0.09 mag at most" in " ".join(out.split())
    path = tmp_path / "outing.toml"
    shallow = sample_text.replace("sun_below_deg = -18.0", "sun_below_deg = -12.0")
    path.write_text(shallow, encoding="utf-8")
    _, out, _ = run("nights", path, "--from", "2027-06-05", "--nights", "2", "--all")
    assert "glow adds" in out
    assert "Twilight brightens" not in out
    # From a stand the light that spoils a crossing is told in magnitudes.
    stand = ("--from-stand", "36.30272", "-84.18010")
    _, out, _ = run("nights", OUTING, "--from", "2027-06-12", "--nights", "2", *stand)
    assert "moon +1." in out


def test_no_window_at_all_is_exit_code_3(run) -> None:
    code, out, _ = run("nights", OUTING, "--from", "2027-12-01", "--nights", "5")
    assert code == 3
    assert "No night of these has a window." in out


def test_a_star_as_the_target(run, tmp_path: Path, sample_text: str) -> None:
    path = tmp_path / "outing.toml"
    path.write_text(sample_text.replace('name = "core"', 'star = "antares"'), encoding="utf-8")
    code, out, _ = run("nights", path, "--nights", "2")
    assert code == 0
    assert "Antares 1°" in out
    path.write_text(sample_text.replace('name = "core"', 'star = "Antaros"'), encoding="utf-8")
    code, _, err = run("nights", path, "--nights", "2")
    assert code == 1
    assert "did you mean Antares" in err
    assert "[target]" in err


def test_numbers_of_the_night_are_explained(run) -> None:
    code, out, _ = run("explain", OUTING, "window.moon_adds_mag")
    assert code == 0
    assert "Krisciunas" in out
    code, _, err = run("explain", OUTING, "crossing.time")
    assert code == 3
    assert "--from-stand" in err


def test_bad_spans_are_usage_errors(run) -> None:
    assert run("nights", OUTING, "--nights", "0")[0] == 2
    assert run("nights", OUTING, "--nights", "900")[0] == 2
    assert run("nights", OUTING, "--from", "May")[0] == 2
    assert run("nights", OUTING, "--red")[0] == 2


def test_where_moonlight_falls_from_is_said_in_degrees(run) -> None:
    _, out, _ = run("nights", OUTING, "--from", "2027-07-06", "--nights", "2", "--json")
    season = json.loads(out)["season"]
    ridge, side = (night["moonlit"][0] for night in season["nights"])
    _, text, _ = run("nights", OUTING, "--from", "2027-07-06", "--nights", "2", "--all")
    assert ridge["moon_light_from"] == "behind the ridge"
    assert "behind the ridge" in text
    turn, height = side["moon_turn_deg"], side["moon_altitude_deg"]
    assert f"side light: {turn:.0f}° right, {height:.0f}° up" in text
    assert ("welcome?" in text) == side["moon_welcome"]
