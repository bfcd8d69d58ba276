"""The previews of a plan as files: each lens, all side by side, by day and in red."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from backbearing.base.text import night_label
from backbearing.base.units import METRIC
from backbearing.pictures.preview import preview_sheet, side_by_side_sheet
from backbearing.plan.turns import turn_of_each

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.drawing.marks import Drawing
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View


def preview_files(
    plan: Plan, seen: Sequence[View], *, night: bool = False, guides: bool = False,
    units: Units = METRIC,
) -> dict[str, Drawing]:  # fmt: skip
    """Name every preview of a plan and lay it out; empty when no lens has a stand.

    Parameters
    ----------
    plan : Plan
    seen : sequence of View
        Of its lenses that have a stand, in their order; laid out by turn or focal length.
    night : bool
        All in red on black; the side-by-side sheet has a red twin in any case.
    guides : bool
        Thirds, margins and the target's place.
    units : Units
        In which lengths are read.

    Returns
    -------
    dict of str to Drawing
        By file name, such as ``views.png`` and ``view-40mm.svg``.
    """
    if not seen:
        return {}

    title = f"{plan.subject.name}, night of {night_label(plan.evening)}"
    seen = _in_order(plan, seen)
    every = side_by_side_sheet(seen, title=title, night=night, guides=guides, units=units)
    files = {
        "views.svg": every,
        "views.png": every,
        "views-red.png": side_by_side_sheet(
            seen, title=title, night=True, guides=guides, units=units
        ),
    }
    for name, view in zip(_names(seen), seen, strict=True):
        sheet = preview_sheet(view, night=night, guides=guides, units=units)
        files |= {f"view-{name}.svg": sheet, f"view-{name}.png": sheet}
    return files


def _in_order(plan: Plan, seen: Sequence[View]) -> list[View]:
    """Put views in the order of the turns, or without turns by focal length."""
    stood = [i for i, lens in enumerate(plan.lenses) if lens.stand is not None]
    if len(stood) != len(seen):
        return list(seen)
    turns = turn_of_each(plan)

    def place(pair: tuple[int, View]) -> tuple[float, float]:
        turn = turns[pair[0]]
        number = math.inf if turn is None else turn.number
        return number, plan.lenses[pair[0]].lens.focal_length_mm

    return [view for _, view in sorted(zip(stood, seen, strict=True), key=place)]


def _names(seen: Sequence[View]) -> list[str]:
    """File-name parts of the lenses; lenses of one label are numbered."""
    plain = [re.sub(r"[^\w.]+", "-", view.label.replace(" mm", "mm")) for view in seen]
    return [
        name if plain.count(name) == 1 else f"{name}-{plain[: i + 1].count(name)}"
        for i, name in enumerate(plain)
    ]
