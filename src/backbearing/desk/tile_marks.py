"""What is written on a map tile: the heights of contours, and of the tops.

Every mark lies whole within one tile, so that no edge cuts a number.
"""

from __future__ import annotations

import math
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.base.numbers import num
from backbearing.desk.tile_heights import RIM, TILE_PX, TileHeights
from backbearing.drawing.contours import Contours, label_spots
from backbearing.drawing.mercator import mercator_y

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray
    from PIL.Image import Image

    from backbearing.terrain.elevation import Elevation

FONT_PX: Final = 11
MOST_BENT: Final = 0.12
"""How much a contour may bend under its height, as a share of the height's length."""

APART_PX: Final = 74.0
"""Between the marks of a tile, at the least."""

MOST_LABELS: Final = 3
MOST_TOPS: Final = 3
SEEN_FROM_PX: Final = 26.0
"""A top is the highest within so many pixels, and two nodes at the least."""


class Written(NamedTuple):
    """One number on a tile: its middle in pixels, its turn in degrees clockwise, and its text."""

    x: float
    y: float
    turn_deg: float
    text: str


class Top(NamedTuple):
    """A top: its place in pixels of the tile, and the height of its highest cell in metres."""

    x: float
    y: float
    height_m: float


def tops_of(elevation: Elevation, under: TileHeights, *, least_rise_m: float) -> list[Top]:
    """Find the tops of a tile, the highest first.

    A top is the highest of its surroundings and rises by so many metres over the lowest of them.
    Its height and place are those of the raster's own highest cell there, never a mean's.
    """
    from scipy.ndimage import maximum_filter, minimum_filter

    heights = under.grid.heights_m
    reach = min(RIM, max(2, round(SEEN_FROM_PX / under.step_px), round(2.0 * under.cell_nodes)))
    low = np.where(np.isfinite(heights), heights, -np.inf)
    high = np.where(np.isfinite(heights), heights, np.inf)
    size = 2 * reach + 1
    peak = (low == maximum_filter(low, size, mode="nearest")) & np.isfinite(heights)
    # At the edge of what is known a slope would pass for a top.
    peak &= minimum_filter(np.isfinite(heights).astype(np.uint8), 5, mode="constant") == 1
    peak &= heights - minimum_filter(high, size, mode="nearest") >= least_rise_m
    found: dict[tuple[int, int], Top] = {}
    for i, j in np.argwhere(peak)[:200]:
        x, y = (j - under.left) * under.step_px, (i - under.top) * under.step_px
        room = 3.0 * under.cell_nodes * under.step_px + 2.0
        if not (-room <= x <= TILE_PX + room and -room <= y <= TILE_PX + room):
            continue
        top = _highest_cell(elevation, under, int(i), int(j))
        if top is not None and 0.0 <= top.x < TILE_PX and 0.0 <= top.y < TILE_PX:
            found[round(top.x), round(top.y)] = top
    ordered = sorted(found.values(), key=lambda top: (-top.height_m, top.y, top.x))
    return _apart(ordered, (), MOST_TOPS)


def _highest_cell(elevation: Elevation, under: TileHeights, i: int, j: int) -> Top | None:
    """The raster's highest cell about a node."""
    lat, lon = under.grid.place(float(j), float(i))
    pixels = elevation.grid.pixels(lat=lat, lon=lon)
    reach = under.block + 1
    if not (np.isfinite(pixels.row) and np.isfinite(pixels.col)):
        return None
    r0 = max(0, round(float(pixels.row)) - under.row0 - reach)
    c0 = max(0, round(float(pixels.col)) - under.col0 - reach)
    part = under.window_m[r0 : r0 + 2 * reach + 1, c0 : c0 + 2 * reach + 1]
    if not part.size or not np.isfinite(part).any():
        return None
    down, across = np.unravel_index(int(np.nanargmax(part)), part.shape)
    place = elevation.grid.places(row=under.row0 + r0 + down, col=under.col0 + c0 + across)
    grid = under.grid
    east = WEB_MERCATOR_RADIUS_M * math.radians(float(place.lon))
    turn = 2.0 * math.pi * WEB_MERCATOR_RADIUS_M
    east += turn * round((grid.west_m - east) / turn) if abs(grid.west_m - east) > turn / 2 else 0.0
    x = ((east - grid.west_m) / grid.step_m - 0.5 - under.left) * under.step_px
    y = (grid.north_m - float(mercator_y(place.lat))) / grid.step_m - 0.5 - under.top
    return Top(x, y * under.step_px, float(part[down, across]))


def fits(label: Written, shown: NDArray[np.bool_]) -> bool:
    """Whether a number lies on shown ground only."""
    room = math.hypot(*_size(label.text)) / 2.0
    x, y = max(0, round(label.x - room)), max(0, round(label.y - room))
    return bool(shown[y : round(label.y + room), x : round(label.x + room)].all())


def labels_of(
    contours: Contours, taken: Iterable[Top], *, rim_px: int, tile: tuple[int, int] = (0, 0)
) -> list[Written]:
    """Choose where contours of a tile with a rim have their heights written, off the tops.

    A height is written once on a tile. Where every contour has its height written, tiles that share
    an edge take turns: a height of an even number of intervals belongs to those whose column and
    row add up to an even number, so that a long line says it every second tile.
    """
    every = sum(contours.is_index(h) for h in contours.lines) < 2
    found = []
    for bend, column, row, turn, height in label_spots(contours, every=every):
        if every and (sum(tile) + round(height / contours.interval_m)) % 2:
            continue
        label = Written(column - rim_px + 0.5, row - rim_px + 0.5, turn, num(height))
        across, high = _size(label.text)
        room = math.hypot(across, high) / 2.0 + 2.0
        held = all(room <= v <= TILE_PX - room for v in (label.x, label.y))
        if bend <= MOST_BENT and held:
            found.append(label)
    return _once(_apart(found, tuple(taken), len(found)))[:MOST_LABELS]


def _once(labels: list[Written]) -> list[Written]:
    """Keep the first label of each height."""
    return list({label.text: label for label in reversed(labels)}.values())[::-1]


def _apart(wanted: list[Any], taken: tuple[Any, ...], most: int) -> list[Any]:
    """Keep the first of the wanted that lie apart from one another and from what is taken."""
    kept: list[Any] = []
    for one in wanted:
        near = (math.hypot(one.x - o.x, one.y - o.y) < APART_PX for o in (*kept, *taken))
        if len(kept) < most and not any(near):
            kept.append(one)
    return kept


def top_label(top: Top) -> Written | None:
    """Where a top's height is written beside its point; None where the tile has no room."""
    text = num(top.height_m, 0)
    across, high = _size(text)
    for x in (top.x + 5.0 + across / 2.0, top.x - 5.0 - across / 2.0):
        if across / 2.0 + 1.0 <= x <= TILE_PX - across / 2.0 - 1.0:
            y = min(max(top.y, high / 2.0 + 1.0), TILE_PX - high / 2.0 - 1.0)
            return Written(x, y, 0.0, text)
    return None


def write_on(
    sheet: Image, label: Written, ink: tuple[int, int, int], halo: tuple[int, int, int]
) -> None:
    """Write a number on a picture of a tile, turned, with a halo that parts the lines under it."""
    letters, around = _stamp(label.text, round(label.turn_deg / 3.0) * 3)
    corner = round(label.x - letters.width / 2.0), round(label.y - letters.height / 2.0)
    sheet.paste(halo, corner, around)
    sheet.paste(ink, corner, letters)


@lru_cache(1)
def _font() -> Any:
    from PIL import ImageFont

    spec = find_spec("matplotlib")
    assert spec is not None  # noqa: S101  # a requirement of the package
    assert spec.origin is not None  # noqa: S101
    file = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    return ImageFont.truetype(str(file), 2 * FONT_PX)


@lru_cache(2048)
def _size(text: str) -> tuple[float, float]:
    left, top, right, bottom = _font().getbbox(text)
    return (right - left) / 2.0, (bottom - top) / 2.0


@lru_cache(1024)
def _stamp(text: str, turn_deg: int) -> tuple[Any, Any]:
    """Coverage of the letters and of their halo."""
    from PIL import Image, ImageDraw

    across, high = _size(text)
    size = (math.ceil(2 * across) + 16, math.ceil(2 * high) + 16)
    found = []
    for stroke in (0, 5):
        mask = Image.new("L", size, 0)
        pen = ImageDraw.Draw(mask)
        middle = (size[0] / 2, size[1] / 2)
        pen.text(middle, text, 255, _font(), anchor="mm", stroke_width=stroke)
        turned = mask.rotate(-turn_deg, Image.Resampling.BICUBIC, expand=True)
        half = (max(1, turned.width // 2), max(1, turned.height // 2))
        found.append(turned.resize(half, Image.Resampling.BOX))
    return found[0], found[1]
