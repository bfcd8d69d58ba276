"""How the skyline picture is drawn: matplotlib, without its global state."""

from __future__ import annotations

import datetime as dt
import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.numbers import num
from backbearing.base.text import compass_point, shortened
from backbearing.base.units import METRIC
from backbearing.pictures.skyline_layout import step_deg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from backbearing.base.units import Units
    from backbearing.drawing.palette import SkylinePalette
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.pictures.skyline_layout import SkylineLayout

SIZE_INCHES = (11.0, 5.2)


LINES: Final[dict[str, dict[str, Any]]] = {
    "dark": {"linewidth": 3.6, "linestyle": "-"},
    "bright": {"linewidth": 1.2, "linestyle": "-"},
    "hidden": {"linewidth": 1.8, "linestyle": (0, (0.6, 2.4))},
    "unknown": {"linewidth": 1.2, "linestyle": (0, (6, 4))},
}
LINE_WORDS = {
    "dark": "clear of the ground, dark window",
    "bright": "clear of the ground, not dark",
    "hidden": "behind the ground",
    "unknown": "ground unknown",
}


def draw_figure(
    view: SkylineLayout,
    clock: WallClock,
    title: str,
    note: str,
    marks: Sequence[tuple[dt.datetime, str]],
    palette: SkylinePalette,
    units: Units = METRIC,
) -> Figure:
    """Draw a whole picture; the parameters are those of ``skyline_picture.draw_skyline``."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=SIZE_INCHES, facecolor=palette.paper.css)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.06, 0.235, 0.925, 0.595), facecolor=palette.paper.css)
    _frame(axes, view, palette)
    _ground(axes, view, palette)
    _readings(axes, view, palette)
    used = _paths(axes, view, palette)
    _subject(axes, view, palette)
    taken = _marks(axes, view, clock, marks, palette)
    _clock(axes, view, clock, palette, taken)
    _moon(axes, view, clock, palette, taken)
    words: dict[str, Any] = {"color": palette.ink.css, "parse_math": False}
    figure.text(0.06, 0.935, shortened(title, 110), fontsize=15, fontweight="bold", **words)
    shape = f" {view.subject.note}" if view.subject is not None else ""
    figure.text(0.06, 0.885, _zone_words(view, clock) + shape, fontsize=10.5, **words)
    lines = textwrap.wrap(shortened(note, 300), 150)[:2]
    figure.text(
        0.06,
        0.015,
        "\n".join(lines),
        fontsize=8.5,
        color=palette.soft.css,
        parse_math=False,
        va="bottom",
    )
    if used:
        _legend(axes, used, view, palette, units)
    return figure


def _zone_words(view: SkylineLayout, clock: WallClock) -> str:
    if not view.times:
        return "The target does not come above the horizon."
    letters = clock.all_letters(view.times)
    return f"Local times, {letters} ({clock.zone.key}). Azimuths from true north."


def _frame(axes: Axes, view: SkylineLayout, palette: SkylinePalette) -> None:
    axes.set_xlim(view.left_deg, view.right_deg)
    axes.set_ylim(view.bottom_deg, view.top_deg)
    span = view.right_deg - view.left_deg
    # Divisors of 45 first of all, so that the compass letters fall on marks.
    step = next((s for s in (1.0, 3.0, 5.0, 15.0, 45.0) if span / s <= 14), 45.0)
    ticks = np.arange(np.ceil(view.left_deg / step) * step, view.right_deg + 1e-9, step)
    axes.set_xticks(ticks, [_azimuth_label(float(t)) for t in ticks])
    rise = step_deg(view.top_deg - view.bottom_deg, 9)
    levels = np.arange(np.ceil(view.bottom_deg / rise) * rise, view.top_deg, rise)
    axes.set_yticks(levels, [f"{num(v, 0)}°" for v in levels])
    axes.grid(visible=True, axis="y", color=palette.rule.css, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(colors=palette.ink.css, length=4, labelsize=10)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(palette.ink.css)
    axes.tick_params(axis="y", length=0)


def _azimuth_label(azimuth_deg: float) -> str:
    turned = round(azimuth_deg % 360.0, 3) % 360.0
    letters = f"\n{compass_point(turned)}" if turned % 45.0 == 0.0 else ""
    return f"{num(turned)}°{letters}"


def _ground(axes: Axes, view: SkylineLayout, palette: SkylinePalette) -> None:
    az, alt = view.azimuths_deg, view.altitudes_deg
    if not len(az):
        return
    axes.fill_between(az, alt, view.bottom_deg, color=palette.ground.css, linewidth=0, zorder=2)
    _nearer(axes, view, palette)
    axes.plot(az, alt, color=palette.edge.css, linewidth=1.6, zorder=5)
    unknown = ~np.isfinite(alt)
    if unknown.any():
        axes.fill_between(
            az, view.bottom_deg, view.top_deg, where=unknown, facecolor="none",
            edgecolor=palette.rule.css, hatch="//", linewidth=0, zorder=1,
        )  # fmt: skip


def _nearer(axes: Axes, view: SkylineLayout, palette: SkylinePalette) -> None:
    """Shade nearer ground darker, over the farther, with a thin edge where it stands alone."""
    for i, (_, az, alt) in enumerate(reversed(view.nearer)):
        tone = 0.05 + 0.06 * i
        axes.fill_between(
            az,
            alt,
            view.bottom_deg,
            color=palette.edge.css,
            alpha=tone,
            linewidth=0,
            zorder=2.1 + 0.1 * i,
        )
        axes.plot(az, alt, color=palette.edge.css, linewidth=0.6, alpha=0.55, zorder=2.15 + 0.1 * i)


def _subject(axes: Axes, view: SkylineLayout, palette: SkylinePalette) -> None:
    """Draw the subject's shape before the ground, below the path."""
    if view.subject is None:
        return
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    rings = [ring for ring in view.subject.rings if len(ring) >= 3]
    shape = Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))
    axes.add_patch(
        PathPatch(shape, facecolor=palette.ink.css, edgecolor="none", linewidth=0.0, zorder=3.5)
    )


def _readings(axes: Axes, view: SkylineLayout, palette: SkylinePalette) -> None:
    """A small tick for every measured mark, across the skyline that it makes or lies under."""
    if not view.readings:
        return
    azimuth, altitude = np.array(view.readings).T
    axes.plot(
        azimuth, altitude, "|", color=palette.ink.css, markersize=7, markeredgewidth=1.0,
        zorder=5.5,
    )  # fmt: skip


def _moon(
    axes: Axes,
    view: SkylineLayout,
    clock: WallClock,
    palette: SkylinePalette,
    taken: list[tuple[float, float]],
) -> None:
    """Draw the Moon's path thin, with its clock on the hours where no other label is."""
    if view.moon is None:
        return
    times, az, alt = view.moon
    axes.plot(az, alt, color=palette.soft.css, linewidth=1.2, linestyle=(0, (1, 1.5)), zorder=3)
    name = "Moon "
    for time, x, y in zip(times, az, alt, strict=True):
        room = 0.07 * (view.right_deg - view.left_deg)
        inside = view.left_deg < x < view.right_deg - room and y < view.top_deg - 2.0
        if not inside or clock.local(time).minute or clock.local(time).second:
            continue
        axes.plot(
            x,
            y,
            "o",
            color=palette.soft.css,
            markerfacecolor=palette.paper.css,
            markersize=5,
            zorder=3,
        )
        at = axes.transData.transform((x, y))
        if not _free(at, taken):
            continue
        taken.append((float(at[0]), float(at[1])))
        axes.annotate(
            f"{name}{clock.hm(time)}", (x, y), xytext=(7, 5), textcoords="offset points",
            color=palette.soft.css, fontsize=9.5, zorder=7, parse_math=False, annotation_clip=True,
        )  # fmt: skip
        name = ""


def _paths(axes: Axes, view: SkylineLayout, palette: SkylinePalette) -> list[str]:
    used: list[str] = []
    for part, az, alt in view.runs():
        style: dict[str, Any] = {**LINES[part], "color": palette.path.css, "zorder": 4}
        axes.plot(az, alt, solid_capstyle="round", dash_capstyle="round", **style)
        if part not in used:
            used.append(part)
    return used


def _free(at: Any, taken: Sequence[tuple[float, float]]) -> bool:
    """Whether no label stands so near a spot, pixels."""
    return all(abs(at[0] - x) > 44.0 or abs(at[1] - y) > 20.0 for x, y in taken)


def _clock(
    axes: Axes,
    view: SkylineLayout,
    clock: WallClock,
    palette: SkylinePalette,
    taken: list[tuple[float, float]],
) -> None:
    """Dots every half hour; labels on the hours first, then where there is room.

    ``taken`` is where labels stand, pixels; these are added.
    """
    if len(view.times) < 2:
        return
    # A box and not an outline: an outlined text would be written as shapes, not as text.
    halo = {"facecolor": palette.paper.css, "edgecolor": "none", "alpha": 0.75, "pad": 0.8}
    halves = list(clock.marks(view.times[0], view.times[-1], 30))
    for time in sorted(halves, key=lambda t: (clock.local(t).minute != 0, t)):
        spot = view.at(time)
        if spot is None:
            continue
        hour = clock.local(time).minute == 0
        axes.plot(
            *spot, "o", color=palette.path.css, markerfacecolor=palette.paper.css,
            markersize=6 if hour else 4, zorder=6,
        )  # fmt: skip
        at = axes.transData.transform(spot)
        if _free(at, taken):
            taken.append((float(at[0]), float(at[1])))
            side = _side(view, time)
            axes.annotate(
                clock.hm(time), spot, xytext=(18.0 * side, -10.0 + 6.0 * abs(side)),
                textcoords="offset points", ha="center", va="top", color=palette.ink.css,
                fontsize=10, zorder=7, bbox=halo, fontweight="bold" if hour else "normal",
                parse_math=False, annotation_clip=True,
            )  # fmt: skip


def _side(view: SkylineLayout, time: dt.datetime) -> float:
    """Which side of the path lies below it: 1 is right where it climbs, -1 left, 0 level."""
    here = view.at(time)
    then = view.at(time + dt.timedelta(minutes=5)) or here
    if here is None or then is None or then == here:
        return 0.0
    across, up = then[0] - here[0], then[1] - here[1]
    return float(np.sign(across) * np.clip(up / max(float(np.hypot(across, up)), 1e-9), -1, 1))


def _marks(
    axes: Axes,
    view: SkylineLayout,
    clock: WallClock,
    marks: Sequence[tuple[dt.datetime, str]],
    palette: SkylinePalette,
) -> list[tuple[float, float]]:
    """Point out moments on the path; those of one minute share a label.

    Returns where the labels stand, pixels.
    """
    taken: list[tuple[float, float]] = []
    groups: dict[str, list[tuple[dt.datetime, str]]] = {}
    for time, label in sorted(marks, key=lambda m: m[0]):
        groups.setdefault(clock.hm(time), []).append((time, label))
    for shown, group in groups.items():
        spot = view.at(group[0][0])
        if spot is None:
            continue
        axes.plot(
            *spot, "o", markersize=11, markerfacecolor=palette.paper.css, color=palette.stand.css,
            markeredgewidth=2.2, zorder=8,
        )  # fmt: skip
        words = shortened(f"{', '.join(label for _, label in group)} · {shown}", 60)
        at = _beside(axes, spot, words, _side(view, group[0][0]))
        x, y = axes.transData.transform(spot)
        steps = np.linspace(0.5 * (at - 1), 0.5 * (at + 1), 5) * _wide(axes, words)
        # A clock time hangs below its spot, far from words above the path.
        if at:
            taken += [(float(x + step), float(y + rise)) for step in steps for rise in (0.0, 26.0)]
        axes.annotate(
            words, spot, xytext=(12.0 * at, 4.0 if at else 13.0), textcoords="offset points",
            ha=("right", "center", "left")[at + 1],
            color=palette.stand.css, fontsize=10.5, fontweight="bold", zorder=9, parse_math=False,
        )  # fmt: skip
    return taken


def _wide(axes: Axes, words: str) -> float:
    """About how wide the words of a mark are, pixels."""
    return 0.66 * 10.5 * len(words) / 72.0 * axes.figure.dpi


def _beside(axes: Axes, spot: tuple[float, float], words: str, side: float) -> int:
    """Where words of a mark stand: 1 right of it, -1 left, 0 above; within the picture."""
    wide = _wide(axes, words)
    x = float(axes.transData.transform(spot)[0])
    left, right = axes.bbox.x0, axes.bbox.x1
    wanted = 0 if abs(side) < 0.25 else -1 if side > 0.0 else 1
    for at in (wanted, 0, -1, 1):
        start = x + (at - 1) * wide / 2.0
        if start >= left and start + wide <= right:
            return at
    return wanted


def _tones(nearer: Sequence[float], palette: SkylinePalette, units: Units) -> Any:
    """One line of the key for the tones of nearer ground."""
    from matplotlib.patches import Patch

    words = ", ".join(units.length(distance_m) for distance_m in nearer)
    return Patch(facecolor=palette.edge.css, alpha=0.35, label=f"nearer ground: within {words}")


def _legend(
    axes: Axes, used: list[str], view: SkylineLayout, palette: SkylinePalette, units: Units
) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles = [
        Line2D(
            [], [], color=palette.path.css, label=LINE_WORDS[p], dash_capstyle="round", **LINES[p]
        )
        for p in LINES
        if p in used
    ]
    ground = "skyline of the ground"
    handles.append(Line2D([], [], color=palette.edge.css, linewidth=1.6, label=ground))
    key: list[Any] = list(handles)
    if view.nearer:
        key.append(_tones([distance_m for distance_m, *_ in view.nearer], palette, units))
    if view.subject is not None:
        key.append(Patch(facecolor=palette.ink.css, label="the subject"))
    if view.readings:
        tick: dict[str, Any] = {
            "linestyle": "none",
            "marker": "|",
            "markersize": 8,
            "label": "measured mark",
        }
        key.append(Line2D([], [], color=palette.ink.css, **tick))
    axes.legend(
        handles=key, loc="upper center", bbox_to_anchor=(0.5, -0.14),
        ncols=min(3, len(key)), frameon=False, fontsize=9.5, labelcolor=palette.ink.css,
        handlelength=3.2,
    )  # fmt: skip
