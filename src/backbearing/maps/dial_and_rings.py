"""What lies round the stands on the map: clock dial, distance rings, raster points, views."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.numbers import rounded
from backbearing.drawing.arcs import at_time, placed, reach_m
from backbearing.drawing.map_origin import MapOrigin

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.drawing.base_map import MapGround
    from backbearing.drawing.map_origin import Spot
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan

RINGS_M = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)


def dial_and_rings(plan: Plan, ground: MapGround, clock: WallClock) -> dict[str, Any]:
    """Everything round the stands, to draw."""
    origin, reach = MapOrigin.of(plan), reach_m(plan)
    return {
        "dial": dial(origin, plan, clock, reach),
        "rings": rings(origin, reach),
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
        line = origin.to(lats, lons)
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
                "ticks": origin.spots(lats, lons),
            }
        )
    turns = np.degrees(np.unwrap(np.radians([m["turn_deg"] for m in marks])))
    return {"marks": marks, "ring": origin.around(turns, reach * 1.10)}


def _quarter_hours(lens: LensPlan | None, clock: WallClock) -> list[dt.datetime]:
    times = [p.time for p in lens.arc if placed(p)] if lens else []
    return list(clock.marks(times[0], times[-1], 15)) if times else []


def rings(origin: MapOrigin, reach: float) -> list[dict[str, Any]]:
    """Distance rings round the subject: four to nine out past the stands, then sparser."""
    step = next((r for r in RINGS_M if reach / r <= 8.0), RINGS_M[-1])
    radii = [step * k for k in range(1, math.ceil(reach / step) + 1)]
    radii += [r for r in (100, 200, 500, 1000) if r > 1.5 * radii[-1]]
    turns = np.arange(0.0, 361.0, 5.0)
    return [{"m": r, "line": origin.around(turns, float(r))} for r in radii]


def points(origin: MapOrigin, ground: MapGround) -> list[list[float]]:
    """The raster's own points near the subject: the only heights that are not in between."""
    return [[*origin.spot(lat, lon), rounded(height, 1)] for lat, lon, height in ground.points]


def view_corners(origin: MapOrigin, plan: Plan, reach: float) -> dict[str, list[Spot]]:
    """Corners of the two views: the stands close up, and the whole line to the skyline."""
    close = origin.around([0.0, 90.0, 180.0, 270.0], 0.45 * reach)
    close += origin.around(_directions(plan), 1.24 * reach)
    line = origin.around([0.0, 90.0, 180.0, 270.0], 600.0)
    for stand in (lens.stand for lens in plan.lenses if lens.stand):
        line.append(origin.spot(stand.lat, stand.lon))
        if math.isfinite(stand.skyline_lat):
            line.append(origin.spot(stand.skyline_lat, stand.skyline_lon))
    return {"stands": _corners(close), "line": _corners(line)}


def _directions(plan: Plan) -> list[float]:
    """Directions of the stands from the subject, degrees, through the night."""
    points = [p for lens in plan.lenses for p in lens.arc if placed(p)]
    return sorted({round(p.bearing_deg + 180.0) % 360.0 for p in points})


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
