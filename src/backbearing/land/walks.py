"""Ways on foot: length, climb and time by a published rule, and what lies on them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.cautions import STEEP_DEG
from backbearing.base.errors import TerrainError
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.land.on_plane import on_plane
from backbearing.plan.session import STRAIGHT, Walk, WalkLie, WalkTimes
from backbearing.terrain.slope_and_drops import largest_drop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray
    from shapely import LineString

    from backbearing.base.local_plane import LocalPlane
    from backbearing.plan.place import Place
    from backbearing.plan.session import Detour
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

RULE: Final = "Tobler 1993, hiking function"
OFF_TRACK: Final = 0.6
"""Tobler's factor for walking where there is no path [Tobler1993]_."""

STEEPEST_WALKED: Final = 1.7
"""Rise a metre (60 degrees) beyond which the rule says nothing and its speed is held; such ground
is told in a caution (common practice, no source)."""

BESIDE_M: Final = 20.0
"""Drops, water and hazards are looked for so far to either side (common practice, no source)."""

LEAST_FALL_M: Final = 5.0

SAME_SPOT_M: Final = 1e-6
"""Ends of pieces nearer than this are one spot, apart by rounding."""


def walking_speed_m_per_minute(slope: ArrayLike) -> Floats:
    """Tobler's hiking function: ``6 exp(-3.5 |S + 0.05|)`` km/h on a path [Tobler1993]_.

    Parameters
    ----------
    slope : array_like
        Rise over run, positive uphill.
    """
    s = np.asarray(slope, dtype=np.float64)
    return np.asarray(100.0 * np.exp(-3.5 * np.abs(s + 0.05)))


@dataclass(frozen=True, slots=True)
class Way:
    """A line in metres on the local map, and for each of its pieces whether it is track."""

    line: LineString
    on_track: tuple[bool, ...]

    def piece_ends_m(self) -> Floats:
        """How far along the line each piece ends, metres."""
        corners = np.asarray(self.line.coords)[:, :2]
        return np.asarray(np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))

    @property
    def on_track_m(self) -> float:
        """How much of it is track."""
        lengths = np.diff(self.piece_ends_m(), prepend=0.0)
        return float(lengths[np.array(self.on_track)].sum())


def walk_along(
    way: Way,
    *,
    start: str,
    end: str,
    local: LocalPlane,
    elevation: Elevation | None,
    places: Sequence[Place],
    night_factor: float,
    detour: Detour = STRAIGHT,
) -> Walk:
    """Measure a way there and back, and say what the raster and the places hold against it.

    Heights are taken a raster cell apart: what rises and falls between is not counted.
    """
    lie, times, ground_known = _measured(way, local, elevation, night_factor)
    closed, said = _said_of_places(way.line, local, places)
    if not ground_known:
        said.append("Some of the ground on the way is unknown; its climb is not counted.")
    elif lie.steepest_deg >= STEEP_DEG:
        said.append(
            f"Steep ground on the way: {num(lie.steepest_deg, 0)}° between samples of the raster."
        )
    if elevation is not None:
        said.extend(_drops(way.line, local, elevation))
    return Walk(
        start=start,
        end=end,
        line=local.to_earth(way.line),
        lie=lie,
        times=times,
        detour=detour,
        closed=closed,
        cautions=tuple(said),
    )


def _measured(
    way: Way, local: LocalPlane, elevation: Elevation | None, night_factor: float
) -> tuple[WalkLie, WalkTimes, bool]:
    """How a way lies, how long it takes, and whether all of its ground is known."""
    along, heights = _profile(way, local, elevation)
    run, rise = np.diff(along), np.diff(heights)
    known = np.isfinite(rise)
    # Pieces that end together but for rounding have no slope of their own.
    slope = np.divide(rise, run, out=np.zeros_like(run), where=known & (run > SAME_SPOT_M))
    middle = (along[:-1] + along[1:]) / 2.0
    piece = np.searchsorted(way.piece_ends_m(), middle).clip(max=len(way.on_track) - 1)
    ease = np.where(np.array(way.on_track)[piece], 1.0, OFF_TRACK)
    walked = np.clip(slope, -STEEPEST_WALKED, STEEPEST_WALKED)
    there = float(np.sum(run / (walking_speed_m_per_minute(walked) * ease)))
    back = float(np.sum(run / (walking_speed_m_per_minute(-walked) * ease)))
    ground_known = bool(known.all())
    lie = WalkLie(
        distance_m=float(along[-1]),
        climb_m=float(rise[rise > 0.0].sum()) if ground_known else float("nan"),
        descent_m=float(-rise[rise < 0.0].sum()) if ground_known else float("nan"),
        on_track_m=way.on_track_m,
        steepest_deg=float(np.degrees(np.arctan(np.abs(slope))).max(initial=0.0)),
    )
    times = WalkTimes(there, back, there * night_factor, back * night_factor, RULE)
    return lie, times, ground_known


def _profile(way: Way, local: LocalPlane, elevation: Elevation | None) -> tuple[Floats, Floats]:
    """Distances along the way and ground heights there, about a raster cell apart."""
    import shapely

    total = float(way.line.length)
    step = 25.0 if elevation is None else float(elevation.cell_size_m)
    even = np.linspace(0.0, total, max(2, int(np.ceil(total / step)) + 1))
    along = np.unique(np.concatenate([even, way.piece_ends_m().clip(max=total)]))
    if elevation is None:
        return along, np.zeros_like(along)
    points = shapely.get_coordinates(shapely.line_interpolate_point(way.line, along))
    lat, lon = local.places(east_m=points[:, 0], north_m=points[:, 1])
    return along, np.asarray(elevation.height_at(lat=lat, lon=lon), dtype=np.float64)


def _said_of_places(
    line: LineString, local: LocalPlane, places: Sequence[Place]
) -> tuple[bool, list[str]]:
    """What the user's places hold against a way; whether it crosses closed land."""
    closed, said = False, []
    for place in places:
        name = place.name or f"a place of kind {place.kind}"
        shape = on_plane(local, place)
        note = f" Note: {place.note}" if place.note else ""
        if place.kind == "land" and place.access != "open" and shape.intersects(line):
            closed = closed or place.access == "closed"
            words = {
                "closed": "which is marked closed. Do not go that way without leave",
                "ask first": "which is marked ask first. Get leave before you go",
            }
            asked = words.get(place.access, "which has no word on access. Find out before you go")
            said.append(f"The way crosses {name}, {asked}.{note}")
        elif place.kind in ("water", "hazard"):
            away = float(shape.distance(line))
            if away <= BESIDE_M:
                where = "crosses" if away < 0.5 else f"passes within {length(away)} of"
                said.append(f"The way {where} {place.kind}: {name}.{note}")
    if places and not _all_named(line, local, places):
        said.append(
            "Your places file does not name all the land on this way. Find out whose it is."
        )
    return closed, said


def _all_named(line: LineString, local: LocalPlane, places: Sequence[Place]) -> bool:
    import shapely

    land = shapely.union_all([on_plane(local, p) for p in places if p.kind == "land"])
    return bool(shapely.buffer(land, 0.5).covers(line))


def _drops(line: LineString, local: LocalPlane, elevation: Elevation) -> list[str]:
    """Say the largest fall that the raster shows beside the way."""
    import shapely

    points = shapely.get_coordinates(line)
    lat, lon = local.places(east_m=points[:, 0], north_m=points[:, 1])
    worst = None
    try:
        for i in range(len(lat) - 1):
            drop = largest_drop(
                elevation,
                lat=float(lat[i]),
                lon=float(lon[i]),
                end_lat=float(lat[i + 1]),
                end_lon=float(lon[i + 1]),
                within_m=BESIDE_M,
                least_slope_deg=STEEP_DEG,
            )
            if drop is not None and (worst is None or drop.fall_m > worst.fall_m):
                worst = drop
    except TerrainError:
        return ["The ground along the way is not known well enough to look for drops."]
    if worst is None or worst.fall_m < LEAST_FALL_M:
        return []
    said = (
        f"Beside the way the ground falls {num(worst.fall_m, 0)} m over {num(worst.over_m, 0)} m; "
        "a true edge inside those cells is sharper."
    )
    return [said]
