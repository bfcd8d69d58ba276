"""An imperial outing: no metre where a person reads, and the same lengths as the metric one.

Feet, yards and miles are PROJ's, read through pyproj.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import sys
import xml.etree.ElementTree as ET
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader
from pyproj.database import get_units_map
from shapely.geometry import LineString, Point

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.view.lens_views import views
from backbearing.base.grouped import changed
from backbearing.base.units import METRIC, Units
from backbearing.cli import main
from backbearing.drawing.marks import Words
from backbearing.exports.formats import export_content
from backbearing.pictures.preview_files import preview_files
from backbearing.pictures.skyline_picture import ridge_picture
from backbearing.plan.in_units import in_units
from backbearing.plan.place import Place
from backbearing.plan.turns import at_turns
from backbearing.sheet import sheet_html, sheet_pdf
from invented import hill, write_outing

if TYPE_CHECKING:
    from collections.abc import Iterator

IMPERIAL = Units("imperial")
KNOWN = {unit.code: unit.conv_factor for unit in get_units_map(category="linear").values()}
METRES = {
    "m": 1.0, "km": 1000.0, "cm": 0.01,
    "ft": KNOWN["9002"], "yd": KNOWN["9096"], "mi": KNOWN["9093"],
}  # fmt: skip
NAMES = ("Mast 12 m", "Two 3 km posts", "Track of 5 m", "a note of 7 m")
LENGTH = re.compile(
    r"(?<![\w.])((?:\d+(?:\.\d+)? × )?\d+(?:\.\d+)?)[ \u00a0](km|cm|m|ft|yd|mi)\b(?![/²³])"
)
STRAY = re.compile(r"\d[ \u00a0]?(?:km|cm|m)\b(?![/²³])|\bmetres?\b")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    asked = write_outing(
        tmp_path_factory.mktemp("imperial"), lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 5),
        ground=hill(80.0, 500.0), lenses=(16.0, 35.0), night={"moon": "any"}, session={},
        subject={"name": NAMES[0], "kind": "mast", "height_m": 12.0, "width_m": 2.0},
    )  # fmt: skip
    elevation = open_elevation(asked)
    plan = plan_night(asked, elevation)
    track = LineString([(149.001, -31.0), (149.0005, -31.0003)])
    places = (
        Place("track", NAMES[2], NAMES[3], "open", track),
        Place("land", NAMES[1], "", "ask first", Point(149.0, -31.0).buffer(1e-3)),
    )
    return asked, elevation, changed(plan, places=places)


def without_names(text: str) -> str:
    for name in NAMES:
        text = text.replace(name, "N")
    return text


def texts(made, units: Units, folder) -> Iterator[tuple[str, str]]:
    """Everything of a plan that a person reads, by name."""
    _, elevation, plan = made
    pages = PdfReader(io.BytesIO(sheet_pdf(plan, elevation, units=units))).pages
    yield "pdf", " ".join(" ".join(page.extract_text() for page in pages).split())
    html = re.sub(r"<style.*?</style>", "", sheet_html(plan, elevation, units=units), flags=re.S)
    yield "html", re.sub(r"<[^>]+>", "\n", html)
    words = re.sub(r"<svg.*?</svg>", "", html, flags=re.S)
    yield "words of the sheet", re.sub(r"<[^>]+>", "\n", words)
    ns = "{http://www.topografix.com/GPX/1/1}"
    gpx = ET.fromstring(export_content(plan, ".gpx", units=units))  # noqa: S314
    yield "gpx", "\n".join(one.text or "" for one in gpx.iter(f"{ns}desc"))
    ns = "{http://www.opengis.net/kml/2.2}"
    kml = ET.fromstring(export_content(plan, ".kml", units=units))  # noqa: S314
    yield "kml", "\n".join(one.text or "" for one in kml.iter(f"{ns}description"))
    ics = export_content(plan, ".ics", units=units)
    yield "ics", ics.replace("\r\n ", "").replace("\\n", "\n").replace("\\", "")
    for name, sheet in preview_files(plan, views(at_turns(plan), elevation), units=units).items():
        shown = [mark.text for mark in sheet.marks if isinstance(mark, Words)]
        yield name, "\n".join([*shown, sheet.description])
    path = ridge_picture(plan, folder / f"{units.name}.svg", units=units)
    yield "ridge", "\n".join(re.findall(r">([^<>]+)</text>", path.read_text(encoding="utf-8")))


def test_no_metre_is_left_where_a_person_reads(made, tmp_path) -> None:
    seen = 0
    for name, text in texts(made, IMPERIAL, tmp_path):
        # The emergency of a missing credit and the shape of a file are not lengths.
        found = STRAY.findall(without_names(text))
        assert not found, (name, found)
        seen += len(re.findall(r"\d ft\b", text))
    assert seen > 50
    for name, text in texts(made, METRIC, tmp_path):
        assert not re.search(r"\d (ft|yd|mi)\b", text), name


def lengths(text: str) -> list[tuple[float, float, str]]:
    """Metres, half of the last shown digit in metres, and how it stands there."""
    found = []
    for match in LENGTH.finditer(without_names(text)):
        unit = METRES[match[2]]
        for number in match[1].split(" × "):
            half = 0.5 * 10.0 ** -len(number.partition(".")[2])
            found.append((float(number) * unit, half * unit, match[0]))
    return found


def test_every_length_is_the_same_as_in_metres_within_what_is_shown(made, tmp_path) -> None:
    metric = dict(texts(made, METRIC, tmp_path))
    for name, text in texts(made, IMPERIAL, tmp_path):
        in_figures = re.sub(r"(within|by) (?:3\.3|1\.6) ft", "", text)  # in metres: in words
        ours, theirs = lengths(in_figures), lengths(metric[name])
        if name in ("pdf", "html"):
            continue  # Their scale bar is round in its own unit; their words are looked at alone.
        assert len(ours) == len(theirs), name
        for (a, half_a, shown_a), (b, half_b, shown_b) in zip(ours, theirs, strict=True):
            assert abs(a - b) <= half_a + half_b + 1e-9, (name, shown_a, shown_b)


def test_a_sentence_and_a_table_say_one_length_alike(made) -> None:
    _, _, plan = made
    read = in_units(plan, IMPERIAL)
    for shot in read.session.shots:
        tape = next(line for line in shot.placing.instructions if line.startswith("Lay "))
        feet = shot.placing.tape_m / METRES["ft"]
        assert f"Lay {feet:.1f} ft of tape" in tape


def test_names_from_files_keep_their_metres(made) -> None:
    _, elevation, plan = made
    page = sheet_html(plan, elevation, units=IMPERIAL)
    assert NAMES[0] in page
    assert NAMES[3] in page
    for shown in ("39.4 ft", "9.8 ft posts"):
        assert f"Mast {shown}" not in page
    said = IMPERIAL.sentence("12 m from Mast 12 m to Mast 12 m high, 12 m.", ["Mast 12 m"])
    assert said == "39 ft from Mast 12 m to Mast 12 m high, 39 ft."


def test_what_is_one_value_stays_one_and_numbers_stay(made) -> None:
    _, _, plan = made
    read = in_units(plan, IMPERIAL)
    assert [shot.stand.distance_m for shot in read.session.shots] == [
        shot.stand.distance_m for shot in plan.session.shots
    ]
    assert in_units(plan, METRIC) is plan
    count = [export_content(plan, ".gpx", units=units).count("<rtept") for units in
             (METRIC, IMPERIAL)]  # fmt: skip
    assert count[0] == count[1] > 0


@pytest.mark.parametrize("suffix", [".csv", ".geojson", ".json"])
def test_tables_layers_and_json_stay_metric(made, suffix) -> None:
    _, _, plan = made
    assert export_content(plan, suffix, units=IMPERIAL) == export_content(plan, suffix)


def test_gpx_elevations_stay_metres(made) -> None:
    _, _, plan = made
    both = [
        re.findall(r"<ele>([^<]+)</ele>", export_content(plan, ".gpx", units=units))
        for units in (METRIC, IMPERIAL)
    ]
    assert both[0] == both[1] != []


@pytest.mark.parametrize(
    ("metric", "imperial"),
    [
        ("ends 5.2 km away", "ends 3.2 mi away"),
        ("as high as its highest (580 m)", "as high as its highest (1903 ft)"),
        ("a light of 0.3 × 0.5 m", "a light of 1.0 × 1.6 ft"),
        ("moved 85 cm left", "moved 2.8 ft left"),
        (
            "14 mm, 3.2 px, 30 m² and 0.02 m/min",
            "14 mm, 3.2 px, 30 m² and 0.02 m/min",
        ),
        ("420 m on tracks", "459 yd on tracks"),
        ("12 paces of 0.75 m", "12 paces of 2.46 ft"),
    ],
)
def test_sentences(metric: str, imperial: str) -> None:
    assert IMPERIAL.sentence(metric) == imperial
    assert METRIC.sentence(metric) == metric


def test_scale_bars_are_round(made) -> None:
    for units in (METRIC, IMPERIAL):
        for most in (0.7, 3.0, 31.0, 250.0, 305.0, 900.0, 1610.0, 9000.0, 80_000.0):
            bar, shown = units.round_length(most)
            assert 0.39 * most < bar <= most
            number, unit = shown.split()
            assert number.strip("0.") in ("1", "2", "5")
            assert float(number) * METRES[unit] == pytest.approx(bar)
    lengths_m = [0.5, 90.0, 92.0, 300.0, 310.0, 1600.0, 1620.0]
    shown = [IMPERIAL.length(one) for one in lengths_m]
    assert shown == ["1.6 ft", "295.3 ft", "302 ft", "984 ft", "339 yd", "1750 yd", "1.0 mi"]
    assert all(a <= b for a, b in pairwise(lengths_m))


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ("stand",),
        ("stand", "--all"),
        ("stand", "--compare", "--all"),
        ("nights", "--nights", "3", "--all"),
        ("ridge", "--all"),
    ],
    ids=" ".join,
)
def test_the_terminal_has_no_metre_left(made, monkeypatch, capsys, words) -> None:
    asked, _, _ = made
    path = asked.path.with_name("imperial.toml")
    text = asked.path.read_text(encoding="utf-8")
    path.write_text(text.replace("format = 1", 'format = 1\nunits = "imperial"'), encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["backbearing", words[0], str(path), *words[1:]])
    monkeypatch.setenv("COLUMNS", "300")
    with pytest.raises(SystemExit):
        main()
    out = without_names(capsys.readouterr().out)
    assert not STRAY.findall(out)
