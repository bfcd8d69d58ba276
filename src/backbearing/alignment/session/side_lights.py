"""Lights beside the cameras, and what of earlier stands later frames would see."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.between_turns import PERSON_WIDTH_M
from backbearing.alignment.session.blind_patch import areas_only
from backbearing.base.angles import azimuth_of
from backbearing.base.numbers import num
from backbearing.base.text import compass_point, length
from backbearing.land.closed_ground import on_closed_ground
from backbearing.plan.lighting import InLaterFrame, SideLight

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.session.light_positions import Stage
    from backbearing.alignment.view.frame_ground import HeldCamera
    from backbearing.plan.place import Place

    Floats = NDArray[np.float64]

SHADOW: Final = "their shadow"
SIDE_ANGLE_DEG: Final = 60.0
"""The angle off the camera's side that a side light is sought near (common practice)."""


TRIED: Final = 400
"""So many spots of a side are tried, the best first, for one whose shadows do not show."""


def out_of_frames(stage: Stage, seen: Sequence[BaseGeometry]) -> BaseGeometry:
    """Ground within the reach on which the light shows in no frame, metres.

    ``seen`` is where it shows in each.
    """
    import shapely

    disk = shapely.Point(0.0, 0.0).buffer(stage.reach_m, quad_segs=32)
    return areas_only(disk.difference(shapely.union_all(list(seen))))


def side_lights(
    stage: Stage, free: BaseGeometry, places: Sequence[Place], bare: Sequence[BaseGeometry]
) -> tuple[SideLight, ...]:
    """The spot on each side that is nearest to the sought angle, near, and off closed ground.

    Where there is one, a spot from which the shadow of a person at any stand stays off the
    ground that later frames show.
    """
    import shapely

    later = [shapely.union_all(bare[i + 1 :]) for i in range(len(bare))]
    for ground in later:
        shapely.prepare(ground)
    found = []
    for side, sign in (("left", -1.0), ("right", 1.0)):
        spot = _side_spot(stage, free, places, sign, later)
        if spot is not None:
            found.append(_side_light(stage, side, *spot))
    return tuple(found)


def _side_spot(
    stage: Stage,
    free: BaseGeometry,
    places: Sequence[Place],
    sign: float,
    later: Sequence[BaseGeometry],
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
    allowed &= ~on_closed_ground(places, lat=lat, lon=lon)
    if not allowed.any():
        return None
    cost = np.abs(np.degrees(angle) - SIDE_ANGLE_DEG) / 15.0 + distance / (2.0 * tall)
    order = np.argsort(np.where(allowed, cost, np.inf), axis=None)[: min(TRIED, allowed.sum())]
    tried = np.column_stack([east.flat[order], north.flat[order]])
    clear = np.flatnonzero(~_shadows_show(stage, tried, later))
    best = order[clear[0] if clear.size else 0]
    return float(east.flat[best]), float(north.flat[best]), float(np.degrees(angle.flat[best]))


def _shadows_show(stage: Stage, lights: Floats, later: Sequence[BaseGeometry]) -> NDArray[np.bool_]:
    """Whether from lights at n spots, (n, 2), a shadow falls where a later frame sees it."""
    import shapely

    shows = np.zeros(len(lights), dtype=np.bool_)
    for camera, ground in zip(stage.cameras, later, strict=True):
        if not ground.is_empty and not shows.all():
            shadows = _shadows(stage, camera, lights[~shows])
            shows[~shows] = shapely.intersects(ground, shadows)
    return shows


def _side_light(stage: Stage, side: str, east: float, north: float, angle_deg: float) -> SideLight:
    import shapely

    lat, lon = (float(v) for v in stage.local.places(east_m=east, north_m=north))
    distance, bearing = math.hypot(east, north), float(azimuth_of(east, north))
    round_subject = shapely.Point(0.0, 0.0).buffer(stage.scene.subject.shown_width_m / 2.0)
    corridor = round_subject.union(
        shapely.Point(east, north).buffer(stage.light.width_m / 2.0)
    ).convex_hull
    inside = [
        name
        for name, camera in zip(stage.names, stage.cameras, strict=True)
        if corridor.distance(shapely.Point(camera.eye.east_m, camera.eye.north_m))
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
            f"To the {side}: {length(distance)} from the subject on bearing {num(bearing, 0)}° "
            f"({compass_point(bearing)}), {num(angle_deg, 0)}° off the cameras' side, out of every "
            f"frame by half a metre or more.{shadow}"
        ),
    )


def shadows_of(stage: Stage, sides: Sequence[SideLight]) -> list[tuple[str, int, BaseGeometry]]:
    """Shadow of a person at each stand thrown by each side light: name, stand, metres."""
    found: list[tuple[str, int, BaseGeometry]] = []
    for i, (name, camera) in enumerate(zip(stage.names, stage.cameras, strict=True)):
        for side in sides:
            light = np.array(stage.local.metres(lat=side.lat, lon=side.lon))
            shadow = _shadows(stage, camera, light[None, :])[0]
            found.append((f"{name}, light on the {side.side}", i, shadow))
    return found


def _shadows(stage: Stage, camera: HeldCamera, lights: Floats) -> NDArray[np.object_]:
    """Shadows on level ground of a person at a stand, thrown by lights at n spots, (n, 2)."""
    import shapely

    person = np.array([camera.eye.east_m, camera.eye.north_m])
    away = person - lights
    apart = np.hypot(away[:, :1], away[:, 1:])
    way, tall = away / apart, stage.person_height_m
    # A lamp no higher than the person throws a shadow without end.
    over = stage.light.height_m - tall
    long = np.minimum(apart * tall / over if over > 0.0 else np.inf, stage.reach_m)
    aside = np.column_stack([way[:, 1], -way[:, 0]]) * PERSON_WIDTH_M / 2.0
    wide = aside * (apart + long) / apart
    end = person + way * long
    corners = np.stack([person - aside, person + aside, end + wide, end - wide], axis=1)
    return np.asarray(shapely.polygons(corners))


def in_later_frames(
    stage: Stage,
    shadows: Sequence[tuple[str, int, BaseGeometry]],
    bare: Sequence[BaseGeometry],
) -> tuple[InLaterFrame, ...]:
    """Pairs of an earlier stand and a later frame that sees it, or its shadow."""
    found = []
    for later in range(1, len(stage.cameras)):
        camera = stage.cameras[later]
        for earlier in range(later):
            eye = stage.cameras[earlier].eye
            names = stage.names[earlier], stage.names[later]
            if camera.shows(
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
                            SHADOW,
                            f"With the {name.split(', ')[1]}, anyone at the {names[0]} stand "
                            f"throws a shadow into the {names[1]} frame.",
                        )
                    )
    return tuple(found)
