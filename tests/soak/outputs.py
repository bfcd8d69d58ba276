"""All that an outing says, gathered as text: sentences, tables, pages and files."""

from __future__ import annotations

import dataclasses
import io
import re
import tempfile
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backbearing.alignment.night.plan_season import plan_season
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.view.lens_views import views
from backbearing.base.plain import plain
from backbearing.base.units import METRIC
from backbearing.cli.compare_table import print_comparison
from backbearing.cli.explained_words import print_one
from backbearing.cli.nights_table import print_season
from backbearing.cli.plan_answer import print_answer
from backbearing.cli.plan_table import print_plan
from backbearing.cli.screen import Screen
from backbearing.cli.session_table import print_session
from backbearing.drawing.svg import drawing_svg
from backbearing.explain.plan import explanations
from backbearing.explain.session import session_explanations
from backbearing.exports.formats import export_content
from backbearing.exports.ics import season_calendar
from backbearing.exports.plan_json import dumps
from backbearing.exports.suffixes import SUFFIXES
from backbearing.pictures.preview_files import preview_files
from backbearing.pictures.season_picture import draw_season
from backbearing.pictures.skyline_picture import ridge_picture
from backbearing.plan.turns import at_turns
from backbearing.sheet.content import sheet_content
from backbearing.workflows.plan_page import page_html
from backbearing.workflows.printed_sheet import sheet_contents

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.season import Season
    from backbearing.terrain import Elevation

ONE_OF_MANY = re.compile(
    r"(?<![\w.,:/\u2212+-])(?<!to )1 (?:minutes|metres|degrees|seconds|hours|nights|lenses"
    r"|frames|stands|turns|times|stars|rows|points|cells|candidates|places|files|pixels"
    r"|of 1 [a-z]+s have)\b"
)
"""One of what is said of many."""

DOUBLED = re.compile(r"(?<=\S)  +(?=\S)")
"""More than one space between words."""

NO_WORDS = re.compile(
    r"(?<![A-Za-z])[-+]?(?:nan|NaN|None|inf|Infinity|NaT)(?![A-Za-z])"
    r"|(?<![\w.)\]])[-\u2212]0(?:\.0+)?(?![\d.:A-Za-z])"
)
"""Not a number, nothing, endless, and minus nothing, as words of their own."""

_DATA_URI = re.compile(r"data:[\w/+.-]+;base64,[A-Za-z0-9+/=]+")


def bad_words(text: str) -> list[str]:
    """Where a text holds such a word, with what stands about it."""
    # iCalendar breaks its lines within words (RFC 5545, 3.1).
    plain_text = _DATA_URI.sub("", text).replace("\r\n ", "")
    return [
        plain_text[max(0, m.start() - 40) : m.end() + 30].replace("\n", " ")
        for wrong in (NO_WORDS, ONE_OF_MANY)
        for m in wrong.finditer(plain_text)
    ]


def doubled_spaces(plan: Plan) -> list[str]:
    """Sentences of a plan with more than one space between words; tables may have them."""
    return [said for said in sentences_of(plan) if DOUBLED.search(said)]


def sentences_of(value: Any) -> Iterator[str]:
    """Every text within a value object, however deep."""
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            yield from sentences_of(getattr(value, field.name))
    elif isinstance(value, dict):
        for one in value.values():
            yield from sentences_of(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from sentences_of(one)


def outputs_of(
    outing: Outing, plan: Plan, elevation: Elevation, *, pages: bool = False
) -> Iterator[tuple[str, str]]:
    """Name and text of every output; with ``pages`` files, pages and pictures as well."""
    yield "sentences", "\n".join(sentences_of(plan))
    yield "answer", _printed(lambda out: print_answer(out, plan, then="x", lines=10_000))
    yield "table", _printed(lambda out: print_plan(out, plan))
    yield "comparison", _printed(lambda out: print_comparison(out, plan))
    if plan.session is not None:
        yield "session table", _printed(lambda out: print_session(out, plan))
    yield "notebook", plan._repr_html_()
    yield "sheet words", "\n".join(sentences_of(sheet_content(plan)))
    if not pages:
        return
    yield "json", dumps(plain(plan))
    told = [*explanations(plan).values(), *session_explanations(plan).values()]
    yield "explained", _printed(lambda out: [print_one(out, one, METRIC) for one in told])
    for suffix in SUFFIXES:
        content = export_content(plan, suffix)
        yield suffix, content if isinstance(content, str) else _text_in_database(content)
    yield "page", _shown_by(page_html(plan, elevation))
    pdf, html = sheet_contents(plan, views(at_turns(plan), elevation))
    yield "sheet page", _shown_by(str(html))
    yield "sheet pdf", _text_in_pdf(pdf)
    season = plan_season(outing, nights=3, elevation=elevation)
    yield "nights", _printed(lambda out: print_season(out, season))
    yield "nights calendar", season_calendar(season, made=plan.made)
    yield from _pictures(plan, elevation, season)
    view = ridge_view(outing, lat=plan.subject.lat, lon=plan.subject.lon, elevation=elevation)
    yield "ridge", dumps(plain(view))


def _pictures(plan: Plan, elevation: Elevation, season: Season) -> Iterator[tuple[str, str]]:
    """Words on the pictures, those of axes too."""
    for name, sheet in preview_files(plan, views(plan, elevation)).items():
        if name.endswith(".svg"):
            yield name, _words_of_svg(drawing_svg(sheet))
    with tempfile.TemporaryDirectory() as folder:
        for path in (
            ridge_picture(plan, Path(folder) / "ridge.svg"),
            draw_season(Path(folder) / "season.svg", season),
        ):
            yield path.name, _words_of_svg(path.read_text(encoding="utf-8"))


def _words_of_svg(text: str) -> str:
    """Texts, titles, and the comments in which a plotting library says what it drew."""
    found = re.findall(r"<!--(.*?)-->|>([^<>]+)</(?:text|tspan|title|desc)>", text, re.DOTALL)
    return "\n".join(one or other for one, other in found)


def _printed(show: Callable[[Screen], object]) -> str:
    out = Screen(200, "utf-8")
    show(out)
    return out.text


def _text_in_database(content: bytes) -> str:
    import sqlite3

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.gpkg"
        path.write_bytes(content)
        with sqlite3.connect(path) as base:
            names = [n for (n,) in base.execute("select table_name from gpkg_contents")]
            cells = [
                str(cell)
                for name in names
                for row in base.execute(f'select * from "{name}"')  # noqa: S608  # our own names
                for cell in row
                if isinstance(cell, str | float)
            ]
        base.close()
    return "\n".join(cells)


def _text_in_pdf(content: bytes) -> str:
    from pypdf import PdfReader

    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


class _Reader(HTMLParser):
    """Text, attributes and data of a page; its programs and styles are not words."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._skipped = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        kind = dict(attrs).get("type") or ""
        self._skipped = tag == "style" or (tag == "script" and "json" not in kind)
        self.found += [value or "" for _, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style"):
            self._skipped = False

    def handle_data(self, data: str) -> None:
        if not self._skipped:
            self.found.append(data)


def _shown_by(page: str) -> str:
    reader = _Reader()
    reader.feed(page)
    return "\n".join(reader.found)
