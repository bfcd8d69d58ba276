"""The plate: a night's frames of one subject at one size of it, what was planned beneath each.

Frames are only made smaller, turned upright and cut to what all of them show; nothing is
sharpened, filled in or moved. Where exposures are matched the plate says so.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import NothingFoundError
from backbearing.drawing.marks import Drawing, Mark, Words
from backbearing.drawing.page_shell import asset, filled_page
from backbearing.drawing.palette import VIEW
from backbearing.drawing.png import painted
from backbearing.pictures.preview_frame import frame_panel

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray
    from PIL.Image import Image as Pixels

    from backbearing.plan.view import View

TALLEST_SUBJECT_PX: Final = 420
"""The subject's size on the plate; smaller where a frame has it smaller: none is enlarged."""

WIDEST_PX: Final = 3600
GAP_PX: Final = 12
MOST_ABREAST: Final = 4
"""More frames stand in several rows, so that letters stay legible."""


def abreast(frames: int) -> int:
    """How many of some frames stand side by side on the picture."""
    rows = -(-frames // MOST_ABREAST)
    return -(-frames // rows) if frames else 1


def widest_frame_px(frames: int) -> int:
    """How wide each of some frames may be on the picture, pixels."""
    side_by_side = abreast(frames)
    return (WIDEST_PX - GAP_PX) // side_by_side - GAP_PX


@dataclass(frozen=True, slots=True)
class PlateFrame:
    """One frame for the plate.

    Attributes
    ----------
    label : str
        The lens.
    says : tuple of str
        Its caption's other lines.
    picture : ndarray, shape (rows, columns, 3)
        8-bit values, upright, whole.
    column_px, base_px, tall_px : float
        In it: the subject's middle, the row of its base, and its height.
    view : View
        What was planned.
    planned_share, planned_margin : float
        Of the planned frame's height: the subject, and the room below it.
    degree_px : float
        Of the picture, a degree in the middle of its lens's view.
    """

    label: str
    says: tuple[str, ...]
    picture: NDArray[np.uint8]
    column_px: float
    base_px: float
    tall_px: float
    view: View
    planned_share: float
    planned_margin: float
    degree_px: float


@dataclass(frozen=True, slots=True)
class PlateColumn:
    """A frame as it stands on the plate: as taken and as planned, of one size."""

    label: str
    says: tuple[str, ...]
    taken: Pixels
    planned: Pixels


def plate_columns(
    frames: Sequence[PlateFrame],
    *,
    tall_px: int = TALLEST_SUBJECT_PX,
    widest_px: float = math.inf,
) -> list[PlateColumn]:
    """Bring frames to one size of the subject and cut them to what all show.

    Parameters
    ----------
    frames : sequence of PlateFrame
    tall_px : int
        The subject is no taller.
    widest_px : float
        No cut is wider; the subject becomes smaller for it.

    Raises
    ------
    NothingFoundError
        Without a frame.
    """
    from PIL import Image

    if not frames:
        raise NothingFoundError("No frame shows the subject, so there is no plate to make.")
    tall = min([tall_px, *(round(one.tall_px) for one in frames)])
    window = _window(frames, tall)
    if window[0] + window[2] > widest_px:
        tall = max(8, int(tall * widest_px / (window[0] + window[2])))
        window = _window(frames, tall)
    columns = []
    for one in frames:
        scale = tall / one.tall_px
        height, width = one.picture.shape[:2]
        small = Image.fromarray(one.picture).resize(
            (max(1, round(width * scale)), max(1, round(height * scale))),
            Image.Resampling.BOX,
        )
        left = round(one.column_px * scale) - window[0]
        top = round(one.base_px * scale) - window[1]
        box = (left, top, left + window[0] + window[2], top + window[1] + window[3])
        columns.append(
            PlateColumn(one.label, one.says, small.crop(box), _planned(one, tall, window))
        )
    return columns


def _window(frames: Sequence[PlateFrame], tall: int) -> tuple[int, int, int, int]:
    """Pixels left, above, right of and below the subject's foot that every frame shows."""
    room = []
    for one in frames:
        scale = tall / one.tall_px
        height, width = one.picture.shape[:2]
        room.append(
            (
                one.column_px * scale,
                one.base_px * scale,
                (width - one.column_px) * scale,
                (height - one.base_px) * scale,
            )
        )
    left, above, right, below = (
        max(int(min(values)), tall // 10) for values in zip(*room, strict=True)
    )
    return left, above, right, below


def _planned(one: PlateFrame, tall: int, window: tuple[int, int, int, int]) -> Pixels:
    """The planned view at the same size, cut alike; black beyond its edges."""
    from PIL import Image

    height = tall / one.planned_share
    width = height * one.view.aspect
    panel = frame_panel(one.view, x=0.0, y=0.0, width=width, palette=VIEW, guides=False)
    drawn = painted(
        Drawing(
            round(width), round(height), VIEW.paper, (panel,), (), one.label, " ".join(one.says)
        )
    )
    left = round(width / 2.0) - window[0]
    top = round(height * (1.0 - one.planned_margin)) - window[1]
    out = Image.new("RGB", (window[0] + window[2], window[1] + window[3]))
    out.paste(drawn, (-left, -top))
    return out


def plate_picture(columns: Sequence[PlateColumn], *, title: str, notes: Sequence[str]) -> Pixels:
    """Lay the frames side by side, as taken above, as planned below, with captions.

    More than `MOST_ABREAST` stand in several rows.
    """
    wide, tall = columns[0].taken.size
    side_by_side = abreast(len(columns))
    letters = max(13.0, wide / 28.0)
    head = round(letters * 2.4)
    caption = round(letters * (2.0 + 1.3 * max(len(one.says) for one in columns)))
    step = 2 * tall + caption + round(letters)
    width = GAP_PX + side_by_side * (wide + GAP_PX)
    under = head + -(-len(columns) // side_by_side) * step
    height = under + round(letters * 1.5 * (len(notes) + 0.6))
    marks: list[Mark] = [Words(GAP_PX, head * 0.7, title, VIEW.ink, letters * 1.2, bold=True)]
    corners = [
        (GAP_PX + i % side_by_side * (wide + GAP_PX), head + i // side_by_side * step)
        for i in range(len(columns))
    ]
    for (x, y), one in zip(corners, columns, strict=True):
        down = y + tall + letters * 1.3
        marks.append(Words(x, down, one.label, VIEW.ink, letters, bold=True))
        for line, said in enumerate(one.says, 1):
            marks.append(Words(x, down + letters * 1.3 * line, said, VIEW.soft, letters * 0.85))
    for i, note in enumerate(notes):
        marks.append(
            Words(GAP_PX, under + letters * 1.5 * (i + 0.7), note, VIEW.soft, letters * 0.85)
        )
    sheet = painted(Drawing(width, height, VIEW.paper, (), tuple(marks), title, " ".join(notes)))
    for (x, y), one in zip(corners, columns, strict=True):
        sheet.paste(one.taken, (x, y))
        sheet.paste(one.planned, (x, y + tall + caption))
    return sheet


def plate_page(columns: Sequence[PlateColumn], *, title: str, notes: Sequence[str]) -> str:
    """The plate as one page: a slider from lens to lens, the plan beside; rows without scripts."""
    return filled_page(
        "pictures",
        "plate.html",
        styles=[asset("pictures", "plate.css")],
        scripts=[asset("pictures", "plate.js")],
        title=title,
        notes=list(notes),
        frames=[
            {
                "label": one.label,
                "says": list(one.says),
                "taken": _data(one.taken),
                "planned": _data(one.planned),
                "width": one.taken.width,
                "height": one.taken.height,
            }
            for one in columns
        ],
    )


def _data(picture: Pixels) -> str:
    stream = io.BytesIO()
    picture.save(stream, format="JPEG", quality=90)
    return "data:image/jpeg;base64," + base64.b64encode(stream.getvalue()).decode("ascii")
