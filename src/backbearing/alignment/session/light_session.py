"""Lights of a session: where one hides behind the subject, where one stands beside it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.blind_patch import Screen, areas_only, blind_from_each
from backbearing.alignment.session.light_positions import Stage, stage_of
from backbearing.alignment.session.side_lights import (
    SHADOW,
    bare_ground,
    in_later_frames,
    out_of_frames,
    shadows_of,
    side_lights,
)
from backbearing.base.angles import azimuth_of
from backbearing.base.numbers import num
from backbearing.base.text import compass_point, length
from backbearing.plan.lighting import BlindPatch, InLaterFrame, Lighting, Room

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely import Point
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.place import Place
    from backbearing.plan.session import Shot

    Floats = NDArray[np.float64]

NEAR_HEIGHTS: Final = 2.0
"""The hidden light is sought within so many subject heights where the patch reaches so near."""


def light_session(
    scene: Scene, asked: SessionRequest, shots: Sequence[Shot], places: Sequence[Place]
) -> Lighting:
    """Find the blind patch, side lights, and what of earlier stands later frames would see."""
    stage = stage_of(scene, asked, shots)
    blind = _blind(stage)
    frames = [stage.shown(camera, stage.person_height_m) for camera in stage.cameras]
    free = out_of_frames(stage)
    bare = bare_ground(stage)
    sides = side_lights(stage, free, places, bare)
    shadows = shadows_of(stage, sides)
    seen = in_later_frames(stage, shadows, bare)
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
        in_later_frames=seen,
        later_sentence=_later_words(stage, seen),
        notes=_notes(stage),
    )


def _blind(stage: Stage) -> BlindPatch:
    import shapely

    screen = Screen(stage.scene.subject)
    base = stage.scene.subject_ground_m + stage.scene.subject.base_height_m
    disk = shapely.Point(0.0, 0.0).buffer(stage.reach_m, quad_segs=64)
    eyes = [camera.eye for camera in stage.cameras]
    patches = blind_from_each(screen, stage.light, eyes, base, stage.ground_at, stage.reach_m)
    own = [areas_only(patch.intersection(disk)) for patch in patches]
    common = areas_only(shapely.intersection_all(own))
    spot, room = _spot(stage, common, screen.foot_m)
    east, north = (spot.x, spot.y) if spot is not None else (math.nan, math.nan)
    lat, lon = (float(v) for v in stage.local.places(east_m=east, north_m=north))
    farthest = max((float(np.hypot(*xy)) for xy in shapely.get_coordinates(common)), default=0.0)
    rooms = _rooms(stage, common, own, (east, north)) if spot is not None else ()
    bearing = float(azimuth_of(east, north))
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


def _spot(stage: Stage, area: BaseGeometry, foot_m: float) -> tuple[Point | None, float]:
    """Centre of the largest circle in the patch, near the subject if it reaches so near.

    Clear of the subject itself, taken to be as deep as its base is wide, where the patch
    reaches farther.
    """
    import shapely

    if area.is_empty:
        return None, math.nan
    middle = shapely.Point(0.0, 0.0)
    own = middle.buffer(0.5 * (foot_m + stage.light.width_m))
    near = middle.buffer(NEAR_HEIGHTS * stage.scene.subject.height_m)
    tried = (area.intersection(near).difference(own), area.difference(own), area)
    sought = next(one for one in tried if one.area > 0.0)
    parts = [g for g in getattr(sought, "geoms", [sought]) if g.area > 0.0]
    circles = [shapely.maximum_inscribed_circle(part, tolerance=0.01) for part in parts]
    best = max(circles, key=lambda radius: radius.length)
    spot = shapely.Point(best.coords[0])
    return spot, float(spot.distance(area.boundary))


def _ways(stage: Stage) -> dict[str, Floats]:
    nearer = stage.towards_cameras()
    left = np.array([nearer[1], -nearer[0]])
    return {"left": left, "right": -left, "nearer": nearer, "farther": -nearer}


def _rooms(
    stage: Stage,
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
    stage: Stage,
    common: BaseGeometry,
    own: Sequence[BaseGeometry],
    distance: float,
    bearing: float,
    rooms: Sequence[Room],
) -> str:
    size = f"{num(stage.light.width_m)} m wide and {num(stage.light.height_m)} m high"
    if common.is_empty:
        none = [n for n, patch in zip(stage.names, own, strict=True) if patch.is_empty]
        if none:
            return f"A light {size} does not hide behind the subject from {', '.join(none)}."
        return (
            f"No spot hides a light {size} from all stands at once: the stands look past the "
            "subject from sides too far apart. Move the light between turns."
        )
    way = ", ".join(
        f"{_room(room.metres)} {room.way}"
        + (f" (then {room.shows_from} sees it)" if room.shows_from else "")
        for room in rooms
    )
    return (
        f"A light {size} hides from every stand {length(distance)} from the subject on bearing "
        f"{num(bearing, 0)}° ({compass_point(bearing)}). It may be moved {way}."
    )


def _room(metres: float) -> str:
    """A length that matters to the centimetre, rounded down."""
    return f"{math.floor(100.0 * metres):d} cm" if metres < 1.0 else length(metres)


def _later_words(stage: Stage, seen: Sequence[InLaterFrame]) -> str:
    if len(stage.cameras) < 2:
        return ""
    if seen:
        return " ".join([*_who_shows(stage, seen), *_whose_shadow_shows(stage, seen)])
    return (
        "Somebody who stayed at an earlier stand would show in no later frame, nor would the "
        "shadow that the side lights throw of them."
    )


def _who_shows(stage: Stage, seen: Sequence[InLaterFrame]) -> list[str]:
    """One sentence for all stands on which a later frame would see people or tripod."""
    stands = _by_frames(stage, [one for one in seen if one.what != SHADOW])
    if not stands:
        return []
    listed = "; ".join(f"{earlier} shows in {later}" for later, earlier in stands.items())
    return [f"Leave nothing and nobody behind: {listed}."]


def _whose_shadow_shows(stage: Stage, seen: Sequence[InLaterFrame]) -> list[str]:
    stands = _by_frames(stage, [one for one in seen if one.what == SHADOW])
    if not stands:
        return []
    listed = "; ".join(f"at {earlier} into {later}" for later, earlier in stands.items())
    return [f"With a side light on, shadows of people fall from where they stand: {listed}."]


def _by_frames(stage: Stage, seen: Sequence[InLaterFrame]) -> dict[str, str]:
    """From the frames in words to the stands that show in just those, in words."""
    found: dict[str, list[str]] = {}
    for earlier in dict.fromkeys(one.earlier for one in seen):
        later = list(dict.fromkeys(one.later for one in seen if one.earlier == earlier))
        found.setdefault(_frames(stage, earlier, later), []).append(earlier)
    return {
        frames: f"the {names[0]} stand" if len(names) == 1 else f"each stand of {', '.join(names)}"
        for frames, names in found.items()
    }


def _frames(stage: Stage, earlier: str, later: Sequence[str]) -> str:
    after = stage.names[stage.names.index(earlier) + 1 :]
    if len(later) == len(after) > 1:
        return "every later frame"
    return f"the {', '.join(later)} frame{'s' if len(later) > 1 else ''}"


def _notes(stage: Stage) -> tuple[str, ...]:
    return (
        (
            "The outline is taken as a flat screen turned to each camera, as wide from its base "
            "to the ground as at its base. Leaves and gaps let light through."
        ),
        "The ground behind the subject is the raster's: hollows and grass of its own do not show.",
        (
            f"People are taken as {num(stage.person_height_m)} m tall and their shadows to fall on "
            "level ground. The hidden light is behind the subject from every stand and throws none."
        ),
        f"Nothing beyond {length(stage.reach_m)} from the subject was looked at.",
        "Ask before you light land, wildlife or other people's night.",
    )
