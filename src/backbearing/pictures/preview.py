"""Previews: what each lens will see from its stand, one by one and side by side."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import NothingFoundError
from backbearing.base.files import write_file
from backbearing.base.numbers import num
from backbearing.base.text import shortened
from backbearing.base.units import METRIC
from backbearing.drawing.marks import Area, Drawing, Mark, Panel, Stroke, Words
from backbearing.drawing.palette import VIEW, VIEW_RED
from backbearing.drawing.png import drawing_png
from backbearing.drawing.svg import drawing_svg
from backbearing.pictures.figure_files import checked_picture
from backbearing.pictures.preview_frame import frame_panel, shade
from backbearing.plan.in_units import view_in_units

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.base.units import Units
    from backbearing.drawing.palette import ViewPalette
    from backbearing.plan.view import View

WIDTH_PX: Final = 1080
NOTE: Final = (
    "Stars to magnitude 6 (Hipparcos, XHIP) at their places; the Milky Way is a model, the land "
    "the raster's, the subject at its true size."
)
PLACES: Final = (
    "Crosses: Sgr A* in the dust, the brightest cloud, the middle of the bulge's light by the "
    "model (to a degree), the dark lane in the Pipe's bowl."
)
UNKNOWN: Final = "Part of the skyline is not known and drawn level."
BRIGHT: Final = (
    "Moon or twilight brightens the sky at the target by up to {:.1f} mag; the Milky Way is dimmed "
    "so."
)
BRIGHT_MAG: Final = 0.1


def preview_sheet(
    view: View, *, night: bool = False, guides: bool = False, width_px: int = WIDTH_PX,
    units: Units = METRIC,
) -> Drawing:  # fmt: skip
    """Lay out one view with its caption.

    Parameters
    ----------
    view : View
        From ``backbearing.alignment.view.views``.
    night : bool
        Red on black.
    guides : bool
        Draw thirds, margins and the target's place.
    width_px : int
        Width of the picture.
    units : Units
        In which lengths are read.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.alignment.view import views
    >>> from backbearing.pictures import preview_sheet
    >>> picture = preview_sheet(views(plan, elevation)[0], guides=True, width_px=600)
    >>> f"{picture.width} pixels wide, {len(picture.panels)} frame"
    '600 pixels wide, 1 frame'
    """
    palette = VIEW_RED if night else VIEW
    view = view_in_units(view, units)
    panel = frame_panel(
        view, x=0.0, y=0.0, width=width_px, palette=palette, guides=guides, light=True, places=True
    )
    lines = _lines([view], width_px)
    caption = round(_caption_height(width_px, lines))
    marks = _caption(view, panel, palette, lines)
    if view.hidden is not None:
        size = _size(width_px) * 0.85
        marks += _light_key(
            [view], (size * 0.47, panel.height + caption + size * 0.4), size, palette, units
        )
        caption += round(size * 1.6)
    if view.shape_note:
        size = _size(width_px) * 0.85
        at = size * 0.47, panel.height + caption + size * 0.4
        marks.append(Words(*at, _shape_words(view), palette.soft, size))
        caption += round(size * 1.6)
    return Drawing(
        width=width_px,
        height=round(panel.height) + caption,
        paper=palette.paper,
        panels=(panel,),
        marks=tuple(marks),
        title=f"{view.label}: {view.caption}",
        description=_note(view) + _light_note([view], units),
    )


def side_by_side_sheet(
    views: Sequence[View], *, title: str, night: bool = False, guides: bool = False,
    width_px: int = 1600, units: Units = METRIC,
) -> Drawing:  # fmt: skip
    """Lay out all lenses on one sheet, frames of one size, in rows of two or more.

    Raises
    ------
    NothingFoundError
        When no lens has a stand.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.alignment.view import views
    >>> from backbearing.pictures import side_by_side_sheet
    >>> sheet = side_by_side_sheet(views(plan, elevation), title="Averil Chapel", night=True)
    >>> f"{len(sheet.panels)} frames, {sheet.width} pixels wide"
    '4 frames, 1600 pixels wide'
    """
    if not views:
        raise NothingFoundError("No lens has a stand, so there is no picture to draw.")
    palette = VIEW_RED if night else VIEW
    views = [view_in_units(view, units) for view in views]
    columns = min(len(views), 2 if views[0].aspect >= 1.0 else 4)
    gap = width_px * 0.014
    width = (width_px - gap * (columns + 1)) / columns
    head = width_px * 0.042
    lines = _lines(views, width)
    caption = _caption_height(width, lines)
    panels, marks = [], list[Mark]()
    marks.append(
        Words(gap, head * 0.72, shortened(title, 90), palette.ink, width_px / 62.0, bold=True)
    )
    top = head
    for i, view in enumerate(views):
        across = i % columns
        if across == 0 and i > 0:
            top += width / view.aspect + caption
        panel = frame_panel(
            view, x=gap + across * (width + gap), y=top, width=width, palette=palette,
            guides=guides, light=True, places=True,
        )  # fmt: skip
        panels.append(panel)
        marks += _caption(view, panel, palette, lines)
    bottom = top + width / views[0].aspect + caption
    note = width_px / 110.0
    if any(view.hidden is not None for view in views):
        marks += _light_key(views, (gap, bottom + note * 0.6), note, palette, units)
        bottom += note * 1.8
    for line in _notes(*views):
        marks.append(Words(gap, bottom + note * 0.6, line, palette.soft, note))
        bottom += note * 1.6
    return Drawing(
        width=width_px,
        height=math.ceil(bottom + note * 0.2),
        paper=palette.paper,
        panels=tuple(panels),
        marks=tuple(marks),
        title=title,
        description=" ".join([*(f"{v.label}: {v.caption}." for v in views), _note(*views)])
        + _light_note(views, units),
    )


def write_sheet(sheet: Drawing, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write a sheet as ``.svg`` or ``.png``.

    Raises
    ------
    WriteRefusedError
        For another suffix, or when a file is in the way or cannot be written.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``, into ``folder``:

    >>> from backbearing.alignment.view import views
    >>> from backbearing.pictures import preview_sheet, write_sheet
    >>> picture = preview_sheet(views(plan, elevation)[0])
    >>> write_sheet(picture, folder / "view.svg").name
    'view.svg'
    """
    target = checked_picture(path, "a preview", overwrite=overwrite)
    if target.suffix.lower() == ".svg":
        return write_file(target, drawing_svg(sheet), overwrite=overwrite)
    return write_file(target, drawing_png(sheet), overwrite=overwrite)


def _size(width: float) -> float:
    """Of a caption's letters, pixels."""
    return max(11.5, width / 46.0)


def _caption_height(width: float, lines: int) -> float:
    """Height of the caption under a frame, pixels."""
    return _size(width) * (1.5 + 1.8 * lines)


def _lines(views: Sequence[View], width: float) -> int:
    """One line where words and bar fit beside one another under every frame, else two."""
    letters = _size(width) * 0.62
    for view in views:
        words = letters * (len(view.label) * 1.35 + len(view.caption) + 4.0)
        bar = max(view.core_width * width / view.aspect, letters * 10.0)
        if words + bar > width:
            return 2
    return 1


def _caption(view: View, panel: Panel, palette: ViewPalette, lines: int) -> list[Mark]:
    """Words under a frame, and a bar as long as ten degrees of sky about the target."""
    size = _size(panel.width)
    base = panel.y + panel.height + size * 1.75
    aside = size * (1.6 + 0.76 * len(view.label))
    words_at = (aside, base) if lines == 1 else (size * 0.4, base + size * 1.6)
    marks: list[Mark] = [
        Words(panel.x + size * 0.4, base, view.label, palette.ink, size * 1.15, bold=True),
        Words(panel.x + words_at[0], words_at[1], view.caption, palette.soft, size),
    ]
    if math.isfinite(view.core_width):
        long = view.core_width * panel.height
        right = panel.x + panel.width - size * 0.4
        y = base + size * 0.15
        tick = size * 0.35
        bar = ((right - long, y - tick), (right - long, y), (right, y), (right, y - tick))
        marks.append(Stroke(bar, palette.ink, 0.9, width=1.4))
        marks.append(
            Words(right, y - size * 0.55, "10° of sky", palette.soft, size * 0.85, anchor="end")
        )
    return marks


def _light_key(
    views: Sequence[View], at: tuple[float, float], size: float, palette: ViewPalette,
    units: Units,
) -> list[Mark]:  # fmt: skip
    """Samples of the hidden light's two marks, and what they mean."""
    x, y = at
    wide, tall, dim = size * 1.1, size * 0.75, shade(palette.light)
    marks: list[Mark] = []
    for words, filled in zip(_light_words(views, units), (True, False), strict=False):
        box = ((x, y), (x + wide, y), (x + wide, y - tall), (x, y - tall))
        mark: Mark = Area((box,), dim, palette.light)
        if not filled:
            mark = Stroke((*box, box[0]), palette.light, 1.0, width=max(1.0, size / 12.0))
        marks += [mark, Words(x + wide + size * 0.5, y, words, palette.soft, size)]
        x += wide + size * (1.6 + 0.56 * len(words))
    return marks


def _light_words(views: Sequence[View], units: Units) -> tuple[str, ...]:
    """Say what the hidden light's marks are: its ground, and the light where it has a spot."""
    known = [view.hidden for view in views if view.hidden is not None]
    if not known:
        return ()
    size = units.sentence(f"{num(known[0].width_m)} × {num(known[0].height_m)} m")
    stands = "every stand" if known[0].from_every_stand else "this stand alone"
    ground = f"ground where a light hides from {stands}"
    spot = any(len(one.light) for one in known)
    return (ground, f"a light of {size} on it") if spot else (ground,)


def _light_note(views: Sequence[View], units: Units) -> str:
    words = _light_words(views, units)
    return f" Behind the subject are drawn: {', '.join(words)}." if words else ""


def _shape_words(view: View) -> str:
    light = " The light hides behind a plain box of its size." if view.hidden else ""
    return f"The subject's {view.shape_note}.{light}"


def _note(*views: View) -> str:
    return " ".join(_notes(*views))


def _notes(*views: View) -> list[str]:
    """Say what the pictures are made of, and what they lack; a line each."""
    bright = max((view.sky_adds_mag for view in views), default=0.0)
    said = [NOTE, *dict.fromkeys(_shape_words(view) for view in views if view.shape_note)]
    if any(view.places for view in views):
        said.append(PLACES)
    if bright >= BRIGHT_MAG:
        said.append(BRIGHT.format(bright))
    if not all(view.ground_known for view in views):
        said.append(UNKNOWN)
    return said
