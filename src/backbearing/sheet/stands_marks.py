"""What the map of the stands shows: arcs with clock ticks, stands, sight lines, light."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.geodesy import line_between
from backbearing.base.local_plane import LocalPlane
from backbearing.drawing.arcs import arc_runs, at_time, placed
from backbearing.drawing.labels import Label
from backbearing.drawing.map_origin import MapOrigin
from backbearing.drawing.map_window import areas_of, stipple
from backbearing.drawing.marks import Area, Dot, Stroke, Words
from backbearing.sheet.map_drawing import SMALL, turn_points
from backbearing.sheet.table_cells import tame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.drawing.map_window import Floats
    from backbearing.drawing.marks import Points
    from backbearing.drawing.palette import Colour
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.sheet.map_drawing import MapDrawing
    from backbearing.sheet.shot_rows import LensTurn


def reach(plan: Plan, shots: Sequence[LensTurn]) -> Floats:
    """What the window must hold, metres: subject, stands, usable arcs and the light's spot."""
    spots = [(turn.stand.lat, turn.stand.lon) for turn in shots]
    for lens in plan.lenses:
        spots += [(p.lat, p.lon) for p in lens.arc if p.usable and placed(p)]
    subject, wide = plan.subject, plan.subject.shown_width_m
    lighting = plan.session.lighting if plan.session else None
    if lighting is not None:
        spots += [(spot.lat, spot.lon) for spot in lighting.blind.spots]
    found = wide * turn_points(9)
    if spots:
        home = LocalPlane(subject.lat, subject.lon)
        far = home.points(lat=[s[0] for s in spots], lon=[s[1] for s in spots])
        found = np.concatenate([found, far])
    return np.asarray(found)


def shadows(drawn: MapDrawing, plan: Plan) -> None:
    """Where people at the stands throw a shadow, under all that follows."""
    lighting = plan.session.lighting if plan.session else None
    for shadow in lighting.earlier_shadows if lighting is not None else ():
        for rings in areas_of(drawn.window.cut(shadow)):
            drawn.marks.append(Area(rings, drawn.palette.wash))


def light(drawn: MapDrawing, plan: Plan) -> None:
    """The blind patch, and the spots with the most room: one, or one for some turns each."""
    lighting = plan.session.lighting if plan.session else None
    if lighting is None:
        return
    palette, blind = drawn.palette, lighting.blind
    patch = drawn.window.cut(blind.area) if not blind.area.is_empty else blind.area
    for rings in areas_of(patch):
        drawn.marks.append(Area(rings, palette.wash, palette.soft))
    for x, y in stipple(patch, step=3.6):
        drawn.marks.append(Dot(x, y, 0.55, palette.ink))
    for spot in blind.spots:
        x, y = drawn.window.spot(spot.lat, spot.lon)
        to_all = len(spot.lenses) == len(blind.from_stands)
        drawn.marks += [Dot(x, y, 4.8, palette.paper), *_star(x, y, 4.4, palette.ink)]
        drawn.labels.keep_free(x, y, 5.0)
        drawn.labels.ask(
            Label(
                x,
                y,
                "light" if to_all else f"light: {tame(', '.join(spot.lenses), 40)}",
                palette.ink,
                SMALL,
                away=half_of(drawn, plan) + 2.0,
                bold=True,
                rank=2,
            )
        )
    for side in lighting.side_lights:
        x, y = drawn.window.spot(side.lat, side.lon)
        if 0.0 < x < drawn.window.width and 0.0 < y < drawn.window.height:
            drawn.marks += _star(x, y, 3.4, palette.soft)
            drawn.labels.keep_free(x, y, 4.0)
            drawn.labels.ask(
                Label(x, y, f"{tame(side.side, 12)} light", palette.soft, SMALL, away=5.0)
            )


def _star(x: float, y: float, size: float, ink: Colour) -> list[Stroke]:
    """A light: rays about a spot."""
    return [
        Stroke(((x - size * u, y - size * v), (x + size * u, y + size * v)), ink, width=1.1)
        for u, v in ((1.0, 0.0), (0.5, 0.87), (0.5, -0.87))
    ]


def arcs(drawn: MapDrawing, plan: Plan) -> None:
    """Arcs through the night, thick where nothing was found to spoil them."""
    origin = MapOrigin.of(plan)
    for lens in plan.lenses:
        for run in arc_runs(origin, lens):
            points = _points(drawn, run["line"])
            usable = run["role"] == "usable"
            drawn.line(points, 2.0 if usable else 0.6, soft=not usable, dashed=not usable)


def ticks(drawn: MapDrawing, plan: Plan, clock: WallClock) -> None:
    """A tick on every arc each quarter of an hour, and clock times outside the farthest."""
    usable = [p.time for lens in plan.lenses for p in lens.arc if p.usable and placed(p)]
    if not usable:
        return
    for time in clock.marks(min(usable), max(usable), 15):
        spots = [s for lens in plan.lenses if (s := at_time(lens, time)) is not None]
        if not spots:
            continue
        marks = [drawn.window.spot(*s) for s in spots]
        centre = drawn.window.spot(plan.subject.lat, plan.subject.lon)
        full = clock.local(time).minute == 0
        for mark in marks:
            drawn.line(_across(centre, mark, 3.2 if full else 1.8), 0.9)
        far = max(marks, key=lambda m: math.dist(m, centre))
        if clock.local(time).minute % 30 == 0:
            way = math.degrees(math.atan2(far[0] - centre[0], centre[1] - far[1]))
            drawn.labels.ask(
                Label(
                    *far, clock.hm(time), drawn.palette.ink, SMALL, away=5.0, bold=full, first=way
                )
            )


def _across(centre: tuple[float, float], mark: tuple[float, float], half: float) -> Points:
    """A short line at a mark, along the ray from the subject."""
    far = math.dist(centre, mark)
    if far < 1e-6:
        return (mark, mark)
    u, v = (mark[0] - centre[0]) / far, (mark[1] - centre[1]) / far
    return ((mark[0] - u * half, mark[1] - v * half), (mark[0] + u * half, mark[1] + v * half))


def half_of(drawn: MapDrawing, plan: Plan) -> float:
    """Half the subject's width on the paper, points."""
    return max(2.5, plan.subject.shown_width_m * drawn.window.scale / 2.0)


def subject(drawn: MapDrawing, plan: Plan) -> None:
    """The subject at its width, and its name."""
    palette = drawn.palette
    x, y = drawn.window.spot(plan.subject.lat, plan.subject.lon)
    half = half_of(drawn, plan)
    round_it = tuple((x + half * u, y + half * v) for u, v in turn_points(37).tolist())
    drawn.marks += [Stroke(round_it, palette.ink, width=1.6), Dot(x, y, 2.2, palette.ink)]
    drawn.labels.keep_free(x, y, half)
    name = tame(plan.subject.name, 26)
    drawn.labels.ask(
        Label(x, y, name, palette.ink, SMALL + 0.5, away=half + 2.0, bold=True, rank=1)
    )


def stands(drawn: MapDrawing, shots: Sequence[LensTurn]) -> None:
    """Rings with the number of the turn; the lens beside it."""
    palette = drawn.palette
    spots = [drawn.window.spot(turn.stand.lat, turn.stand.lon) for turn in shots]
    for (x, y), turn in zip(spots, shots, strict=True):
        drawn.marks += [
            Dot(x, y, 6.4, palette.ink),
            Dot(x, y, 5.2, palette.paper),
            Words(x, y + 2.9, str(turn.number), palette.ink, 8.0, anchor="middle", bold=True),
        ]
        drawn.labels.keep_free(x, y, 7.0)
    for (x, y), turn in zip(spots, shots, strict=True):
        drawn.labels.ask(Label(x, y, turn.label, palette.ink, SMALL, away=9.5, bold=True, rank=0))


def sight(drawn: MapDrawing, plan: Plan, shots: Sequence[LensTurn]) -> None:
    """From each stand through the subject towards the target."""
    x, y = drawn.window.spot(plan.subject.lat, plan.subject.lon)
    for turn in shots:
        at = drawn.window.spot(turn.stand.lat, turn.stand.lon)
        back = line_between(
            lat1=turn.stand.lat, lon1=turn.stand.lon, lat2=plan.subject.lat, lon2=plan.subject.lon
        )
        way = math.radians(float(back.azimuth_deg))
        beyond = (x + 24.0 * math.sin(way), y - 24.0 * math.cos(way))
        drawn.marks.append(Stroke((at, beyond), drawn.palette.soft, 1.0, 0.7))


def _points(drawn: MapDrawing, spots: list[list[float]]) -> Points:
    return drawn.window.place([s[0] for s in spots], [s[1] for s in spots])
