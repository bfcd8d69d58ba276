"""The printed sheet: everything on it, on one or two pages, and deaf to hostile names."""

from __future__ import annotations

import io
import json
import re
import sys
from dataclasses import replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream
from shapely.geometry import Point

from backbearing.base.cautions import GENERAL
from backbearing.base.errors import WriteRefusedError
from backbearing.base.grouped import changed, flat_values
from backbearing.drawing.fonts import face, in_order
from backbearing.plan.place import Place
from backbearing.sheet import sheet_html, sheet_pdf, write_sheet
from backbearing.sheet.content import sheet_content
from backbearing.sheet.pdf import PAPERS
from backbearing.sheet.table_cells import tame

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan
    from backbearing.terrain import Elevation


HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</style><script>alert(2)</script>",
    "{{ 7 * 7 }} {% raw %}",
    "\u202egnp.tfel ot thgir\u202c",
    "bell\x07 and \x1b[31mred\x1b[0m",
    "line\u2028separator\r\nand more",
    "😀 mill 🏔️ \U0001f9ff",
    "x" * 4000,
    "(paren\\ theses) /Name <</Type>> endobj",
)


def words(data: bytes) -> str:
    return " ".join(" ".join(p.extract_text() for p in PdfReader(io.BytesIO(data)).pages).split())


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def a4(plan: Plan, elevation: Elevation) -> bytes:
    return sheet_pdf(plan, elevation)


@pytest.fixture(scope="module")
def html(plan: Plan, elevation: Elevation) -> str:
    return sheet_html(plan, elevation)


@pytest.fixture(scope="module")
def lone(plan: Plan) -> Plan:
    """The same plan without a session."""
    return replace(plan, session=None)


@pytest.fixture(scope="module")
def hostile(plan: Plan) -> Plan:
    session = plan.session
    assert session is not None
    shots = tuple(
        replace(
            shot,
            stand=replace(
                shot.stand,
                lens=replace(shot.stand.lens, name=HOSTILE[i]),
                cautions=(HOSTILE[i], HOSTILE[-1 - i]),
            ),
        )
        for i, shot in enumerate(session.shots)
    )
    return changed(
        plan,
        name=HOSTILE[0],
        subject=replace(plan.subject, name=HOSTILE[1]),
        target=replace(plan.target, name=HOSTILE[3]),
        places=tuple(
            Place("land", name, HOSTILE[-1 - i], "ask first", Point(-84.36, 36.372).buffer(1e-4))
            for i, name in enumerate(HOSTILE)
        ),
        session=replace(session, shots=shots, sentence=HOSTILE[5], cautions=HOSTILE),
        ground=replace(plan.ground, credit=HOSTILE[2]),
        emergency_number=HOSTILE[4],
        cautions=(*plan.cautions, *HOSTILE),
        notes=HOSTILE,
    )


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("red", [False, True])
def test_two_pages_at_most_and_of_the_asked_size(plan, elevation, paper, red):
    pages = PdfReader(io.BytesIO(sheet_pdf(plan, elevation, paper=paper, red=red))).pages
    assert 1 <= len(pages) <= 2
    for page in pages:
        size = float(page.mediabox.width), float(page.mediabox.height)
        assert size == pytest.approx(PAPERS[paper], abs=0.01)


def test_paper_sizes_are_the_standards():
    # ISO 216: A4 is 210 mm by 297 mm; ANSI/ASME Y14.1: Letter is 8.5 in by 11 in.
    assert PAPERS["a4"] == pytest.approx((210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0))
    assert PAPERS["letter"] == (8.5 * 72.0, 11.0 * 72.0)


@pytest.mark.slow
def test_every_shot_with_its_numbers_and_every_caution_is_on_the_pdf(plan, a4):
    text, zone = words(a4), ZoneInfo(plan.zone)
    assert plan.session is not None
    for shot in plan.session.shots:
        stand = shot.stand
        local = [t.astimezone(zone).strftime("%H:%M") for t in (shot.frames_start, shot.frames_end)]
        assert "–".join(local) in text
        for moment in (shot.setup_start, shot.focus_start):
            assert moment.astimezone(zone).strftime("%H:%M") in text
        for number in (
            f"{stand.bearing_deg:.1f}°",
            f"{stand.bearing_magnetic_deg:.1f}° magnetic",
            f"{stand.distance_m:.1f} m",
            f"{shot.placing.paces:.1f} paces",
            f"{stand.pitch_deg:.1f}°",
            f"{shot.placing.outward_deg:.1f}° true",
            f"{stand.play_m:.2f} m",
        ):
            assert number in text, number
        for late in shot.late:
            assert f"{late.late_minutes:g} min late" in text
            if not late.limits:
                side = "left" if late.left_m > 0 else "right"
                assert f"{abs(late.left_m):.1f} m {side}" in text
    for event in plan.events:
        assert f"{event.name} {event.time.astimezone(zone):%H:%M}" in text
    assert plan.session.lighting is not None
    assert plain(plan.session.lighting.blind.sentence) in text
    assert plan.session.price is not None
    assert plan.session.one_line is not None
    first = " ".join(PdfReader(io.BytesIO(a4)).pages[0].extract_text().split())
    line = plan.session.one_line
    assert plain(plan.session.price.sentence) in first
    names = ", ".join(one.lens.label for one in line.lenses)
    begin, end = (f"{time.astimezone(zone):%H:%M}" for time in (line.start, line.end))
    assert f"Another way: {names} from one line, bearing {line.bearing_deg:.1f}°" in first
    assert f"stepping {'in' if line.inward else 'back'}, {begin}–{end}." in first
    # The first page still holds what the turns and their placing need.
    assert "Placing the tripod, from the subject outward" in first
    assert "Emergency number, filled in by you:" in text


def every_caution(plan: Plan) -> set[str]:
    assert plan.session is not None
    said = {*plan.cautions, *plan.session.cautions}
    for shot in plan.session.shots:
        said |= {*shot.stand.cautions, *(shot.walk.cautions if shot.walk else ())}
    for walk in (plan.session.approach, plan.session.home):
        said |= {*(walk.cautions if walk else ())}
    return said


@pytest.mark.slow
def test_cautions_are_always_there(plan, a4, html):
    shown = re.sub(r"<[^>]*>", " ", html).replace("&#39;", "'")
    for caution in every_caution(plan) | set(GENERAL):
        # The box has two columns: a reader may interleave nothing within one line of words.
        assert plain(caution) in words(a4), caution
        assert plain(caution) in plain(shown), caution


def test_letters_are_ten_points_or_more_in_the_body(a4):
    sizes: dict[float, int] = {}
    reader = PdfReader(io.BytesIO(a4))
    for page in reader.pages:
        size = 0.0
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            if operator == b"Tf":
                size = float(operands[1])
            elif operator in (b"Tj", b"TJ"):
                sizes[size] = sizes.get(size, 0) + len(str(operands[0]))
    body = sum(count for size, count in sizes.items() if size >= 10.0)
    # The rest are labels within the drawings, and the foot of the page.
    assert body > 0.8 * sum(sizes.values())
    assert min(sizes) >= 8.0


@pytest.mark.slow
def test_the_same_plan_gives_the_same_bytes(plan, elevation, a4, html):
    assert sheet_pdf(plan, elevation) == a4
    assert sheet_html(plan, elevation) == html


def test_the_letters_are_inside_the_file_and_nothing_runs(a4):
    reader = PdfReader(io.BytesIO(a4))
    for page in reader.pages:
        fonts = page["/Resources"]["/Font"]
        assert all(
            font.get_object().get("/FontDescriptor") is not None or "/BaseFont" in font.get_object()
            for font in fonts.values()
        )
        assert "/Annots" not in page
    for word in (b"/JavaScript", b"/Launch", b"/URI", b"/EmbeddedFile", b"/OpenAction"):
        assert word not in a4


@pytest.mark.slow
def test_red_is_red_on_black(plan, elevation):
    reader = PdfReader(io.BytesIO(sheet_pdf(plan, elevation, red=True)))
    inks = set()
    for page in reader.pages:
        operations = ContentStream(page.get_contents(), reader).operations
        for operands, operator in operations:
            if operator in (b"rg", b"RG"):
                inks.add(tuple(round(float(v), 3) for v in operands))
        for image in page.images:
            pixels = np.asarray(image.image.convert("RGB"))
            assert pixels[..., 1:].max() == 0
    assert inks
    assert all(green == blue == 0.0 for _, green, blue in inks)
    html = sheet_html(plan, elevation, red=True)
    for ink in re.findall(r"#([0-9a-f]{6})\b", html):
        assert ink[2:] == "0000", ink


@pytest.mark.slow
def test_a_plan_without_a_session_has_its_lenses_in_order_of_time(lone, elevation):
    text, zone = words(sheet_pdf(lone, elevation)), ZoneInfo(lone.zone)
    content = sheet_content(lone)
    times = [row.cells[1].large for row in content.shots]
    assert times == [
        stand.time.astimezone(zone).strftime("%H:%M")
        for stand in sorted((lens.stand for lens in lone.lenses), key=lambda s: s.time)
    ]
    for lens in lone.lenses:
        assert f"{lens.stand.distance_m:.1f} m" in text
    assert len(content.late.rows) == len(lone.lenses)


def test_the_sheet_shows_the_figures_of_the_turns_not_of_the_lenses(plan, elevation):
    session = plan.session
    shots = tuple(
        replace(
            shot,
            figures=replace(
                shot.figures,
                shutter_s=0.5,
                focus=replace(shot.figures.focus, second_focus_m=71.25 + i),
            ),
        )
        for i, shot in enumerate(session.shots)
    )
    other = replace(plan, session=replace(session, shots=shots))
    content = sheet_content(other)
    for i, row in enumerate(content.shots):
        assert "1/2 s" in row.cells[5].large or "0.5 s" in row.cells[5].large
        assert row.cells[6].lines == (f"and {71.25 + i:.1f} m",)


def test_a_turns_clearance_is_the_least_while_its_frames_run(plan):
    # The terminal and the page say the same number.
    for row, shot in zip(sheet_content(plan).shots, plan.session.shots, strict=True):
        least = shot.least_clearance_deg
        assert least <= shot.stand.clearance_deg + 1e-6
        assert f"{least:.1f}° ± {shot.stand.clearance_sigma_deg:.1f}° over the ridge" in row.note
    assert any(f"{s.stand.clearance_deg:.1f}" != f"{s.least_clearance_deg:.1f}"
               for s in plan.session.shots)  # fmt: skip


def test_what_of_earlier_stands_shows_later_is_said(plan):
    said = " ".join(sheet_content(plan).light)
    assert plain(plan.session.lighting.later_sentence) in said
    named = replace(plan.session.lighting, later_sentence="Leave nothing at the 85 mm stand.")
    other = replace(plan, session=replace(plan.session, lighting=named))
    assert "Leave nothing at the 85 mm stand." in sheet_content(other).light


def test_late_steps_without_a_session_follow_the_swing(lone):
    content = sheet_content(lone)
    for row, shot in zip(content.late.rows, content.shots, strict=True):
        lens = next(x for x in lone.lenses if x.lens.label == shot.label)
        if row[1] == "too late":
            continue
        metres, side = re.match(r"([\d.]+) m (left|right)", row[1]).groups()
        swing = lens.stand.swing_m_per_minute
        assert side == ("left" if swing > 0 else "right")
        # The swing itself turns slowly: a tenth of it, and half of the last digit.
        assert float(metres) == pytest.approx(10.0 * abs(swing), rel=0.1, abs=0.06)


def test_a_night_with_no_stand_still_makes_a_sheet_with_cautions(plan, elevation):
    lenses = tuple(
        replace(lens, stand=None, usable=(), sentence="The ridge hides it all night.")
        for lens in plan.lenses
    )
    empty = changed(plan, lenses=lenses, session=None, dark=(), events=(), places=(), sky_path=())
    data = sheet_pdf(empty, elevation)
    assert words(data).count("The ridge hides it all night.") == len(lenses)
    assert GENERAL[0] in words(data)
    assert "Cautions" in sheet_html(empty, elevation)


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_eight_lenses_fit_on_two_pages(deep_valley_plan, elevation, paper):
    plan = deep_valley_plan
    session = plan.session
    shots = [replace(shot, number=i) for i, shot in enumerate(session.shots * 2, start=1)]
    many = replace(plan, lenses=plan.lenses * 2, session=replace(session, shots=tuple(shots)))
    data = sheet_pdf(many, elevation, paper=paper)
    assert len(PdfReader(io.BytesIO(data)).pages) <= 2
    for shot in shots:
        assert f"{shot.number} {shot.lens.label}" in words(data)


@pytest.mark.slow
def test_cautions_that_no_page_holds_go_on_to_the_next_and_not_off_the_paper(plan, elevation):
    said = tuple(
        f"Slab {i}: " + "wet, and steeper than it looks from the track below it. " * 7
        for i in range(60)
    )
    many = replace(plan, cautions=(*plan.cautions, *said), notes=said)
    low: list[float] = []

    def note(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            low.append(tm[5] * cm[3] + cm[5])

    reader = PdfReader(io.BytesIO(sheet_pdf(many, elevation)))
    text = " ".join(" ".join(p.extract_text(visitor_text=note) for p in reader.pages).split())
    for i in range(60):
        assert text.count(f"Slab {i}: wet") == 2
    assert 0.0 < min(low) < max(low) < PAPERS["a4"][1]


def test_hostile_text_stays_text_in_html(hostile, elevation):
    html = sheet_html(hostile, elevation)
    assert "<script" not in html
    assert "<img" not in html
    assert html.count("</style>") == 1
    # What {{7*7}} would come to, alone: a bearing may well be 149 degrees.
    words = re.sub(r"<svg.*?</svg>|<style.*?</style>", "", html, flags=re.DOTALL)
    assert not re.search(r"(?<![\d:.])49(?![\d:.])", words)
    for character in ("\u202e", "\u2028", "\x07", "\x1b"):
        assert character not in html
    assert "<U+202E>" not in html
    assert "&lt;U+202E&gt;" in html
    assert "x" * 500 not in html


@pytest.mark.slow
def test_hostile_text_stays_text_in_pdf(hostile, elevation):
    data = sheet_pdf(hostile, elevation)
    reader = PdfReader(io.BytesIO(data))
    text = words(data)
    assert "<img src=x onerror=alert(1)>" in text
    assert "(paren\\ theses) /Name <</Type>> endobj" in text
    assert "<U+202E>" in text
    assert "<U+1F9FF>" in text
    for caution in GENERAL:
        assert plain(caution) in text
    assert "/AcroForm" not in reader.trailer["/Root"]
    assert "\n" not in reader.metadata.title


def test_long_names_are_cut_and_no_line_leaves_the_page(hostile, elevation):
    assert len(sheet_content(hostile).title) <= 70
    letters = face()
    for line in letters.wrap("y" * 900 + " " + "w i d e " * 60, 10.0, 200.0):
        assert letters.width(line, 10.0) <= 200.0


def test_tame_leaves_names_of_people_alone():
    for name in ("Łódź młyn", "שלום מגדל", "Quinn's «Oak» & Co. ½"):
        assert tame(name) == name


def test_right_to_left_words_are_set_in_reading_order():
    assert in_order("abc שלום def") == "abc םולש def"
    assert in_order("שלום 12 מגדל") == "לדגמ 12 םולש"
    assert in_order("(שלום)") == "(םולש)"
    assert in_order("plain (text) 12") == "plain (text) 12"


def test_the_page_asks_no_host_and_has_a_strict_policy(html):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html).group(1)
    assert "default-src &#39;none&#39;" in policy
    assert "unsafe" not in policy
    assert "<script" not in html
    for target in re.findall(r'(?:src|href)="([^"]*)"', html):
        assert target.startswith("data:image/png;base64,")
    assert "url(" not in html
    assert not re.search(r"<(?!svg)[a-z]+[^>]*\sstyle=", html)


@pytest.mark.parametrize("name", ["sheet.pdf", "sheet.html"])
def test_nothing_is_replaced_unasked(tmp_path: Path, plan, elevation, name):
    there = tmp_path / name
    there.write_text("mine")
    with pytest.raises(WriteRefusedError, match="already there"):
        write_sheet(plan, elevation, pdf=tmp_path / "sheet.pdf", html=tmp_path / "sheet.html")
    assert there.read_text() == "mine"
    assert [f.name for f in tmp_path.iterdir()] == [name]
    written = write_sheet(
        plan, elevation, pdf=tmp_path / "sheet.pdf", html=tmp_path / "sheet.html", overwrite=True
    )
    assert [f.name for f in written] == ["sheet.pdf", "sheet.html"]
    assert written[0].read_bytes().startswith(b"%PDF-")


@pytest.mark.slow
def test_the_command_writes_and_says_what(tmp_path, sample_text, monkeypatch, capsys, plan):
    from backbearing.cli import main

    (tmp_path / "outing.toml").write_text(sample_text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("backbearing.cli.sheet.plan_night", lambda *_, **__: plan)
    words = ["--pdf", "s.pdf", "--html", "s.html", "--paper", "letter", "--red", "--json"]
    monkeypatch.setattr(sys, "argv", ["backbearing", "sheet", "outing.toml", *words])
    with pytest.raises(SystemExit) as stop:
        main()
    assert not stop.value.code
    document = json.loads(capsys.readouterr().out)
    assert document["written"] == ["s.pdf", "s.html"]
    size = PdfReader(tmp_path / "s.pdf").pages[0].mediabox
    assert (float(size.width), float(size.height)) == (612.0, 792.0)
    assert "size: letter" in (tmp_path / "s.html").read_text(encoding="utf-8")


@pytest.mark.slow
def test_every_field_of_the_content_is_set_on_both(plan, a4, html):
    content = sheet_content(plan)
    shown = plain(re.sub(r"<[^>]*>", " ", html).replace("&#39;", "'"))
    for name, value in flat_values(content).items():
        if isinstance(value, str) and value and name != "emergency":
            assert value in words(a4), name
            assert value in shown, name


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_page_prints_on_two_sheets(chromium, plan, elevation, tmp_path, paper):
    session = plan.session
    shots = tuple(replace(shot, number=i) for i, shot in enumerate(session.shots * 2, start=1))
    many = replace(plan, lenses=plan.lenses * 2, session=replace(session, shots=shots))
    page = chromium.new_page()
    for number, one in enumerate((plan, many)):
        file = tmp_path / f"{number}.html"
        file.write_text(sheet_html(one, elevation, paper=paper), encoding="utf-8")
        page.goto(file.as_uri())
        printed = page.pdf(prefer_css_page_size=True, print_background=True)
        pages = PdfReader(io.BytesIO(printed)).pages
        assert len(pages) <= 2
        size = float(pages[0].mediabox.width), float(pages[0].mediabox.height)
        assert size == pytest.approx(PAPERS[paper], abs=1.0)
    page.close()
