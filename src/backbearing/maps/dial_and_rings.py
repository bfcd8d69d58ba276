"""What lies round the stands on the map: clock dial, distance rings, raster points, views."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.numbers import rounded
from backbearing.base.units import FOOT_M, METRIC
from backbearing.drawing.arcs import at_time, placed, reach_m
from backbearing.drawing.map_origin import MapOrigin

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.drawing.base_map import MapGround
    from backbearing.drawing.map_origin import Spot
    from backbearing.drawing.mercator import Floats
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint, LensPlan, Stand

RINGS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)


STEP_DEG = 3.0
"""So far apart at most are neighbouring points of the dial's ring."""

JUMP_DEG = 60.0
"""A direction that turns further from one point of an arc to the next is not followed."""

GAP = dt.timedelta(minutes=10)
"""An arc with no stand for so long is two arcs."""


def dial_and_rings(
    plan: Plan, ground: MapGround, clock: WallClock, units: Units = METRIC
) -> dict[str, Any]:
    """Everything round the stands, to draw: of the lenses that stand, or else of all."""
    standing = tuple(lens for lens in plan.lenses if lens.stand is not None)
    plan = dataclasses.replace(plan, lenses=standing or plan.lenses)
    origin, reach = MapOrigin.of(plan), reach_m(plan)
    return {
        "dial": dial(origin, plan, clock, reach),
        "rings": rings(origin, reach, units),
        "posts": points(origin, ground),
        "cell_m": rounded(ground.cell_m, 2),
        "views": view_corners(origin, plan, reach),
        "declination_deg": declination_deg(plan),
    }


def dial(origin: MapOrigin, plan: Plan, clock: WallClock, reach: float) -> dict[str, Any]:
    """WallClock marks on the ground: the stands' direction from the subject tells the time.

    All lenses stand on nearly the same back bearing at the same moment, so one ring of
    clock times, outside every arc, serves them all; ticks stand on the arcs themselves.
    """
    marks: list[dict[str, Any]] = []
    longest = max(plan.lenses, key=lambda lens: len(lens.arc), default=None)
    for time in _quarter_hours(longest, clock):
        spots = [spot for lens in plan.lenses if (spot := at_time(lens, time)) is not None]
        if not spots:
            continue
        lats, lons = [s[0] for s in spots], [s[1] for s in spots]
        line, shown = origin.to(lats, lons), origin.spots(lats, lons)
        farthest = int(np.argmax(line.distance_m))
        azimuth = float(line.azimuth_deg[farthest])
        rim = origin.around([azimuth, azimuth], [reach * 1.10, reach * 1.15])
        marks.append(
            {
                "text": clock.hm(time),
                "hour": clock.local(time).hour,
                "minute": clock.local(time).minute,
                "turn_deg": rounded(azimuth, 2),
                "rim": rim,
                "ticks": [shown[i] for i in np.argsort(line.distance_m)],
            }
        )
    rings = [origin.around(turns, reach * 1.10) for turns in _sweeps(origin, longest)]
    return {"marks": marks, "rings": rings}


def _sweeps(origin: MapOrigin, lens: LensPlan | None) -> list[Floats]:
    """Directions of a lens's stands through the night, finely, in stretches without a jump.

    Near the zenith the direction turns through half a circle in minutes: a ring drawn from
    one quarter hour's mark to the next would run across the map.
    """
    points = [p for p in (lens.arc if lens else ()) if placed(p)]
    if len(points) < 2:
        return []
    line = origin.to([p.lat for p in points], [p.lon for p in points])
    turns = np.degrees(np.unwrap(np.radians(line.azimuth_deg)))
    gap = np.array([b.time - a.time > GAP for a, b in pairwise(points)])
    breaks = np.flatnonzero(gap | (np.abs(np.diff(turns)) > JUMP_DEG)) + 1
    return [_fine(part) for part in np.split(turns, breaks) if len(part) > 1]


def _fine(turns: Floats) -> Floats:
    """The same directions with others between them, none further from the next than a step."""
    steps = np.maximum(1, np.ceil(np.abs(np.diff(turns)) / STEP_DEG)).astype(int)
    parts = [
        a + (b - a) * np.arange(n) / n for (a, b), n in zip(pairwise(turns), steps, strict=True)
    ]
    return np.concatenate([*parts, turns[-1:]])


def _quarter_hours(lens: LensPlan | None, clock: WallClock) -> list[dt.datetime]:
    times = [p.time for p in lens.arc if placed(p)] if lens else []
    return list(clock.marks(times[0], times[-1], 15)) if times else []


def rings(origin: MapOrigin, reach: float, units: Units = METRIC) -> list[dict[str, Any]]:
    """Distance rings round the subject: four to nine out past the stands, then sparser.

    In the reader's units the distances are round: metres, or feet, and farther out yards.
    """
    near_m, far_m = (1.0, 1.0) if units.name == "metric" else (FOOT_M, 3.0 * FOOT_M)
    step = next((r for r in RINGS if reach / near_m / r <= 8.0), RINGS[-1])
    radii = [step * k * near_m for k in range(1, math.ceil(reach / near_m / step) + 1)]
    radii += [r * far_m for r in (100, 200, 500, 1000) if r * far_m > 1.5 * radii[-1]]
    turns = np.arange(0.0, 361.0, 5.0)
    return [
        {"m": rounded(r, 4), "text": ring_words(r, units), "line": origin.around(turns, r)}
        for r in radii
    ]


def ring_words(metres: float, units: Units) -> str:
    """A round distance without decimals: ``15 m``, ``1 km``, ``50 ft``, ``200 yd``."""
    number, unit = units.length(metres).split(" ")
    return f"{number.removesuffix('.0')} {unit}"


def points(origin: MapOrigin, ground: MapGround) -> list[list[float]]:
    """The raster's own points near the subject: the only heights that are not in between."""
    return [[*origin.spot(lat, lon), rounded(height, 1)] for lat, lon, height in ground.points]


def view_corners(origin: MapOrigin, plan: Plan, reach: float) -> dict[str, list[Spot]]:
    """Corners of the two views: the stands close up, and the whole line to the skyline."""
    close = origin.around([0.0, 90.0, 180.0, 270.0], 0.45 * reach)
    close += origin.around(_directions(origin, plan), 1.24 * reach)
    line = origin.around([0.0, 90.0, 180.0, 270.0], 600.0)
    for stand in (lens.stand for lens in plan.lenses if lens.stand):
        line.append(origin.spot(stand.lat, stand.lon))
        if math.isfinite(stand.skyline_lat):
            line.append(origin.spot(stand.skyline_lat, stand.skyline_lon))
    return {"stands": _corners(close), "line": _corners(line)}


def _directions(origin: MapOrigin, plan: Plan) -> list[float]:
    """Directions of the stands from the subject, degrees, through the minutes that are usable.

    Of a night without such a minute through all of it.
    """
    points: list[ArcPoint | Stand] = [p for lens in plan.lenses for p in lens.arc if placed(p)]
    usable = [p for lens in plan.lenses for p in lens.arc if placed(p) and p.usable]
    points = [*usable, *(lens.stand for lens in plan.lenses if lens.stand)] or points
    if not points:
        return []
    line = origin.to([p.lat for p in points], [p.lon for p in points])
    return sorted({round(float(a)) % 360.0 for a in np.ravel(line.azimuth_deg)})


def _corners(points: list[Spot]) -> list[Spot]:
    lat, lon = [p[0] for p in points], [p[1] for p in points]
    return [[min(lat), min(lon)], [max(lat), max(lon)]]


def declination_deg(plan: Plan) -> float | None:
    """East of true north is positive; read from the stands' two bearings, degrees."""
    for lens in plan.lenses:
        if lens.stand and math.isfinite(lens.stand.bearing_magnetic_deg):
            off = lens.stand.bearing_deg - lens.stand.bearing_magnetic_deg
            return rounded(wrap_180_deg(off), 1)
    return None
