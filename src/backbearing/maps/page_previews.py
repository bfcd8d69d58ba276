"""The previews and the comparison of lenses, made ready for the page."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.base.units import METRIC
from backbearing.drawing.png import drawing_webp
from backbearing.pictures.preview import preview_sheet
from backbearing.plan.comparison import (
    COMPARED,
    compare_lenses,
    comparison_note,
    rules_of,
    sentences_of,
    words_of,
)
from backbearing.plan.in_units import view_in_units
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View

PAGE_WIDTH_PX: Final = 840
"""Twice the width of the page's column, for sharp screens."""


@dataclass(frozen=True, slots=True)
class PagePicture:
    """One picture in the page: its words, which hold no text of the user's, and its data."""

    label: str
    words: str
    data_uri: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class PageComparison:
    """The comparison as text: lenses across, one row for each fact."""

    lenses: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    note: str
    rule_lenses: tuple[str, ...]
    rules: tuple[tuple[str, tuple[str, ...]], ...]
    said: tuple[tuple[str, tuple[str, ...]], ...]


def page_pictures(
    plan: Plan, seen: Sequence[View], units: Units = METRIC
) -> dict[int, PagePicture]:
    """Paint what every lens with a stand will see, under its number in the plan.

    ``seen`` is in the plan's order, each lens at its turn where it has one.
    """
    found = {}
    stood = [i for i, lens in enumerate(at_turns(plan).lenses) if lens.stand is not None]
    for i, view in zip(stood, seen, strict=True):
        sheet = preview_sheet(view, width_px=PAGE_WIDTH_PX, units=units)
        data = base64.b64encode(drawing_webp(sheet)).decode("ascii")
        found[i] = PagePicture(
            label=view.label,
            words=f"{view.label}: {view_in_units(view, units).caption}. {sheet.description}",
            data_uri=f"data:image/webp;base64,{data}",
            width=sheet.width,
            height=sheet.height,
        )
    return found


def page_comparison(plan: Plan, units: Units = METRIC) -> PageComparison:
    """Set the lenses beside one another in words, each at its turn where it has one."""
    plan = at_turns(plan)
    compared = compare_lenses(plan)
    labels, rules = rules_of(plan)
    columns = [words_of(row, units) for row in compared]
    return PageComparison(
        lenses=tuple(row.lens for row in compared),
        rows=tuple(
            (name, tuple(column[i] for column in columns)) for i, name in enumerate(COMPARED)
        ),
        note=comparison_note(plan),
        rule_lenses=labels,
        rules=rules,
        said=tuple((one.lens.label, sentences_of(one)) for one in plan.lenses),
    )
