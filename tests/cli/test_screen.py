"""How text is laid out, and what words say of nothing."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from backbearing.cli import main
from backbearing.cli.screen import Screen
from backbearing.drawing.number_words import climb_words, ground_words

ROOT = Path(__file__).resolve().parents[2]


def test_no_word_is_broken_where_a_name_is_long() -> None:
    # `review` broke "expected" into "expecte/d" at 80 columns.
    frame = "a_long_folder_name_for_one_night_of_frames_IMG_0042.dng"
    heads = ("frame", "taken", "turn", "lens", "shutter", "expected", "trail", "width")
    row = (frame, "00:09:30", "1.", "not planned", "6 s", "3.3 px", "3.1 px", "unknown")
    for width in (40, 60, 80, 120):
        out = Screen(width, "utf-8")
        out.listing(heads, [row], words={"frame", "lens"})
        words = set(re.split(r"[\s,:]+", out.text))
        for word in (*heads[1:], "planned", "unknown", "3.3"):
            assert word in words, (width, word)
        assert max(len(line) for line, _ in out.lines) <= max(width, len(frame) + 1)
        assert frame in out.text


def test_columns_are_measured_after_signs_became_plain() -> None:
    out = Screen(80, "ascii")
    out.facts(("lens", "one", "two"), (("bearing", "7.5°", "120°"), ("over", "3° ± 1°", "—")))
    lines = [line for line, _ in out.lines]
    assert all(line.isascii() for line in lines)
    assert len({len(line) for line in lines}) == 1
    assert lines[1].split() == ["bearing", "7.5", "deg", "120", "deg"]


def test_wide_letters_take_two_columns() -> None:
    out = Screen(80, "utf-8")
    out.listing(("name", "m"), (("孤木", "1"), ("oak", "22")))
    assert [line for line, _ in out.lines] == ["name   m", "孤木   1", "oak   22"]


def test_text_that_would_steer_the_terminal_is_shown_and_not_obeyed() -> None:
    out = Screen(80, "utf-8")
    out.say("Oak \x1b[31m")
    assert out.text == "Oak <U+001B>[31m"


def test_what_is_left_out_is_counted() -> None:
    out = Screen(80, "utf-8")
    out.some([f"Sentence {i}." for i in range(9)], 4)
    assert len(out.lines) == 4
    assert out.lines[-1][0] == "  and 6 more: --all"
    all_of_it = Screen(80, "utf-8")
    all_of_it.some(["One.", "Two."], 2)
    assert len(all_of_it.lines) == 2


def test_nothing_down_has_no_sign() -> None:
    assert climb_words(1.2, -0.3) == "1 m up, 0 m down"
    assert climb_words(0.0, -0.0) == "0 m up, 0 m down"


def test_no_ground_is_credited_to_nobody() -> None:
    assert ground_words("") == ""
    assert ground_words("A survey") == " Ground: A survey"


def test_a_moment_in_utc_says_so_once(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = ROOT / "sample_terrain" / "outing.toml"
    monkeypatch.setattr(sys, "argv", ["backbearing", "explain", str(file), "window.start"])
    monkeypatch.setenv("COLUMNS", "200")
    with pytest.raises(SystemExit):
        main()
    first = capsys.readouterr().out.splitlines()[0]
    assert re.search(r"= 2027-05-\d\dT\d\d:\d\d:\d\dZ$", first), first


def test_make_asks_for_no_bash() -> None:
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    assert not re.search(r"^SHELL\s*:?=", text, flags=re.MULTILINE)
    assert "pipefail" not in text
