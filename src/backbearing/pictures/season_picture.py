"""A season at a glance: one row for each night, so that the good hours leap out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.drawing.palette import SEASON, SEASON_RED
from backbearing.pictures.figure_files import checked_picture, write_figure
from backbearing.pictures.season_rows import Band, SeasonRows, lay_out

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from backbearing.base.units import Units
    from backbearing.drawing.palette import SeasonPalette
    from backbearing.plan.season import Season

WIDTH_INCHES: Final = 8.27
LONGEST_INCHES: Final = 11.69
"""A4, so that a year fits on one printed page."""

HEAD_INCHES, FOOT_INCHES, LEFT_INCHES, RIGHT_INCHES = 1.35, 1.35, 1.55, 1.3
ROW_INCHES: Final = 0.2
NAMED_INCHES: Final = 0.115
"""Rows at least so tall carry their own name; thinner ones are drawn without gaps."""


BARS_AT, BARS_WIDE = 1.045, 0.085
"""Where the bars of hours begin and how long the scale is, in widths of the rows."""

VEILS: Final = {"clear": 0.22, "moon": 0.8}
"""How strong bands are where rows are too thin for heights: a full Moon's is 1."""

_LAYERS: Final[tuple[tuple[Band, str], ...]] = (
    ("twilight", "twilight"),
    ("dark", "dark"),
    ("moon", "moon"),
    ("clear", "clear"),
    ("window", "window"),
)


def draw_season(
    path: str | Path, season: Season, *, night: bool = False, overwrite: bool = False,
    units: Units = METRIC,
) -> Path:  # fmt: skip
    """Draw a season: each night a row of local time, its window the strongest mark.

    Parameters
    ----------
    path : str or Path
        Where to write, ending in ``.svg`` or ``.png``. The same season gives the same SVG.
    season : Season
        From `backbearing.alignment.plan_season`.
    night : bool
        Red on black.
    overwrite : bool
        Whether a file that is already there may be replaced.
    units : Units
        In which lengths are read.

    Raises
    ------
    WriteRefusedError
        For another suffix, or when a file is in the way or cannot be written.
    """
    target = checked_picture(path, "a picture of the nights", overwrite=overwrite)
    rows = lay_out(season, units)
    palette = SEASON_RED if night else SEASON
    return write_figure(
        target, lambda: _figure(rows, palette), title=rows.title, overwrite=overwrite
    )


def _figure(rows: SeasonRows, palette: SeasonPalette) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    count = len(rows.labels)
    room = LONGEST_INCHES - HEAD_INCHES - FOOT_INCHES
    tall = min(max(count, 7) * ROW_INCHES, room)
    height = tall + HEAD_INCHES + FOOT_INCHES
    figure = Figure(figsize=(WIDTH_INCHES, height), facecolor=palette.paper.css)
    FigureCanvasAgg(figure)
    wide = WIDTH_INCHES - LEFT_INCHES - RIGHT_INCHES
    axes = figure.add_axes(
        (
            LEFT_INCHES / WIDTH_INCHES,
            FOOT_INCHES / height,
            wide / WIDTH_INCHES,
            tall / height,
        ),
        facecolor=palette.day.css,
    )
    axes.set_xlim(rows.first_hour, rows.last_hour)
    axes.set_ylim(count, 0)
    _bands(axes, rows, palette, thin=tall / count <= NAMED_INCHES)
    _crossings(axes, rows, palette, row_points=tall / count * 72.0)
    _hours(axes, rows, palette)
    _nights(axes, rows, palette, row_inches=tall / count)
    _words(figure, rows, palette, height)
    _key(figure, rows, palette, height, thin=tall / count <= NAMED_INCHES)
    return figure


def _bands(axes: Axes, rows: SeasonRows, palette: SeasonPalette, *, thin: bool) -> None:
    """Fill each band: the Moon as high as it is lit, the target as a line, the window full.

    Thin rows have no room for heights: there the Moon is as strong as it is lit, and the
    target a veil.
    """
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import to_rgba

    for i, (band, role) in enumerate(_LAYERS):
        shapes, fills = [], []
        for a, b, top, bottom in rows.bands[band]:
            row, alpha = int((top + bottom) / 2.0), 1.0
            if thin and band == "moon":
                alpha = bottom - top
            elif thin and band == "clear":
                alpha = VEILS[band]
            if thin:
                top, bottom = row, row + 1  # noqa: PLW2901  # the whole row
            shapes.append(((a, top), (b, top), (b, bottom), (a, bottom)))
            fills.append(to_rgba(getattr(palette, role).css, alpha))
        if shapes:
            drawn = PolyCollection(shapes, facecolors=fills, edgecolors="none", zorder=1 + i)
            drawn.set_antialiased(False)
            axes.add_collection(drawn)


def _crossings(axes: Axes, rows: SeasonRows, palette: SeasonPalette, *, row_points: float) -> None:
    """Diamonds where nothing spoils the crossing, small crosses elsewhere."""
    size = min(max(row_points * 0.62, 2.2), 7.0)
    for usable in (False, True):
        spots = [(x, y + 0.5) for x, y, good in rows.crossings if good is usable]
        if spots:
            axes.plot(
                *zip(*spots, strict=True),
                linestyle="none",
                marker="D" if usable else "x",
                markersize=size if usable else 0.7 * size,
                zorder=9,
                markerfacecolor=palette.paper.css,
                markeredgecolor=palette.ink.css,
                markeredgewidth=0.8,
            )


def _hours(axes: Axes, rows: SeasonRows, palette: SeasonPalette) -> None:
    """Clock hours above and below; thin lines through the night, midnight stronger."""
    hours = [h for h in range(-12, 37) if rows.first_hour <= h <= rows.last_hour]
    step = 1 if len(hours) <= 13 else 2
    for hour in hours:
        axes.axvline(hour, color=palette.rule.css, linewidth=1.5 if hour == 12 else 0.6, zorder=2.5)
    marked = [h for h in hours if (h - 12) % step == 0]
    axes.set_xticks(marked, [f"{(h + 12) % 24:02d}" for h in marked])
    axes.tick_params(
        axis="x", top=True, labeltop=True, bottom=True, labelbottom=True, colors=palette.ink.css,
        length=3, labelsize=9.5,
    )  # fmt: skip
    for side in axes.spines.values():
        side.set_visible(False)


def _nights(axes: Axes, rows: SeasonRows, palette: SeasonPalette, *, row_inches: float) -> None:
    """Names on the left, hours of the window on the right, a line where the month begins."""
    each = row_inches > NAMED_INCHES
    ticks = [i for i, _ in enumerate(rows.labels) if each or rows.firsts[i]]
    if not each:
        ticks = _with_room(ticks, row_inches)
    names = [rows.labels[i] if each else rows.months[i] for i in ticks]
    axes.set_yticks([i + (0.5 if each else 0.0) for i in ticks], names)
    size = min(9.0, row_inches * 72.0 * 0.66) if each else 9.0
    axes.tick_params(axis="y", length=0, colors=palette.ink.css, labelsize=size, pad=5)
    for i, first in enumerate(rows.firsts):
        if first and i:
            axes.axhline(i, color=palette.soft.css, linewidth=0.7, zorder=3)
    _hour_bars(axes, rows, palette, named=each, fontsize=size * 0.92)


def _hour_bars(
    axes: Axes, rows: SeasonRows, palette: SeasonPalette, *, named: bool, fontsize: float
) -> None:
    """Hours of each night's windows as bars beside its row, on a scale of their own."""
    from matplotlib.collections import PolyCollection

    most = hours_scale(max(rows.window_hours))
    beside = axes.get_yaxis_transform()
    inset = 0.32 if named else 0.0
    shapes = []
    for i, hours in enumerate(rows.window_hours):
        if hours > 0.0:
            end = BARS_AT + BARS_WIDE * hours / most
            top, bottom = i + inset, i + 1 - inset
            shapes.append(((BARS_AT, top), (end, top), (end, bottom), (BARS_AT, bottom)))
            if named:
                axes.text(
                    end + 0.01, i + 0.5, f"{num(hours, 1)} h", va="center", fontsize=fontsize,
                    color=palette.ink.css, transform=beside, parse_math=False,
                )  # fmt: skip
        elif named:
            axes.text(
                BARS_AT, i + 0.5, rows.lacking[i], va="center", fontsize=fontsize,
                color=palette.soft.css, transform=beside, parse_math=False,
            )  # fmt: skip
    if shapes:
        bars = PolyCollection(
            shapes, facecolors=palette.window.css, transform=beside, clip_on=False
        )
        bars.set(edgecolor="none", antialiased=False)
        axes.add_collection(bars, autolim=False)
        _hours_axis(axes, len(rows.labels), most, palette)


def hours_scale(most_hours: float) -> float:
    """Where the bars' axis ends: an even number of hours that holds the longest night."""
    return 2.0 * max(1.0, math.ceil(most_hours / 2.0 - 1e-9))


def _hours_axis(axes: Axes, count: int, most: float, palette: SeasonPalette) -> None:
    """A scale with its unit above and below the bars."""
    beside = axes.get_yaxis_transform()
    line: dict[str, Any] = {
        "color": palette.ink.css, "linewidth": 0.8, "transform": beside, "clip_on": False,
    }  # fmt: skip
    words: dict[str, Any] = {
        "color": palette.ink.css, "fontsize": 8.5, "ha": "center", "textcoords": "offset points",
        "xycoords": beside, "parse_math": False, "annotation_clip": False,
    }  # fmt: skip
    for edge, out in ((0, 1.0), (count, -1.0)):
        axes.plot([BARS_AT, BARS_AT + BARS_WIDE], [edge, edge], zorder=8, **line)
        for share in (0.0, 0.5, 1.0):
            x = BARS_AT + BARS_WIDE * share
            axes.plot([x], [edge], marker=2 if out > 0.0 else 3, markersize=3, **line)
            axes.annotate(
                num(share * most), (x, edge), xytext=(0.0, 5.5 * out),
                va="bottom" if out > 0.0 else "top", **words,
            )  # fmt: skip
        axes.annotate(
            "hours", (BARS_AT + 0.5 * BARS_WIDE, edge), xytext=(0.0, 17.0 * out),
            va="bottom" if out > 0.0 else "top", **words,
        )  # fmt: skip


def _with_room(ticks: list[int], row_inches: float) -> list[int]:
    """Drop month names that would run into the one before."""
    kept: list[int] = []
    for tick in ticks:
        if not kept or (tick - kept[-1]) * row_inches >= 0.16:
            kept.append(tick)
    return kept


def _words(figure: Figure, rows: SeasonRows, palette: SeasonPalette, height: float) -> None:
    words: dict[str, Any] = {"color": palette.ink.css, "parse_math": False, "va": "top"}
    left = 0.35 / WIDTH_INCHES
    figure.text(left, 1 - 0.28 / height, rows.title, fontsize=14, fontweight="bold", **words)
    figure.text(left, 1 - 0.58 / height, rows.subtitle, fontsize=9.5, **words)
    figure.text(left, 1 - 0.78 / height, rows.sum_up, fontsize=9.5, **words)
    figure.text(
        left, 0.13 / height, rows.foot, fontsize=7.5, color=palette.soft.css, parse_math=False,
        va="bottom",
    )  # fmt: skip


def _key(
    figure: Figure, rows: SeasonRows, palette: SeasonPalette, height: float, *, thin: bool
) -> None:
    """Samples with words, drawn as the rows are: height and strength tell them apart."""
    axes = figure.add_axes(
        (0.35 / WIDTH_INCHES, 0.5 / height, 1 - 0.7 / WIDTH_INCHES, 0.46 / height)
    )
    axes.set_xlim(0, WIDTH_INCHES - 0.7)
    axes.set_ylim(2, 0)
    axes.axis("off")
    columns = (0.0, 2.5, 4.95)
    for i, (band, word) in enumerate(rows.key):
        x, y = columns[i % 3], float(i // 3)
        colour = (
            palette.dark.css
            if band in ("moon", "clear", "window", "crossing")
            else palette.twilight.css
        )
        _sample(axes, x, y, colour if band != "dark" else palette.dark.css, 0.12, 0.88)
        if band == "crossing":
            mark: dict[str, Any] = {
                "markerfacecolor": palette.paper.css,
                "markeredgecolor": palette.ink.css,
            }
            axes.plot([x + 0.1], [y + 0.5], "D", markersize=5, **mark)
            axes.plot([x + 0.24], [y + 0.5], "x", markersize=4, markeredgecolor=palette.ink.css)
        elif band not in ("dark", "twilight"):
            top, bottom = {"moon": (0.45, 0.88), "clear": (0.4, 0.6), "window": (0.12, 0.88)}[band]
            if thin and band in VEILS:
                _sample(axes, x, y, getattr(palette, band).css, 0.12, 0.88, alpha=VEILS[band])
            else:
                _sample(axes, x, y, getattr(palette, band).css, top, bottom)
        axes.text(
            x + 0.4,
            y + 0.5,
            word,
            fontsize=8.5,
            color=palette.ink.css,
            va="center",
            parse_math=False,
        )


def _sample(
    axes: Axes, x: float, y: float, colour: str, top: float, bottom: float, alpha: float = 1.0
) -> None:
    across, down = [x, x + 0.32, x + 0.32, x], [y + top] * 2 + [y + bottom] * 2
    axes.fill(across, down, color=colour, alpha=alpha, linewidth=0)
