"""The order of things on the printed sheet, as flowables."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from backbearing.drawing.fonts import face
from backbearing.sheet.content import BLANKS, LATE_HEAD, SHOT_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reportlab.platypus import Flowable, Table

    from backbearing.sheet.content import SheetContent
    from backbearing.sheet.drawings import Drawings
    from backbearing.sheet.flowables import NarrowParagraph, Setter

LEAST_NOTES: Final = 2
PICTURES_WIDTH: Final = 204.0
RIM: Final = 6.0
GAP: Final = 14.0
TURN_SHARES: Final = (0.14, 0.19, 0.175, 0.13, 0.085, 0.16, 0.12)
PLACING_SHARES: Final = (0.12, 0.23, 0.095, 0.135, 0.165, 0.125, 0.13)

ORDERS: Final = (
    ("seen", "placing", "late", "light", "walk"),
    ("placing", "late", "seen", "light", "walk"),
    ("placing", "light", "late", "seen", "walk"),
    ("placing", "walk", "late", "seen", "light"),
    ("placing", "light", "walk", "late", "seen"),
)
"""Orders of what stands between the turns and the cautions, the best to read first."""


def story_of(
    content: SheetContent, drawn: Drawings, setter: Setter, order: Sequence[str] = ORDERS[0]
) -> list[Flowable]:
    """Everything in its order, one of ``ORDERS``."""
    story = _top(content, setter)
    if drawn.timeline is not None:
        story.append(setter.picture(drawn.timeline, setter.width))
    if content.shots:
        story.append(setter.turns(SHOT_COLUMNS, content.shots, TURN_SHARES))
    story += [setter.words(line, sign="–") for line in content.without]
    parts = {
        "seen": _seen(drawn, setter),
        "placing": _placing(content, setter),
        "late": _late(content, setter),
        "light": _light(content, setter),
        "walk": _walk(content, setter),
    }
    for name in order:
        story += parts[name]
    notes = [setter.head("Notes"), setter.ruled(LEAST_NOTES), setter.ruled()]
    return [*story, *_safety(content, setter), *notes]


def _top(content: SheetContent, setter: Setter) -> list[Flowable]:
    large = setter.size + 7.0
    title = setter.words(content.title, size=large, bold=True, after=0.0)
    night = setter.words(content.night, size=0.8 * large, bold=True, right=True, after=0.0)
    beside = face(bold=True).width(content.night, 0.8 * large) + 1.0
    room = setter.width - beside - 12.0
    story: list[Flowable] = [title, night]
    if len(face(bold=True).wrap(content.title, large, room)) == 1:
        low = ("VALIGN", (0, 0), (-1, -1), "BOTTOM")
        story = [setter.table([[title, night]], (setter.width - beside, beside), (low,))]
    story.append(setter.words(" ".join((f"{content.name}.", *content.lead))))
    events = "  ·  ".join(f"{name} {time}" for time, name in content.events)
    return [*story, setter.words(events, after=0.5)] if events else story


def _seen(drawn: Drawings, setter: Setter) -> list[Flowable]:
    """Maps, and beside them the pictures, the smaller the more there are."""
    many, gap = len(drawn.pictures), 8.0
    widths = [float(sheet.width) for sheet, _ in drawn.maps] + [PICTURES_WIDTH] * bool(many)
    scale = (setter.width - gap * (len(widths) - 1)) / sum(widths)
    cells: list[Any] = [setter.picture(sheet, scale * sheet.width) for sheet, _ in drawn.maps]
    if many:
        columns = math.ceil(math.sqrt(many))
        cells.append(setter.picture_rows(drawn.pictures, columns, scale * PICTURES_WIDTH))
    sides = [scale * wide + gap for wide in widths]
    row = setter.table([cells], sides, below=0.5 * setter.size)
    row.keepWithNext = 1
    return [row, setter.words(drawn.key, soft=True)]


def _placing(content: SheetContent, setter: Setter) -> list[Flowable]:
    if not content.shots:
        return []
    head = setter.head("Placing the tripod, from the subject outward")
    steps = [setter.words(line) for line in content.placing_steps]
    return [head, setter.grid(content.placing, PLACING_SHARES), *steps]


def _late(content: SheetContent, setter: Setter) -> list[Flowable]:
    columns = len(content.late.heads)
    if not content.shots or columns < 2:
        return []
    shares = (0.13, *[(1.0 - 0.13) / (columns - 1)] * (columns - 1))
    return [setter.head(LATE_HEAD), setter.grid(content.late, shares)]


def _light(content: SheetContent, setter: Setter) -> list[Flowable]:
    if not content.light:
        return []
    head = "Light" if content.light[0].startswith("Lamp:") else "The hidden light"
    return [setter.head(head), setter.words(" ".join(content.light))]


def _walk(content: SheetContent, setter: Setter) -> list[Flowable]:
    if not content.walk:
        return []
    head = setter.head("Walk, parking and land, as your file says")
    return [head, *(setter.words(line, after=0.1) for line in content.walk)]


def _safety(content: SheetContent, setter: Setter) -> list[Flowable]:
    """Cautions in a box, and what no map shows below it."""
    size, inner = setter.size, setter.width - 2.0 * RIM
    lines = [
        setter.words(line, sign="!", after=0.12)
        for line in (*content.own_cautions, *content.cautions)
    ]
    number: Flowable = setter.fill_in(
        ("Emergency number, filled in by you:",), (1.0,), width=0.75 * inner, size=size + 1.0
    )
    if content.emergency:
        said = f"Emergency number: {content.emergency}"
        number = setter.words(said, size=size + 2.0, bold=True)
    low = ("VALIGN", (0, 0), (-1, -1), "BOTTOM")
    named = [setter.words("Cautions", size=size + 2.0, bold=True), number]
    rows: list[Flowable] = [
        setter.table([named], (0.25 * inner, 0.75 * inner), (low,)),
        setter.fill_in(BLANKS, (0.45, 0.2, 0.35), width=inner),
        *_in_two(lines, inner, setter),
    ]
    edge = ("BOX", (0, 0), (-1, -1), *setter.rule(1.4))
    sides = [("LEFTPADDING", (0, 0), (-1, -1), RIM), ("RIGHTPADDING", (0, 0), (-1, -1), RIM)]
    box = setter.table([[row] for row in rows], (setter.width,), (edge, *sides), below=2.0)
    # Whole on one page where that can be.
    box.spaceBefore, box.spaceAfter, box.keepWithNext = 3.0, 1.0, 1
    unseen = f"What the data cannot see: {' '.join(content.cannot_see)}"
    credit = setter.words(f"{unseen}{content.credit}")
    return [box, credit]


def _in_two(lines: list[NarrowParagraph], width: float, setter: Setter) -> list[Table]:
    """Two columns of about one height, in rows low enough to stand on a page.

    Platypus balances columns too, but not within a box.
    """
    wide = (width - GAP) / 2.0
    tall = [line.wrap(wide, math.inf)[1] + line.getSpaceAfter() for line in lines]
    if sum(tall) > setter.width and len(lines) > 2:
        half = len(lines) // 2
        return _in_two(lines[:half], width, setter) + _in_two(lines[half:], width, setter)
    cut = min(range(len(tall) + 1), key=lambda i: (max(sum(tall[:i]), sum(tall[i:])), -i))
    return [setter.table([[lines[:cut], "", lines[cut:]]], (wide, GAP, wide))]
