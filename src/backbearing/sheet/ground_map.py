"""The sheet's little maps: the stands close up, and the way there from the parking."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.maps.preview_marks import Area, Dot, Line, Mark, Sheet, Words
from backbearing.sheet.content import tame
from backbearing.sheet.labels import Labels
from backbearing.sheet.plane import Plane, areas_of, hatching, lines_of, metres_from

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.plan import Plan
    from backbearing.maps.clock import Clock
    from backbearing.maps.preview_marks import Points
    from backbearing.sheet.inks import SheetInks
    from backbearing.sheet.plane import Floats
    from backbearing.sheet.shot_rows import Turn

SMALL: Final = 8.0
"""Size of small letters on the maps, points."""


class Drawn:
    """A map in the making: marks from the ground up, labels last."""

    def __init__(self, plane: Plane, inks: SheetInks) -> None:
        self.plane, self.inks = plane, inks
        self.marks: list[Mark] = []
        self.labels = Labels(plane.width, plane.height, inks.paper)

    def line(self, points: Points, width: float = 0.8, *, soft: bool = False, dashed: bool = False,
             alpha: float = 1.0) -> None:  # fmt: skip
        """Draw a line on the paper."""
        if len(points) > 1:
            ink = self.inks.soft if soft else self.inks.ink
            self.marks.append(Line(points, ink, alpha, width, dashed))

    def outline(self, shape: BaseGeometry, width: float, *, dashed: bool = False) -> None:
        """Draw the lines of a shape that was cut to the window."""
        for line in lines_of(shape):
            self.line(line, width, dashed=dashed, soft=True)

    def finish(self, title: str, said: str) -> Sheet:
        """Add frame, north and scale, and close the map."""
        wide, tall, inks = self.plane.width, self.plane.height, self.inks
        self.labels.settle()
        self._scale_and_north()
        frame = ((0.0, 0.0), (wide, 0.0), (wide, tall), (0.0, tall), (0.0, 0.0))
        border = Line(frame, inks.ink, width=1.2)
        marks = (*self.marks, *self.labels.marks, border)
        return Sheet(round(wide), round(tall), inks.paper, (), marks, title, said)

    def furnish(self) -> None:
        """Keep the corners of scale and north free of words."""
        wide, tall = self.plane.width, self.plane.height
        self.labels.taken.append((0.0, tall - 20.0, 12.0 + self._bar()[1] + 30.0, tall))
        self.labels.taken.append((wide - 22.0, 0.0, wide, 36.0))

    def _bar(self) -> tuple[float, float]:
        """A round length for the scale bar, metres, and its length on paper."""
        most = 0.34 * self.plane.width / self.plane.scale
        step = 10.0 ** math.floor(math.log10(most))
        metres = next(step * k for k in (5.0, 2.0, 1.0) if step * k <= most)
        return metres, metres * self.plane.scale

    def _scale_and_north(self) -> None:
        ink, tall = self.inks.ink, self.plane.height
        metres, long = self._bar()
        y = tall - 7.0
        shown = f"{metres:g} m" if metres < 1000.0 else f"{metres / 1000.0:g} km"
        self.marks += [
            Area((_box(0.0, tall - 21.0, 14.0 + long + 5.2 * len(shown), tall),), self.inks.paper),
            Line(
                ((7.0, y - 4.0), (7.0, y), (7.0 + long, y), (7.0 + long, y - 4.0)), ink, width=1.6
            ),
            Words(11.0 + long, y, shown, ink, SMALL, bold=True),
        ]
        x = self.plane.width - 11.0
        self.marks += [
            Area((((x, 4.0), (x + 4.5, 17.0), (x, 14.0), (x - 4.5, 17.0)),), ink),
            Line(((x, 14.0), (x, 24.0)), ink, width=1.2),
            Words(x, 33.0, "N", ink, SMALL + 1.0, anchor="middle", bold=True),
        ]


def _box(left: float, top: float, right: float, bottom: float) -> Points:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def stands_map(
    plan: Plan, shots: Sequence[Turn], clock: Clock, inks: SheetInks, *,
    width: float, height: float,
) -> Sheet:  # fmt: skip
    """Draw the subject, the stands on their arcs with clock ticks, sight lines and light."""
    from backbearing.sheet import stands_marks

    plane = Plane.around(
        lat=plan.subject.lat, lon=plan.subject.lon, metres=stands_marks.reach(plan, shots),
        width=width, height=height, rim=25.0,
    )  # fmt: skip
    drawn = Drawn(plane, inks)
    drawn.furnish()
    land(drawn, plan, named=False, close=True)
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
    plan: Plan, shots: Sequence[Turn], inks: SheetInks, *, width: float, height: float
) -> Sheet | None:
    """Draw parking, tracks, land, water and the walks; None when there is no parking nor walk."""
    points = _way_points(plan, shots)
    if points is None:
        return None
    plane = Plane.around(
        lat=plan.subject.lat, lon=plan.subject.lon, metres=points, width=width, height=height,
        rim=26.0,
    )  # fmt: skip
    drawn = Drawn(plane, inks)
    drawn.furnish()
    land(drawn, plan, named=False)
    _tracks(drawn, plan)
    session = plan.session
    for walk in (session.approach, session.home) if session else ():
        if walk is not None:
            for line in lines_of(plane.cut(walk.line)):
                drawn.line(line, 2.2)
    x, y = plane.spot(plan.subject.lat, plan.subject.lon)
    drawn.marks += [Dot(x, y, 4.2, inks.paper), Dot(x, y, 3.2, inks.ink)]
    drawn.labels.keep_free(x, y, 5.0)
    drawn.labels.put(x, y, tame(plan.subject.name, 26), inks.ink, SMALL, away=6.0, bold=True)
    _parking(drawn, plan)
    land(drawn, plan, named=True)
    return drawn.finish("The way there, north up", "Parking, tracks, land and water of your file.")


def _way_points(plan: Plan, shots: Sequence[Turn]) -> Floats | None:
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
    return metres_from(
        lat=[s[0] for s in spots], lon=[s[1] for s in spots],
        home_lat=plan.subject.lat, home_lon=plan.subject.lon,
    )  # fmt: skip


def land(drawn: Drawn, plan: Plan, *, named: bool, close: bool = False) -> None:
    """Draw land by access, water and hazards; or only their names."""
    for place in plan.places:
        if place.kind not in ("land", "water", "hazard"):
            continue
        shape = drawn.plane.cut(place.geometry)
        if shape.is_empty:
            continue
        if named:
            middle: Any = shape.representative_point()
            name = tame(place.name, 30)
            words = f"{name}: {place.access}" if place.kind == "land" else name
            ink = drawn.inks.soft
            area = shape if place.kind == "land" else None
            drawn.labels.put(middle.x, middle.y, words, ink, SMALL, away=2.0, inside=area, rank=6)
        elif place.kind == "land":
            _land_area(drawn, shape, place.access, close=close)
        elif place.kind == "water":
            for rings in areas_of(shape):
                drawn.marks.append(Area(rings, drawn.inks.wash))
            drawn.outline(shape, 1.6)
            drawn.outline(shape, 0.8)
        else:
            for line in lines_of(shape):
                drawn.line(line, 2.6, dashed=True)
            for spot in _spots(shape):
                drawn.marks.append(Dot(*spot, 3.0, drawn.inks.ink))


def _land_area(drawn: Drawn, shape: BaseGeometry, access: str, *, close: bool) -> None:
    """Closed land is cross-hatched, asking land slanted where there is room, open land bare."""
    if access == "closed":
        for rising in (True, False):
            for line in hatching(shape, step=7.0, rising=rising):
                drawn.line(line, 0.5, soft=True)
    elif access in ("ask first", "unknown") and not close:
        for line in hatching(shape, step=16.0, rising=True):
            drawn.line(line, 0.35, soft=True, alpha=0.6)
    drawn.outline(shape, 1.4 if access == "closed" else 0.8, dashed=access != "open")


def _tracks(drawn: Drawn, plan: Plan) -> None:
    for place in plan.places:
        if place.kind == "track":
            for line in lines_of(drawn.plane.cut(place.geometry)):
                drawn.line(line, 1.1, dashed=True)


def _parking(drawn: Drawn, plan: Plan) -> None:
    inks = drawn.inks
    for place in plan.places:
        if place.kind != "parking":
            continue
        shape: Any = drawn.plane.cut(place.geometry.centroid)
        if shape.is_empty:
            continue
        x, y = shape.x, shape.y
        box = _box(x - 5.5, y - 5.5, x + 5.5, y + 5.5)
        drawn.marks += [
            Area((box,), inks.ink),
            Words(x, y + 3.2, "P", inks.paper, 9.0, anchor="middle", bold=True),
        ]
        drawn.labels.keep_free(x, y, 6.5)
        drawn.labels.put(x, y, tame(place.name, 30), inks.ink, SMALL, away=8.0, bold=True)


def _spots(shape: BaseGeometry) -> list[tuple[float, float]]:
    parts: Any = getattr(shape, "geoms", (shape,))
    return [(part.x, part.y) for part in parts if part.geom_type == "Point"]


def turn_points(angles: int) -> Floats:
    """Unit circle as points, shape (angles, 2)."""
    a = np.linspace(0.0, 2.0 * np.pi, angles)
    return np.column_stack([np.sin(a), np.cos(a)])
