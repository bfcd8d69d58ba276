"""Colours: red light alone where red is asked for, the same on the page and in files."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

import backbearing
from backbearing.drawing import palette
from backbearing.drawing.palette import MAP, Colour, Palette

PALETTES = {name: value for name, value in vars(palette).items() if isinstance(value, Palette)}
STYLE = Path(backbearing.__file__).parent / "maps" / "assets" / "page.css"


def luminance(colour: Colour) -> float:
    """Relative luminance of sRGB, w3c.github.io/wcag/guidelines/relative-luminance.html."""
    parts = [part / 255.0 for part in colour]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Colour, other: Colour) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_every_kind_of_drawing_has_a_red_palette_but_the_map() -> None:
    # The page turns its map red by a filter over everything.
    kinds = {type(one) for one in PALETTES.values()}
    assert {type(one) for one in PALETTES.values() if one.red} == kinds - {type(MAP)}


@pytest.mark.parametrize("name", PALETTES)
def test_words_can_be_read_on_their_paper(name: str) -> None:
    # WCAG 2.2 section 1.4.3 asks 4.5 to 1 of text, 3 to 1 of large text.
    found = PALETTES[name]
    assert contrast(found.ink, found.paper) >= 4.5
    assert contrast(found.soft, found.paper) >= (3.0 if found.red else 4.5)


def test_a_red_palette_with_any_other_light_is_refused() -> None:
    with pytest.raises(ValueError, match="soft of a red palette"):
        Palette(paper=Colour(0, 0, 0), ink=Colour(255, 0, 0), soft=Colour(200, 0, 1), red=True)


def test_colours_as_style_sheets_write_them() -> None:
    # CSS Color Module Level 4, section 5.2: two hexadecimal digits each.
    assert Colour(11, 0, 255).css == "#0b00ff"


def test_the_page_and_the_files_show_the_same_colours() -> None:
    day = STYLE.read_text(encoding="utf-8").split("}")[0]
    named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", day))
    for field in fields(MAP):
        if field.name != "red":
            assert named[field.name] == getattr(MAP, field.name).css, field.name
