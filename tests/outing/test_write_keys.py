"""Keys set in an outing file: those and nothing else, or nothing at all."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import backbearing
from backbearing.base.errors import BackbearingError, OutingError
from backbearing.outing.load import load_outing
from backbearing.outing.toml_edit import Noted, changed_toml, toml_value
from backbearing.outing.write_keys import set_keys

STARTER = Path(backbearing.__file__).parent / "data" / "starter_outing.toml"

TEXT = """# Above all.
name = "Hill"   # as on the map

[subject]
name = "A [subject] = 'x' # none"  # its name
height_m = 6.0                     # a guess
widths_m = [
    [0.0, 1.0], # ] not here
    [6.0, 0.5],
]

# About the night.
[night]
  evening = 2027-06-05

[[lens]]
focal_length_mm = 24
"""


def test_values_are_replaced_where_they_stand() -> None:
    made = changed_toml(
        TEXT,
        {
            "": {"name": 'Hill "B"'},
            "subject": {"height_m": 7.25, "widths_m": [[0.0, 1.0], [7.25, 0.5]]},
            "night": {"evening": dt.date(2027, 7, 1), "at": "23:50"},
        },
    )
    assert made == (
        TEXT.replace('"Hill" ', '"Hill \\"B\\"" ')
        .replace("6.0        ", "7.25        ")
        .replace("[\n    [0.0, 1.0], # ] not here\n    [6.0, 0.5],\n]", "[[0.0, 1.0], [7.25, 0.5]]")
        .replace("2027-06-05\n", '2027-07-01\n  at = "23:50"\n')
    )


def test_a_new_key_stands_below_its_elder_or_last_in_its_section() -> None:
    made = changed_toml(TEXT, {"subject": {"height_m": 6.5, "height_sigma_m": 0.5}})
    assert "# a guess\nheight_sigma_m = 0.5\nwidths_m" in made
    made = changed_toml(TEXT, {"subject": {"ground_m": 486.0}})
    assert "    [6.0, 0.5],\n]\nground_m = 486.0\n\n# About the night." in made


def test_a_new_section_stands_at_the_end() -> None:
    assert changed_toml(TEXT, {"ground": {"elevation": ["a.tif"]}}) == (
        f'{TEXT}\n[ground]\nelevation = ["a.tif"]\n'
    )
    assert changed_toml("", {"ground": {"band": 1}}) == "[ground]\nband = 1\n"
    assert changed_toml("a = 1", {"b": {"c": True}}) == "a = 1\n\n[b]\nc = true\n"


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("subject.height_m = 1\n", "subject.height_m = 2\nsubject.lat = 3\n"),
        ("[ 'subject' ]\n\"height_m\"=1", "[ 'subject' ]\n\"height_m\"=2\nlat = 3"),
        ("[subject]\r\nheight_m = 1 # x\r\n", "[subject]\r\nheight_m = 2 # x\r\nlat = 3\r\n"),
        ("[subject]", "[subject]\nheight_m = 2\nlat = 3"),
        ("[subject.x]\n[subject]\n", "[subject.x]\n[subject]\nheight_m = 2\nlat = 3\n"),
        ('b = """\n[subject]"""\n', 'b = """\n[subject]"""\n\n[subject]\nheight_m = 2\nlat = 3\n'),
    ],
)  # fmt: skip
def test_layouts_of_all_kinds(text: str, made: str) -> None:
    assert changed_toml(text, {"subject": {"height_m": 2, "lat": 3}}) == made


def test_one_of_several_is_set_by_its_number() -> None:
    text = f"{TEXT}\n[[lens]]\nfocal_length_mm = 50 # long\n\n[safety]\n"
    made = changed_toml(text, {"lens[2]": {"stand_drop_m": -1.5}, "lens[1]": {"share": 0.3}})
    assert made == text.replace("= 24\n", "= 24\nshare = 0.3\n").replace(
        "# long\n", "# long\nstand_drop_m = -1.5\n"
    )
    assert changed_toml(text, {"lens[2]": {"focal_length_mm": 85}}).count("85 # long") == 1
    with pytest.raises(OutingError, match=r"no \[\[lens\]\] number 3; write a number from 1 to 2"):
        changed_toml(text, {"lens[3]": {"share": 0.3}})
    with pytest.raises(OutingError, match="add one"):
        changed_toml("", {"lens[1]": {"share": 0.3}})


def test_a_note_stands_where_no_comment_of_the_authors_does() -> None:
    text = "[framing]\nlevel = true\n"
    once = changed_toml(text, {"framing": {"stand_drop_m": Noted(0.9, "within 0.4 m")}})
    assert once == text + "stand_drop_m = 0.9  # measured: within 0.4 m\n"
    again = changed_toml(once, {"framing": {"stand_drop_m": Noted(1.25, "within 0.2 m\n[x]")}})
    assert again == text + "stand_drop_m = 1.25  # measured: within 0.2 m [x]\n"
    bare = changed_toml(f"{text}stand_drop_m = 1\r\n", {"framing": {"stand_drop_m": Noted(2, "a")}})
    assert bare == f"{text}stand_drop_m = 2  # measured: a\r\n"
    own = f"{text}stand_drop_m = 1 # by eye\n"
    assert changed_toml(own, {"framing": {"stand_drop_m": Noted(2, "a")}}) == own.replace(
        "1 #", "2 #"
    )


@pytest.mark.parametrize("text", ["subject = {height_m = 1}\n", "[[subject]]\nheight_m = 1\n"])
def test_a_section_in_braces_is_left_to_its_author(text: str) -> None:
    with pytest.raises(OutingError, match="not written as one section"):
        changed_toml(text, {"subject": {"height_m": 2}})


@pytest.mark.parametrize("value", [float("nan"), float("inf"), None, {"a": 1}, b"x"])
def test_what_no_outing_holds_is_not_written(value: Any) -> None:
    with pytest.raises(OutingError, match="cannot be written"):
        toml_value(value)


VALUES = st.one_of(
    st.booleans(),
    st.integers(-(2**62), 2**62),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(exclude_categories=["Cs"])),
    st.dates(),
    st.lists(st.integers(0, 9), max_size=3),
)
NAMES = st.sampled_from(["a", "b", "c", "d-e"])
SECTIONS = st.dictionaries(NAMES, VALUES, max_size=4)


@given(st.dictionaries(st.sampled_from(["p", "q", "r"]), SECTIONS, max_size=3), SECTIONS, st.data())
def test_the_parser_reads_what_was_set_and_what_was_there(
    sections: dict[str, dict[str, Any]], wanted: dict[str, Any], data: st.DataObject
) -> None:
    lines = []
    for section, keys in sections.items():
        lines.append(f"[{section}] # [none]")
        for key, value in keys.items():
            lines.append(data.draw(st.sampled_from(["", "# a = 1", "\t"])))
            lines.append(f"{key} = {toml_value(value)} # = '''")
    text = "\n".join(lines) + data.draw(st.sampled_from(["", "\n"]))
    made = changed_toml(text, {"q": wanted} if wanted else {})
    expected = {**sections, **({"q": {**sections.get("q", {}), **wanted}} if wanted else {})}
    assert tomllib.loads(made) == expected
    for line in lines:
        if line.startswith(("#", "[")):
            assert line in made


def copied(folder: Path, text: str | None = None) -> Path:
    path = folder / "outing.toml"
    path.write_text(STARTER.read_text("utf-8") if text is None else text, encoding="utf-8")
    return path


def test_a_file_keeps_everything_but_the_key(tmp_path: Path) -> None:
    path = copied(tmp_path)
    before = path.read_text("utf-8")
    assert set_keys(path, {"subject": {"height_m": 6.4}}) == path.resolve()
    after = path.read_text("utf-8")
    (was,) = re.findall(r"(?m)^height_m = \S+ ", before)
    assert after == before.replace(was, "height_m = 6.4 ", 1)
    assert load_outing(path).subject.height_m == 6.4
    assert [one.name for one in tmp_path.iterdir()] == ["outing.toml"]


def test_an_outing_that_loads_is_not_broken(tmp_path: Path) -> None:
    path = copied(tmp_path)
    before = path.read_bytes()
    for wrong in ({"lat": 91.0}, {"height_m": "tall"}, {"colour": "green"}):
        with pytest.raises(BackbearingError, match=r"outing\.toml: \[subject\]"):
            set_keys(path, {"subject": wrong})
        assert path.read_bytes() == before


def test_an_outing_that_is_not_whole_yet_is_filled_in(tmp_path: Path) -> None:
    path = copied(tmp_path, "format = 1\n")
    set_keys(path, {"subject": {"height_m": 6.4}})
    assert path.read_text("utf-8") == "format = 1\n\n[subject]\nheight_m = 6.4\n"


def test_a_byte_order_mark_and_a_link_stay(tmp_path: Path) -> None:
    path = copied(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    link = tmp_path / "link.toml"
    link.symlink_to(path)
    set_keys(link, {"subject": {"height_m": 6.4}})
    assert link.is_symlink()
    held = path.read_bytes()
    assert held.startswith(b"\xef\xbb\xbf# An outing")
    assert b"height_m = 6.4 " in held
    assert held.count(b"\n") == held.count(b"\r\n")


def test_what_is_missing_or_no_toml_is_said(tmp_path: Path) -> None:
    with pytest.raises(OutingError, match="There is no file of an outing"):
        set_keys(tmp_path / "none.toml", {"subject": {"height_m": 1.0}})
    with pytest.raises(OutingError, match="line 1"):
        set_keys(copied(tmp_path, "a = \n"), {"subject": {"height_m": 1.0}})
