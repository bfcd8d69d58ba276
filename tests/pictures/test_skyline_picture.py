from __future__ import annotations

import datetime as dt
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from backbearing.base.errors import WriteRefusedError
from backbearing.pictures import draw_skyline, ridge_picture

START = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)
SVG = "{http://www.w3.org/2000/svg}"


def _texts(path):
    root = ET.parse(path).getroot()  # noqa: S314 -- our own file
    return [" ".join("".join(t.itertext()).split()) for t in root.iter(f"{SVG}text")]


def test_the_svg_is_the_same_each_time_and_keeps_text_as_text(tmp_path, plan):
    one = ridge_picture(plan, tmp_path / "one.svg").read_bytes()
    assert ridge_picture(plan, tmp_path / "two.svg").read_bytes() == one
    texts = _texts(tmp_path / "one.svg")
    assert any(plan.subject.name in t for t in texts)
    assert "02:00" in texts
    assert "180°" in texts
    assert any("behind the ground" in t for t in texts)


def test_foreign_text_is_shown_as_it_is(tmp_path, hostile_plan):
    title = "$x^2$ \\frac{1}{2} <script>alert(1)</script> & `${y}`"
    path = ridge_picture(
        replace(hostile_plan, subject=replace(hostile_plan.subject, name=title)),
        tmp_path / "ridge.svg",
    )
    root = ET.parse(path).getroot()  # noqa: S314 -- our own file
    assert not list(root.iter(f"{SVG}script"))
    assert any(" ".join(title.split()) in t for t in _texts(path))


def test_a_name_in_a_script_that_the_font_lacks_does_not_stop_the_png(tmp_path):
    path = draw_skyline(
        [0.0, 180.0, 359.0], [1.0, 2.0, 1.0], [(START, 180.0, 20.0)], tmp_path / "r.png",
        zone="Asia/Tokyo", title="風車 😀 מגדל $a_b$", note="\n".join("long " * 200),
    )  # fmt: skip
    with Image.open(path) as image:
        assert image.size == (1760, 832)


def test_the_night_version_has_no_green_and_no_blue(tmp_path, plan):
    path = ridge_picture(plan, tmp_path / "night.png", night=True)
    with Image.open(path) as image:
        pixels = np.asarray(image.convert("RGB"))
    assert pixels[..., 1:].max() == 0
    assert pixels[..., 0].max() > 200


def test_the_hidden_part_is_drawn_differently(tmp_path, plan):
    path = ridge_picture(plan, tmp_path / "r.svg")
    styles = [e.get("style", "") for e in ET.parse(path).getroot().iter(f"{SVG}path")]  # noqa: S314
    path_lines = [s for s in styles if "#b03a06" in s and "fill: none" in s]
    assert any("stroke-dasharray" in s for s in path_lines)
    assert any("stroke-dasharray" not in s and "stroke-width: 3.6" in s for s in path_lines)


@pytest.mark.parametrize(
    ("azimuths", "altitudes", "points"),
    [
        ([], [], []),
        ([0.0, 90.0], [np.nan, np.nan], [(START, 45.0, 10.0)]),
        (np.arange(360.0), np.full(360, 4.0), []),
        (
            np.arange(360.0),
            np.full(360, 4.0),
            [(START + dt.timedelta(minutes=5 * i), (340 + 2 * i) % 360, 30.0) for i in range(20)],
        ),
        (
            np.arange(360.0),
            np.full(360, 4.0),
            [(START, 90.0, 85.0), (START + dt.timedelta(minutes=1), 270.0, 89.0)],
        ),
    ],
)
def test_odd_skies_are_drawn_without_complaint(tmp_path, azimuths, altitudes, points):
    path = draw_skyline(
        azimuths, altitudes, points, tmp_path / "odd.svg", zone="UTC", title="odd",
        marks=[(START, "a mark")],
    )  # fmt: skip
    assert path.stat().st_size > 1000


def test_other_suffixes_and_files_in_the_way_are_refused(tmp_path, plan):
    with pytest.raises(WriteRefusedError, match=r"\.svg or \.png"):
        ridge_picture(plan, tmp_path / "ridge.pdf")
    ridge_picture(plan, tmp_path / "ridge.svg")
    with pytest.raises(WriteRefusedError, match="already there"):
        ridge_picture(plan, tmp_path / "ridge.svg")


def test_nearer_ground_and_the_moon_are_drawn_and_named(tmp_path):
    points = [(START + dt.timedelta(minutes=10 * i), 150.0 + 2 * i, 20.0) for i in range(20)]
    moon = [(START + dt.timedelta(minutes=10 * i), 160.0 + 2 * i, 12.0) for i in range(20)]
    path = draw_skyline(
        np.arange(0.0, 360.0), np.full(360, 5.0), points, tmp_path / "r.svg",
        zone="UTC", title="t", within=[(500.0, 1.0, [2.0] * 360), (5000.0, 1.0, [4.0] * 360)],
        moon=moon,
    )  # fmt: skip
    texts = _texts(path)
    assert any("within 500 m, 5.0 km" in t for t in texts)
    assert "Moon 04:00" in texts or "Moon 05:00" in texts


def test_a_moon_outside_the_picture_is_left_out(tmp_path):
    points = [(START + dt.timedelta(minutes=10 * i), 150.0 + 2 * i, 20.0) for i in range(20)]
    moon = [(START + dt.timedelta(minutes=10 * i), 10.0 + i, 12.0) for i in range(20)]
    path = draw_skyline(
        np.arange(0.0, 360.0), np.full(360, 5.0), points, tmp_path / "r.svg",
        zone="UTC", title="t", moon=moon,
    )  # fmt: skip
    assert not any("Moon" in t for t in _texts(path))
