"""Lights of a session: where one hides behind the subject, where one stands beside it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.session.blind_patch import Screen, areas_only, blind_from_each
from backbearing.alignment.session.hidden_spots import barred_ground, hidden_spots
from backbearing.alignment.session.light_positions import Stage, stage_of
from backbearing.alignment.session.side_lights import (
    SHADOW,
    in_later_frames,
    out_of_frames,
    shadows_of,
    side_lights,
)
from backbearing.base.numbers import num
from backbearing.base.text import compass_point, length
from backbearing.plan.lighting import BlindPatch, HiddenSpot, InLaterFrame, Lighting, Room

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.session.light_positions import Placed
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.place import Place

    Floats = NDArray[np.float64]


def light_session(
    scene: Scene, asked: SessionRequest, shots: Sequence[Placed], places: Sequence[Place]
) -> Lighting:
    """Find the blind patch, side lights, and what of earlier stands later frames would see."""
    stage = stage_of(scene, asked, shots)
    blind = _blind(stage, places)
    heights = stage.person_height_m, stage.light.height_m, 0.0
    shown = [stage.shown(camera, heights) for camera in stage.cameras]
    frames, lit, bare = zip(*shown, strict=True)
    free = out_of_frames(stage, lit)
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


def _blind(stage: Stage, places: Sequence[Place]) -> BlindPatch:
    import shapely

    screen = Screen(stage.scene.subject)
    base = stage.scene.subject_ground_m + stage.scene.subject.base_height_m
    disk = shapely.Point(0.0, 0.0).buffer(stage.reach_m, quad_segs=64)
    eyes = [camera.eye for camera in stage.cameras]
    patches = blind_from_each(screen, stage.light, eyes, base, stage.ground_at, stage.reach_m)
    own = [areas_only(patch.intersection(disk)) for patch in patches]
    barred = barred_ground(stage, places, screen.foot_m)
    grounds = [areas_only(patch.difference(barred)) for patch in own]
    common = areas_only(shapely.intersection_all(grounds))
    spots = hidden_spots(stage, grounds)
    to_all = spots[0] if spots and spots[0].lenses == stage.names else None
    farthest = max((float(np.hypot(*xy)) for xy in shapely.get_coordinates(common)), default=0.0)
    rooms = _rooms(stage, common, own, to_all) if to_all is not None else ()
    return BlindPatch(
        area=stage.local.to_earth(common),
        area_m2=float(common.area),
        reaches=farthest >= stage.reach_m * 0.999,
        reach_m=stage.reach_m,
        spot_lat=math.nan if to_all is None else to_all.lat,
        spot_lon=math.nan if to_all is None else to_all.lon,
        spot_distance_m=math.nan if to_all is None else to_all.distance_m,
        spot_bearing_deg=math.nan if to_all is None else to_all.bearing_deg,
        spot_room_m=math.nan if to_all is None else to_all.room_m,
        room=rooms,
        from_stands=tuple(
            (name, stage.local.to_earth(area)) for name, area in zip(stage.names, own, strict=True)
        ),
        spots=spots,
        sentence=_blind_words(stage, spots, rooms),
    )


def _ways(stage: Stage) -> dict[str, Floats]:
    nearer = stage.towards_cameras()
    left = np.array([nearer[1], -nearer[0]])
    return {"left": left, "right": -left, "nearer": nearer, "farther": -nearer}


def _rooms(
    stage: Stage, area: BaseGeometry, own: Sequence[BaseGeometry], spot: HiddenSpot
) -> tuple[Room, ...]:
    import shapely

    found = []
    start = np.array(stage.local.metres(lat=spot.lat, lon=spot.lon))
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


def _blind_words(stage: Stage, spots: Sequence[HiddenSpot], rooms: Sequence[Room]) -> str:
    size = f"{num(stage.light.width_m)} m wide and {num(stage.light.height_m)} m high"
    served = [name for spot in spots for name in spot.lenses]
    none = ", ".join(name for name in stage.names if name not in served)
    if not spots:
        return f"A light {size} does not hide behind the subject from {none}."
    if rooms:
        way = ", ".join(
            f"{_room(room.metres)} {room.way}"
            + (f" (then {room.shows_from} sees it)" if room.shows_from else "")
            for room in rooms
        )
        return f"A light {size} hides from every stand {_where(spots[0])}. It may be moved {way}."
    each = "; ".join(
        f"for {', '.join(spot.lenses)} {_where(spot)}, with {_room(spot.room_m)} to every side"
        for spot in spots
    )
    moved = "move it between turns" if len(spots) > 1 else "leave it dark for the others"
    left = f" It hides nowhere from {none}." if none else ""
    return f"No spot hides a light {size} from all stands: {moved}. It hides {each}.{left}"


def _where(spot: HiddenSpot) -> str:
    way = f"{num(spot.bearing_deg, 0)}° ({compass_point(spot.bearing_deg)})"
    return f"{length(spot.distance_m)} from the subject on bearing {way}"


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
        (
            "A light is put no nearer to the subject than a hand's breadth beside its base, and "
            "not on closed ground, water or ground of unknown height."
        ),
        f"Nothing beyond {length(stage.reach_m)} from the subject was looked at.",
        "Ask before you light land, wildlife or other people's night.",
    )
