"""The sheet's little maps: the stands close up, and the way there from the parking."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.base.local_plane import LocalPlane
from backbearing.base.units import METRIC
from backbearing.drawing.labels import Label
from backbearing.drawing.map_window import MapWindow, areas_of, hatching, lines_of
from backbearing.drawing.marks import Area, Dot, Drawing, Words
from backbearing.sheet import stands_marks
from backbearing.sheet.map_drawing import SMALL, MapDrawing, _box
from backbearing.sheet.table_cells import tame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from backbearing.base.units import Units
    from backbearing.drawing.map_window import Floats
    from backbearing.drawing.palette import SheetPalette
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.sheet.shot_rows import LensTurn


def stands_map(
    plan: Plan, shots: Sequence[LensTurn], clock: WallClock, palette: SheetPalette, *,
    width: float, height: float, units: Units = METRIC,
) -> Drawing:  # fmt: skip
    """Draw the subject, the stands on their arcs with clock ticks, sight lines and light."""
    window = MapWindow.around(
        lat=plan.subject.lat, lon=plan.subject.lon, metres=stands_marks.reach(plan, shots),
        width=width, height=height, rim=25.0,
    )  # fmt: skip
    drawn = MapDrawing(window, palette, units)
    drawn.keep_corners_free()
    land(drawn, plan, named=False)
    stands_marks.shadows(drawn, plan)
    stands_marks.sight(drawn, plan, shots)
    stands_marks.arcs(drawn, plan)
    stands_marks.ticks(drawn, plan, clock)
    stands_marks.subject(drawn, plan)
    stands_marks.light(drawn, plan)
    stands_marks.stands(drawn, shots)
    stands = ", ".join(f"{turn.number} {turn.label}" for turn in shots)
    return drawn.finish("The stands, north up", f"Stands {stands or 'none'} about the subject.")


def way_map(
    plan: Plan, shots: Sequence[LensTurn], palette: SheetPalette, *, width: float, height: float,
    units: Units = METRIC,
) -> Drawing | None:  # fmt: skip
    """Draw parking, tracks, land, water and the walks; None when there is no parking nor walk."""
    points = _way_points(plan, shots)
    if points is None:
        return None
    window = MapWindow.around(
        lat=plan.subject.lat, lon=plan.subject.lon, metres=points, width=width, height=height,
        rim=26.0,
    )  # fmt: skip
    drawn = MapDrawing(window, palette, units)
    drawn.keep_corners_free()
    land(drawn, plan, named=False)
    _tracks(drawn, plan)
    session = plan.session
    for walk in (session.approach, session.home) if session else ():
        if walk is not None:
            for line in lines_of(window.cut(walk.line)):
                drawn.line(line, 2.2)
    x, y = window.spot(plan.subject.lat, plan.subject.lon)
    drawn.marks += [Dot(x, y, 4.2, palette.paper), Dot(x, y, 3.2, palette.ink)]
    drawn.labels.keep_free(x, y, 5.0)
    drawn.labels.ask(
        Label(x, y, tame(plan.subject.name, 26), palette.ink, SMALL, away=6.0, bold=True)
    )
    _parking(drawn, plan)
    land(drawn, plan, named=True)
    return drawn.finish("The way there, north up", "Parking, tracks, land and water of your file.")


def _way_points(plan: Plan, shots: Sequence[LensTurn]) -> Floats | None:
    """What the window must hold, metres from the subject."""
    spots = [(p.geometry.centroid.y, p.geometry.centroid.x)
             for p in plan.places if p.kind == "parking"]  # fmt: skip
    session = plan.session
    for walk in (session.approach, session.home) if session else ():
        if walk is not None:
            spots += [(y, x) for x, y, *_ in walk.line.coords]
    if not spots:
        return None
    spots += [(turn.stand.lat, turn.stand.lon) for turn in shots]
    spots.append((plan.subject.lat, plan.subject.lon))
    home = LocalPlane(plan.subject.lat, plan.subject.lon)
    return home.points(lat=[s[0] for s in spots], lon=[s[1] for s in spots])


def land(drawn: MapDrawing, plan: Plan, *, named: bool) -> None:
    """Draw land by access, water and hazards; or only their names."""
    for place in plan.places:
        if place.kind not in ("land", "water", "hazard"):
            continue
        shape = drawn.window.cut(place.geometry)
        if shape.is_empty:
            continue
        if named:
            middle: Any = shape.representative_point()
            name = tame(place.name, 30)
            words = f"{name}: {place.access}" if place.kind == "land" else name
            ink = drawn.palette.soft
            area = shape if place.kind == "land" else None
            drawn.labels.ask(
                Label(middle.x, middle.y, words, ink, SMALL, away=2.0, inside=area, rank=6)
            )
        elif place.kind == "land":
            _land_area(drawn, shape, place.access)
        elif place.kind == "water":
            for rings in areas_of(shape):
                drawn.marks.append(Area(rings, drawn.palette.wash))
            drawn.outline(shape, 1.6)
            drawn.outline(shape, 0.8)
        else:
            for line in lines_of(shape):
                drawn.line(line, 2.6, dashed=True)
            for spot in _spots(shape):
                drawn.marks.append(Dot(*spot, 3.0, drawn.palette.ink))


def _land_area(drawn: MapDrawing, shape: BaseGeometry, access: str) -> None:
    """Closed land is cross-hatched, land to ask for slanted, open land bare."""
    if access == "closed":
        for rising in (True, False):
            for line in hatching(shape, step=7.0, rising=rising):
                drawn.line(line, 0.5, soft=True)
    elif access in ("ask first", "unknown"):
        for line in hatching(shape, step=16.0, rising=True):
            drawn.line(line, 0.35, soft=True, alpha=0.6)
    drawn.outline(shape, 1.4 if access == "closed" else 0.8, dashed=access != "open")


def _tracks(drawn: MapDrawing, plan: Plan) -> None:
    for place in plan.places:
        if place.kind == "track":
            for line in lines_of(drawn.window.cut(place.geometry)):
                drawn.line(line, 1.1, dashed=True)


def _parking(drawn: MapDrawing, plan: Plan) -> None:
    palette = drawn.palette
    for place in plan.places:
        if place.kind != "parking":
            continue
        shape: Any = drawn.window.cut(place.geometry.centroid)
        if shape.is_empty:
            continue
        x, y = shape.x, shape.y
        box = _box(x - 5.5, y - 5.5, x + 5.5, y + 5.5)
        drawn.marks += [
            Area((box,), palette.ink),
            Words(x, y + 3.2, "P", palette.paper, 9.0, anchor="middle", bold=True),
        ]
        drawn.labels.keep_free(x, y, 6.5)
        drawn.labels.ask(Label(x, y, tame(place.name, 30), palette.ink, SMALL, away=8.0, bold=True))


def _spots(shape: BaseGeometry) -> list[tuple[float, float]]:
    parts: Any = getattr(shape, "geoms", (shape,))
    return [(part.x, part.y) for part in parts if part.geom_type == "Point"]
