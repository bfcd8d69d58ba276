"""The plan as one CSV table ([RFC4180]_, UTF-8): subject, stands, places, cautions.

A spreadsheet runs a cell that begins with ``=``, ``+``, ``-`` or ``@``. Numbers are
written by this module alone, bare and with their sign, and are left alone. Text gets an
apostrophe before such a character, at its beginning and after every line end or semicolon
within it (some spreadsheets split cells there), so that ``=1+1`` becomes ``'=1+1``. More
apostrophes may stand there already; one is always added, so that taking one off gives the
text back.
"""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING, Final

from backbearing.exports.file_text import NOT_PLAIN, height_reference_words, visible
from backbearing.exports.rows import STAND_NAMES, CellValue, known, stand_row, written

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.plan.plan import Plan

COLUMNS: Final = ("role", "name", "lens", "access", "note", *STAND_NAMES)

_STARTS: Final = re.compile(
    r"""(^|[;\n])                                # a cell begins, or might
    ([\s\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff]*)  # what a spreadsheet may trim
    ('*[=+\-@\uff1d\uff0b\uff0d\uff20])          # signs, full-width ones too
    """,
    re.VERBOSE,
)


def plan_csv(plan: Plan, *, height_reference: str = "") -> str:
    r"""Write the plan as CSV text with ``\r\n`` line ends and a header.

    Parameters
    ----------
    plan : Plan
    height_reference : str
        What the raster's heights count from, such as ``EGM96 geoid``; the plan's own when
        empty.
    """
    height_reference = height_reference or plan.ground.vertical_datum
    sheet = io.StringIO(newline="")
    table = csv.writer(sheet, lineterminator="\r\n")
    table.writerow(COLUMNS)
    for row in _rows(plan, height_reference):
        table.writerow([_cell(name, row.get(name)) for name in COLUMNS])
    return sheet.getvalue()


def defused(text: str) -> str:
    """Put an apostrophe before whatever a spreadsheet could take for a formula."""
    return _STARTS.sub(r"\1\2'\3", visible(text, NOT_PLAIN))


def _cell(name: str, fact: CellValue) -> str:
    return defused(fact) if isinstance(fact, str) else written(name, fact)


def _rows(plan: Plan, height_reference: str) -> Iterator[dict[str, CellValue]]:
    yield {
        "role": "subject",
        "name": plan.subject.name,
        "note": plan.subject.kind,
        "lat": plan.subject.lat,
        "lon": plan.subject.lon,
        "ground_m": known(plan.subject_ground_m),
        "ground_source": "set by hand" if plan.subject.ground_m is not None else "raster",
        "height_reference": height_reference_words(height_reference),
    }
    for lens_plan in plan.lenses:
        label = lens_plan.lens.label
        found = lens_plan.stand is not None
        yield {
            "role": "stand" if found else "no stand",
            "name": f"Stand {label}" if found else "",
            "lens": label,
            **stand_row(plan, lens_plan, height_reference),
        }
    for place in plan.places:
        spot = place.geometry.representative_point()
        yield {
            "role": place.kind,
            "name": place.name,
            "access": place.access,
            "note": place.note,
            "lat": spot.y,
            "lon": spot.x,
        }
    for caution in plan.cautions:
        yield {"role": "caution", "note": caution}
