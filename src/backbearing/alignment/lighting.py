"""Lights of a session: where one hides behind the subject, where one stands beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.barred import barred
from backbearing.alignment.blind_patch import Eye, Light, Screen, areas_only, blind_from
from backbearing.alignment.frame_ground import View
from backbearing.alignment.lighting_plan import (
    BlindPatch,
    InLaterFrame,
    Lighting,
    Room,
    SideLight,
)
from backbearing.alignment.local_map import LocalMap
from backbearing.text import compass_point, length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely import Point
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.plan import Place
    from backbearing.alignment.scene import Scene
    from backbearing.alignment.session_plan import Shot
    from backbearing.alignment.session_request import SessionRequest

    Floats = NDArray[np.float64]

PERSON_WIDTH_M: Final = 0.6
"""Shoulders, tripod and bag (common practice, no source)."""

SIDE_ANGLE_DEG: Final = 60.0
"""The angle off the camera's side that a side light is sought near (common practice)."""

NEAR_HEIGHTS: Final = 2.0
"""The hidden light is sought within so many subject heights where the patch reaches so near."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """The session on the local map."""

    scene: Scene
    local: LocalMap
    light: Light
    person_height_m: float
    reach_m: float
    names: tuple[str, ...]
    views: tuple[View, ...]

    def ground_at(self, east_m: Floats, north_m: Floats) -> Floats:
        """Ground height; the subject's own where the raster does not know."""
        level = self.scene.subject_ground_m
        if self.scene.elevation is None:
            return np.full(np.shape(east_m), level)
        lat, lon = self.local.places(east_m=east_m, north_m=north_m)
        known = np.asarray(self.scene.elevation.height_at(lat=lat, lon=lon), dtype=np.float64)
        # The raster's own height at the subject is the datum where the user set another.
        raster = float(self.scene.elevation.height_at(lat=self.local.lat, lon=self.local.lon))
        shift = level - raster if math.isfinite(raster) else 0.0
        return np.where(np.isfinite(known), known + shift, level)

    def towards_cameras(self) -> Floats:
        """Unit vector from the subject towards the middle of the stands."""
        eyes = np.array([[v.eye.east_m, v.eye.north_m] for v in self.views])
        ways = eyes / np.hypot(*eyes.T)[:, None]
        middle = ways.mean(axis=0)
        found: Floats = middle / np.hypot(*middle)
        return found


def light_session(
    scene: Scene, asked: SessionRequest, shots: Sequence[Shot], places: Sequence[Place]
) -> Lighting:
    """Find the blind patch, side lights, and what of earlier stands later frames would see."""
    stage = _stage(scene, asked, shots)
    blind = _blind(stage)
    frames = [
        v.ground_shown(stage.ground_at, reach_m=stage.reach_m, height_m=stage.person_height_m)
        for v in stage.views
    ]
    free = _out_of_frames(stage)
    sides = _side_lights(stage, free, places)
    shadows = _shadows(stage, sides)
    return Lighting(
        light_width_m=stage.light.width_m,
        light_height_m=stage.light.height_m,
        person_height_m=stage.person_height_m,
        blind=blind,
        out_of_frames=stage.local.to_earth(free),
        side_lights=sides,
        frames=tuple(
            (name, stage.local.to_earth(area))
            for name, area in zip(stage.names, frames, strict=True)
        ),
        shadows=tuple((name, stage.local.to_earth(area)) for name, _, area in shadows),
        in_later_frames=_in_later_frames(stage, shadows),
        notes=_notes(stage),
    )


def _stage(scene: Scene, asked: SessionRequest, shots: Sequence[Shot]) -> _Stage:
    local = LocalMap(scene.subject.lat, scene.subject.lon)
    views = []
    for shot in shots:
        east, north = local.metres(lat=shot.stand.lat, lon=shot.stand.lon)
        eye = Eye(float(east), float(north), shot.stand.ground_m + scene.framing.eye_height_m)
        views.append(
            View(eye, scene.camera, shot.lens, shot.stand.bearing_deg, shot.stand.pitch_deg)
        )
    return _Stage(
        scene=scene,
        local=local,
        light=Light(asked.light_width_m, asked.light_height_m),
        person_height_m=asked.person_height_m,
        reach_m=asked.light_reach_m,
        names=tuple(shot.lens.label for shot in shots),
        views=tuple(views),
    )


def _blind(stage: _Stage) -> BlindPatch:
    import shapely

    screen = Screen(stage.scene.subject)
    base = stage.scene.subject_ground_m + stage.scene.subject.base_height_m
    disk = shapely.Point(0.0, 0.0).buffer(stage.reach_m, quad_segs=64)
    own = [
        areas_only(
            blind_from(
                screen, stage.light, view.eye, base, stage.ground_at, stage.reach_m
            ).intersection(disk)
        )
        for view in stage.views
    ]
    common = areas_only(shapely.intersection_all(own))
    spot, room = _spot(stage, common)
    east, north = (spot.x, spot.y) if spot is not None else (math.nan, math.nan)
    lat, lon = (float(v) for v in stage.local.places(east_m=east, north_m=north))
    farthest = max((float(np.hypot(*xy)) for xy in shapely.get_coordinates(common)), default=0.0)
    rooms = _rooms(stage, common, own, (east, north)) if spot is not None else ()
    bearing = math.degrees(math.atan2(east, north)) % 360.0
    return BlindPatch(
        area=stage.local.to_earth(common),
        area_m2=float(common.area),
        reaches=farthest >= stage.reach_m * 0.999,
        reach_m=stage.reach_m,
        spot_lat=lat,
        spot_lon=lon,
        spot_distance_m=math.hypot(east, north),
        spot_bearing_deg=bearing,
        spot_room_m=room,
        room=rooms,
        from_stands=tuple(
            (name, stage.local.to_earth(area)) for name, area in zip(stage.names, own, strict=True)
        ),
        sentence=_blind_words(stage, common, own, math.hypot(east, north), bearing, rooms),
    )


def _spot(stage: _Stage, area: BaseGeometry) -> tuple[Point | None, float]:
    """Centre of the largest circle in the patch, near the subject if it reaches so near."""
    import shapely

    if area.is_empty:
        return None, math.nan
    near = area.intersection(
        shapely.Point(0.0, 0.0).buffer(NEAR_HEIGHTS * stage.scene.subject.height_m)
    )
    sought = near if near.area > 0.0 else area
    parts = [g for g in getattr(sought, "geoms", [sought]) if g.area > 0.0]
    circles = [shapely.maximum_inscribed_circle(part, tolerance=0.01) for part in parts]
    best = max(circles, key=lambda radius: radius.length)
    spot = shapely.Point(best.coords[0])
    return spot, float(spot.distance(area.boundary))


def _ways(stage: _Stage) -> dict[str, Floats]:
    nearer = stage.towards_cameras()
    left = np.array([nearer[1], -nearer[0]])
    return {"left": left, "right": -left, "nearer": nearer, "farther": -nearer}


def _rooms(
    stage: _Stage,
    area: BaseGeometry,
    own: Sequence[BaseGeometry],
    spot: tuple[float, float],
) -> tuple[Room, ...]:
    import shapely

    found = []
    start = np.array(spot)
    for name, way in _ways(stage).items():
        ray = shapely.LineString([start, start + way * 3.0 * stage.reach_m])
        pieces = shapely.get_parts(ray.intersection(area))
        first = min(pieces, key=lambda piece: piece.distance(shapely.Point(start)))
        metres = float(first.length)
        beyond = shapely.Point(start + way * (metres + 0.02))
        shows = [n for n, patch in zip(stage.names, own, strict=True) if not patch.covers(beyond)]
        cut = len(shows) == len(own) and float(np.hypot(beyond.x, beyond.y)) >= stage.reach_m
        found.append(Room(name, metres, "" if cut or not shows else shows[0]))
    return tuple(found)


def _blind_words(
    stage: _Stage,
    common: BaseGeometry,
    own: Sequence[BaseGeometry],
    distance: float,
    bearing: float,
    rooms: Sequence[Room],
) -> str:
    size = f"{stage.light.width_m:g} m wide and {stage.light.height_m:g} m high"
    if common.is_empty:
        none = [n for n, patch in zip(stage.names, own, strict=True) if patch.is_empty]
        if none:
            return f"A light {size} does not hide behind the subject from {', '.join(none)}."
        return (
            f"No spot hides a light {size} from all stands at once: the stands look past the "
            "subject from sides too far apart. Move the light between turns."
        )
    way = ", ".join(
        f"{length(room.metres)} {room.way}"
        + (f" (then {room.shows_from} sees it)" if room.shows_from else "")
        for room in rooms
    )
    return (
        f"A light {size} hides from every stand {length(distance)} from the subject on bearing "
        f"{bearing:.0f}° ({compass_point(bearing)}). It may be moved {way}."
    )


def _out_of_frames(stage: _Stage) -> BaseGeometry:
    import shapely

    seen = [
        v.ground_shown(stage.ground_at, reach_m=stage.reach_m, height_m=stage.light.height_m)
        for v in stage.views
    ]
    disk = shapely.Point(0.0, 0.0).buffer(stage.reach_m, quad_segs=32)
    return areas_only(disk.difference(shapely.union_all(seen)))


def _side_lights(
    stage: _Stage, free: BaseGeometry, places: Sequence[Place]
) -> tuple[SideLight, ...]:
    """The spot on each side that is nearest to the sought angle, near, and off barred land."""
    found = []
    for side, sign in (("left", -1.0), ("right", 1.0)):
        spot = _side_spot(stage, free, places, sign)
        if spot is not None:
            found.append(_side_light(stage, side, *spot))
    return tuple(found)


def _side_spot(
    stage: _Stage, free: BaseGeometry, places: Sequence[Place], sign: float
) -> tuple[float, float, float] | None:
    """East, north and angle; ``sign`` is +1 to the right as the cameras face the subject."""
    import shapely

    toward = stage.towards_cameras()
    # Facing the subject from the cameras, right is the way that left turned by half a turn.
    right = np.array([-toward[1], toward[0]])
    tall = stage.scene.subject.height_m
    angle, distance = np.meshgrid(
        np.radians(np.arange(20.0, 111.0, 2.5)), np.linspace(0.75 * tall, stage.reach_m, 60)
    )
    east = distance * (np.cos(angle) * toward[0] + sign * np.sin(angle) * right[0])
    north = distance * (np.cos(angle) * toward[1] + sign * np.sin(angle) * right[1])
    margin = free.buffer(-0.5)
    allowed = shapely.contains_xy(margin, east, north)
    lat, lon = stage.local.places(east_m=east, north_m=north)
    allowed &= ~barred(places, lat=lat, lon=lon)
    if not allowed.any():
        return None
    cost = np.abs(np.degrees(angle) - SIDE_ANGLE_DEG) / 15.0 + distance / (2.0 * tall)
    best = np.unravel_index(np.argmin(np.where(allowed, cost, np.inf)), cost.shape)
    return float(east[best]), float(north[best]), float(np.degrees(angle[best]))


def _side_light(stage: _Stage, side: str, east: float, north: float, angle_deg: float) -> SideLight:
    import shapely

    lat, lon = (float(v) for v in stage.local.places(east_m=east, north_m=north))
    distance, bearing = math.hypot(east, north), math.degrees(math.atan2(east, north)) % 360.0
    round_subject = shapely.Point(0.0, 0.0).buffer(stage.scene.subject.shown_width_m / 2.0)
    corridor = round_subject.union(
        shapely.Point(east, north).buffer(stage.light.width_m / 2.0)
    ).convex_hull
    inside = [
        name
        for name, view in zip(stage.names, stage.views, strict=True)
        if corridor.distance(shapely.Point(view.eye.east_m, view.eye.north_m))
        < PERSON_WIDTH_M / 2.0
    ]
    shadow = (
        f" A person at the {', '.join(inside)} stand throws a shadow on the subject."
        if inside
        else ""
    )
    return SideLight(
        side=side,
        lat=lat,
        lon=lon,
        distance_m=distance,
        bearing_deg=bearing,
        angle_deg=angle_deg,
        keep_clear=stage.local.to_earth(corridor),
        sentence=(
            f"To the {side}: {length(distance)} from the subject on bearing {bearing:.0f}° "
            f"({compass_point(bearing)}), {angle_deg:.0f}° off the cameras' side, out of every "
            f"frame by half a metre or more.{shadow}"
        ),
    )


def _shadows(stage: _Stage, sides: Sequence[SideLight]) -> list[tuple[str, int, BaseGeometry]]:
    """Shadow of a person at each stand thrown by each side light: name, stand, metres."""
    import shapely

    found: list[tuple[str, int, BaseGeometry]] = []
    for i, (name, view) in enumerate(zip(stage.names, stage.views, strict=True)):
        for side in sides:
            light = np.array(stage.local.metres(lat=side.lat, lon=side.lon))
            person = np.array([view.eye.east_m, view.eye.north_m])
            away = person - light
            apart = float(np.hypot(*away))
            way, tall = away / apart, stage.person_height_m
            # A lamp no higher than the person throws a shadow without end.
            over = stage.light.height_m - tall
            long = min(apart * tall / over, stage.reach_m) if over > 0.0 else stage.reach_m
            aside = np.array([way[1], -way[0]]) * PERSON_WIDTH_M / 2.0
            wide = aside * (apart + long) / apart
            end = person + way * long
            area = shapely.Polygon([person - aside, person + aside, end + wide, end - wide])
            found.append((f"{name}, light on the {side.side}", i, area))
    return found


def _in_later_frames(
    stage: _Stage, shadows: Sequence[tuple[str, int, BaseGeometry]]
) -> tuple[InLaterFrame, ...]:
    """Pairs of an earlier stand and a later frame that sees it, or its shadow."""
    found = []
    bare = [
        v.ground_shown(stage.ground_at, reach_m=stage.reach_m, height_m=0.0) for v in stage.views
    ]
    for later in range(1, len(stage.views)):
        view = stage.views[later]
        for earlier in range(later):
            eye = stage.views[earlier].eye
            names = stage.names[earlier], stage.names[later]
            if view.shows(
                stage.ground_at, eye.east_m, eye.north_m,
                height_m=stage.person_height_m, width_m=PERSON_WIDTH_M,
            ):  # fmt: skip
                found.append(
                    InLaterFrame(
                        *names,
                        "people and tripod",
                        f"Leave nothing and nobody at the {names[0]} stand: the {names[1]} frame "
                        "sees it.",
                    )
                )
            for name, stand, area in shadows:
                if stand == earlier and area.intersects(bare[later]):
                    found.append(
                        InLaterFrame(
                            *names,
                            "their shadow",
                            f"With the {name.split(', ')[1]}, anyone at the {names[0]} stand "
                            f"throws a shadow into the {names[1]} frame.",
                        )
                    )
    return tuple(found)


def _notes(stage: _Stage) -> tuple[str, ...]:
    return (
        (
            "The outline is taken as a flat screen turned to each camera, as wide from its base "
            "to the ground as at its base. Leaves and gaps let light through."
        ),
        "The ground behind the subject is the raster's: hollows and grass of its own do not show.",
        f"Nothing beyond {length(stage.reach_m)} from the subject was looked at.",
        "Ask before you light land, wildlife or other people's night.",
    )
