"""The order of things on the printed sheet."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from backbearing.sheet.blocks import Block, FillIn, Grid, Head, Para, Pictures, Title, Turns
from backbearing.sheet.content import BLANKS, SHOT_COLUMNS
from backbearing.sheet.groups import Balanced, Boxed, Columns, Together

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.sheet.content import SheetContent
    from backbearing.sheet.drawings import Drawings

MAP_KEY: Final = (
    "North up. Thick arcs: no limit found; dashed arcs: some limit. Ticks every 15 min. Thin "
    "lines: over the subject to the target. Shaded wedges: shadows of people at the stands. "
    "Cross-hatched: closed; slanted: ask first; bare: open or not in your file. Dashed line: "
    "track; thick: the walk."
)
LATE_HEAD: Final = "If you are late, or cloud passes: step, facing the subject"
LEAST_NOTES: Final = 2
PICTURES_WIDTH: Final = 204.0
TURN_SHARES = (0.14, 0.19, 0.175, 0.13, 0.085, 0.16, 0.12)
PLACING_SHARES = (0.12, 0.23, 0.095, 0.135, 0.165, 0.125, 0.13)


ORDERS: Final = (
    ("seen", "placing", "late", "light", "walk"),
    ("placing", "late", "seen", "light", "walk"),
    ("placing", "light", "late", "seen", "walk"),
    ("placing", "walk", "late", "seen", "light"),
    ("placing", "light", "walk", "late", "seen"),
)
"""Orders of what stands between the turns and the cautions, the best to read first."""


def blocks_of(
    content: SheetContent, drawn: Drawings, size: float, order: Sequence[str] = ORDERS[0]
) -> list[Block]:
    """Everything in its order, one of ``ORDERS``; letters of a size in points."""
    blocks: list[Block] = [*_top(content, size)]
    if drawn.strip is not None:
        blocks.append(Pictures(((drawn.strip, ""),), 1, size))
    if content.shots:
        blocks.append(Turns(SHOT_COLUMNS, content.shots, TURN_SHARES, size, size + 3.0))
    blocks += [Para(line, size, sign="–") for line in content.without]
    parts: dict[str, list[Block]] = {
        "seen": [Together((_seen(drawn, size), Para(MAP_KEY, size, soft=True)))],
        "placing": _placing(content, size) if content.shots else [],
        "late": _late(content, size) if content.shots else [],
        "light": _light(content, size),
        "walk": _walk(content, size),
    }
    for name in order:
        blocks += parts[name]
    blocks += _safety(content, size)
    blocks.append(Together((Head("Notes", size + 1.0), *[FillIn(("",), size)] * LEAST_NOTES)))
    return blocks


def _top(content: SheetContent, size: float) -> list[Block]:
    events = "  ·  ".join(f"{name} {time}" for time, name in content.events)
    blocks: list[Block] = [
        Title(content.title, content.night, size + 7.0),
        Para(" ".join((f"{content.name}.", *content.lead)), size),
    ]
    if events:
        blocks.append(Para(events, size, after=0.5))
    return blocks


def _seen(drawn: Drawings, size: float) -> Block:
    """Maps, and beside them the pictures, the smaller the more there are."""
    many, maps = len(drawn.pictures), [sheet for sheet, _ in drawn.maps]
    widths = [float(sheet.width) for sheet in maps]
    columns: list[tuple[Block, ...]] = [(Pictures(((sheet, ""),), 1, size),) for sheet in maps]
    if many:
        columns.append((Pictures(drawn.pictures, math.ceil(math.sqrt(many)), size),))
        widths.append(PICTURES_WIDTH)
    shares = tuple(wide / sum(widths) for wide in widths)
    return Columns(tuple(columns), shares, gap=8.0)


def _placing(content: SheetContent, size: float) -> list[Block]:
    how = (
        Head("Placing the tripod, from the subject outward", size + 1.0),
        Grid(content.placing, PLACING_SHARES, size),
    )
    return [Together(how), *(Para(line, size) for line in content.placing_steps)]


def _late(content: SheetContent, size: float) -> list[Block]:
    columns = len(content.late.heads)
    if columns < 2:
        return []
    rest = (1.0 - 0.13) / (columns - 1)
    table = Grid(content.late, (0.13, *[rest] * (columns - 1)), size)
    return [Together((Head(LATE_HEAD, size + 1.0), table))]


def _light(content: SheetContent, size: float) -> list[Block]:
    if not content.light:
        return []
    return [Head("The hidden light", size + 1.0), Para(" ".join(content.light), size)]


def _walk(content: SheetContent, size: float) -> list[Block]:
    if not content.walk:
        return []
    head = Head("Walk, parking and land, as your file says", size + 1.0)
    return [head, *(Para(line, size, after=0.1) for line in content.walk)]


def _safety(content: SheetContent, size: float) -> list[Block]:
    """Cautions in a box, and what no map shows below it."""
    lines = [
        Para(line, size, sign="!", after=0.12)
        for line in (*content.own_cautions, *content.cautions)
    ]
    first: Block = FillIn(("Emergency number, filled in by you:",), size + 1.0)
    if content.emergency:
        first = Para(f"Emergency number: {content.emergency}", size + 2.0, bold=True)
    box: tuple[Block, ...] = (
        Columns(((Para("Cautions", size + 2.0, bold=True, drop=0.38),), (first,)), (0.25, 0.75)),
        FillIn(BLANKS, size, (0.45, 0.2, 0.35)),
        Balanced(tuple(lines)),
    )
    unseen = f"What the data cannot see: {' '.join(content.cannot_see)}"
    return [Boxed(box), Para(f"{unseen} Ground: {content.credit or 'no credit given'}.", size)]
