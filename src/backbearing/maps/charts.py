"""The page's two drawings beside the map: the skyline, and the night by the clock.

Numbers only: positions in the drawing's own units, about a CSS pixel each. The page's
template writes them out as inline SVG.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.numbers import num, rounded
from backbearing.base.text import compass_point
from backbearing.drawing.arcs import role_of
from backbearing.drawing.number_words import listed
from backbearing.pictures.skyline_layout import SkylineLayout, lay_out_skyline, step_deg
from backbearing.plan.turns import order_of, turn_of_each

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.drawing.mercator import Floats
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan

WIDTH = 420.0
LEFT, RIGHT = 34.0, 414.0
SKY_TOP, SKY_BOTTOM, SKY_HEIGHT = 52.0, 236.0, 276.0
ROW, NIGHT_TOP, NIGHT_LEFT = 30.0, 26.0, 62.0
LABEL_WIDTH = 50.0


def plan_skyline(plan: Plan) -> SkylineLayout:
    """The plan's skyline and path, prepared for drawing."""
    return lay_out_skyline(
        [p.azimuth_deg for p in plan.skyline],
        [p.altitude_deg for p in plan.skyline],
        [(p.time, p.azimuth_deg, p.altitude_deg) for p in plan.sky_path],
        [(d.start, d.end) for d in plan.dark],
    )


def skyline_chart(plan: Plan, clock: WallClock) -> dict[str, Any] | None:
    """The skyline with the target's path over it; None when there is nothing to draw."""
    view = plan_skyline(plan)
    if not view.times and not len(view.azimuths_deg):
        return None
    width = view.right_deg - view.left_deg
    height = view.top_deg - view.bottom_deg

    def x(az: Any) -> Any:
        return LEFT + (np.asarray(az) - view.left_deg) / width * (RIGHT - LEFT)

    def y(alt: Any) -> Any:
        return SKY_BOTTOM - (np.asarray(alt) - view.bottom_deg) / height * (SKY_BOTTOM - SKY_TOP)

    stands = _stand_marks(plan, view, x, y)
    return {
        "width": WIDTH,
        "height": SKY_HEIGHT,
        "first": min((mark["label_y"] for mark in stands), default=SKY_TOP) - 16.0,
        "left": LEFT,
        "right": RIGHT,
        "top": SKY_TOP,
        "bottom": SKY_BOTTOM,
        "ground": _ground(view, x, y),
        "paths": [(part, points(x(az), y(alt))) for part, az, alt in view.runs()],
        "levels": _levels(view, y),
        "bearings": _bearings(view, x),
        "clock": _clock_marks(view, clock, x, y),
        "stands": stands,
    }


def points(xs: Floats, ys: Floats) -> str:
    """Points of an SVG polyline, to a tenth."""
    return " ".join(
        f"{num(a, 1)},{num(b, 1)}" for a, b in zip(np.ravel(xs), np.ravel(ys), strict=True)
    )


def _ground(
    view: SkylineLayout, x: Callable[[Any], Any], y: Callable[[Any], Any]
) -> list[dict[str, str]]:
    """The terrain as closed shapes, one for each stretch of known skyline."""
    shapes = []
    known = np.isfinite(view.altitudes_deg)
    breaks = np.flatnonzero(np.diff(known.astype(int))) + 1
    for run in np.split(np.arange(len(known)), breaks):
        if len(run) < 2 or not known[run[0]]:
            continue
        az, alt = _cut(view, view.azimuths_deg[run], view.altitudes_deg[run])
        if len(az) < 2:
            continue
        edge = points(x(az), y(alt))
        feet = points(x(az[[-1, 0]]), np.array([SKY_BOTTOM, SKY_BOTTOM]))
        shapes.append({"edge": edge, "fill": f"{edge} {feet}"})
    return shapes


def _cut(view: SkylineLayout, az: Floats, alt: Floats) -> tuple[Floats, Floats]:
    """The part of a line inside the view, ended exactly at its sides."""
    low, high = max(view.left_deg, float(az[0])), min(view.right_deg, float(az[-1]))
    inside = az[(az > low) & (az < high)]
    cut = np.concatenate([[low], inside, [high]]) if low < high else inside
    return cut, np.interp(cut, az, alt)


def _levels(view: SkylineLayout, y: Callable[[Any], Any]) -> list[tuple[float, str]]:
    step = step_deg(view.top_deg - view.bottom_deg, 6)
    first = np.ceil(view.bottom_deg / step) * step
    return [
        (float(y(v)), f"{num(v, 0)}°") for v in np.arange(first, view.top_deg - 0.4 * step, step)
    ]


def _bearings(view: SkylineLayout, x: Callable[[Any], Any]) -> list[dict[str, Any]]:
    span = view.right_deg - view.left_deg
    step = next((s for s in (5.0, 10.0, 15.0, 30.0, 45.0) if span / s <= 9), 45.0)
    marks = []
    for v in np.arange(np.ceil(view.left_deg / step) * step, view.right_deg, step):
        named = round(v % 360.0, 3) % 45.0 == 0.0
        marks.append(
            {
                "x": float(x(v)),
                "degrees": f"{num(v % 360.0, 0)}°",
                "letters": compass_point(float(v)) if named else "",
            }
        )
    return marks


def _clock_marks(
    view: SkylineLayout, clock: WallClock, x: Callable[[Any], Any], y: Callable[[Any], Any]
) -> list[dict[str, Any]]:
    """WallClock times along the path; labels only where they do not run into one another."""
    if len(view.times) < 2:
        return []
    marks: list[dict[str, Any]] = []
    last_x, last_y = -1e9, -1e9
    for time in clock.marks(view.times[0], view.times[-1], 30):
        spot = view.at(time)
        if spot is None:
            continue
        at_x, at_y = float(x(spot[0])), float(y(spot[1]))
        hour = clock.local(time).minute == 0
        free = abs(at_x - last_x) >= 0.8 * LABEL_WIDTH or abs(at_y - last_y) >= 18.0
        label = hour and free and LEFT + 16 < at_x < RIGHT - 16
        if label:
            last_x, last_y = at_x, at_y
        side = view.at(time + dt.timedelta(minutes=1)) or spot
        rise = float(np.clip((side[1] - spot[1]) * 60.0 / 6.0, -1.0, 1.0))
        marks.append(
            {
                "x": at_x,
                "y": at_y,
                "text_x": at_x + 24.0 * rise * np.sign(float(x(side[0])) - at_x),
                "text_y": at_y + 19.0 - 8.0 * abs(rise),
                "text": clock.hm(time) if label else "",
                "hour": hour,
            }
        )
    return marks


def _stand_marks(
    plan: Plan, view: SkylineLayout, x: Callable[[Any], Any], y: Callable[[Any], Any]
) -> list[dict[str, Any]]:
    """Where the target stands at each lens's moment; lenses at one spot share a label."""
    spots: dict[tuple[float, float], list[str]] = {}
    for lens in plan.lenses:
        spot = view.at(lens.stand.time) if lens.stand else None
        if spot is not None:
            here = rounded(x(spot[0]), 0), rounded(y(spot[1]), 0)
            spots.setdefault(here, []).append(lens.lens.label)
    marks: list[dict[str, Any]] = []
    ends: dict[int, float] = {}
    for (at_x, at_y), labels in sorted(spots.items()):
        text = listed(labels)
        half = 4.0 * len(text) + 4.0
        centre = min(max(at_x, LEFT + half), RIGHT - half)
        line = next((n for n in range(2, 0, -1) if ends.get(n, 0.0) <= centre - half), 0)
        ends[line] = centre + half
        marks.append(
            {
                "x": at_x,
                "y": at_y,
                "text": text,
                "label_x": centre,
                "label_y": 13.0 + 16.0 * line,
            }
        )
    return marks


def night_chart(plan: Plan, clock: WallClock) -> dict[str, Any] | None:
    """One row for each lens through the night; None when no lens has an arc."""
    times = [p.time for lens in plan.lenses for p in lens.arc]
    if not times:
        return None
    first, last = min(times), max(times)
    span = max((last - first).total_seconds(), 60.0)

    def x(time: dt.datetime) -> float:
        part = (time - first).total_seconds() / span
        return NIGHT_LEFT + min(max(part, 0.0), 1.0) * (RIGHT - 8.0 - NIGHT_LEFT)

    bottom, turned = NIGHT_TOP + ROW * len(plan.lenses), turn_of_each(plan)
    return {
        "width": WIDTH,
        "height": bottom + 8.0,
        "top": NIGHT_TOP,
        "bottom": bottom,
        "dark": [(x(d.start), x(d.end)) for d in plan.dark if d.end > first and d.start < last],
        "hours": [
            {"x": x(t), "text": clock.hm(t) if clock.local(t).hour % _every(span) == 0 else ""}
            for t in clock.marks(first, last, 60)
        ],
        "rows": [
            _night_row(plan.lenses[i], turned[i], row, x, clock)
            for row, i in enumerate(order_of(plan))
        ],
    }


def _every(span_s: float) -> int:
    return 1 if span_s <= 8.0 * 3600.0 else 2 if span_s <= 14.0 * 3600.0 else 3


def _night_row(
    lens: LensPlan,
    shot: Shot | None,
    row: int,
    x: Callable[[dt.datetime], float],
    clock: WallClock,
) -> dict[str, Any]:
    runs: list[tuple[str, float, float]] = []
    for one, other in zip(lens.arc, lens.arc[1:], strict=False):
        role = role_of(one.limits)
        if other.time - one.time > dt.timedelta(hours=1):
            continue
        if runs and runs[-1][0] == role and runs[-1][2] == x(one.time):
            runs[-1] = (role, runs[-1][1], x(other.time))
        else:
            runs.append((role, x(one.time), x(other.time)))
    stand = lens.stand
    return {
        "label": lens.lens.label,
        "y": NIGHT_TOP + ROW * (row + 0.5),
        "turn": shot.number if shot else None,
        "runs": runs,
        "stand": {"x": x(stand.time), "text": clock.hm(stand.time)} if stand else None,
    }
