"""The session on the map, as plain data: turns, walks, and where lights may be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.base.numbers import rounded
from backbearing.drawing.map_origin import MapOrigin
from backbearing.maps.layers import shaped

if TYPE_CHECKING:
    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.lighting import BlindPatch, HiddenSpot, Lighting
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot, Walk


def session_layers(plan: Plan, clock: WallClock, texts: Texts) -> dict[str, Any] | None:
    """Turns, walks and lights to draw; None where the plan has no session."""
    session = plan.session
    if session is None:
        return None
    origin = MapOrigin.of(plan)
    return {
        "turns": [_turn(origin, shot, clock) for shot in session.shots],
        "walks": [_line(origin, walk) for walk in session.walks_in_order],
        "light": _light(origin, session.lighting, texts) if session.lighting else None,
    }


def _turn(origin: MapOrigin, shot: Shot, clock: WallClock) -> dict[str, Any]:
    stand = shot.stand
    return {
        "number": shot.number,
        "label": stand.lens.label,
        "time": f"{clock.hm(shot.frames_start)}–{clock.hm(shot.frames_end)}",
        "at": origin.spot(stand.lat, stand.lon),
        "back_deg": rounded(float(origin.to(stand.lat, stand.lon).azimuth_deg), 2),
        "bearing_deg": rounded(stand.bearing_deg, 3),
        "distance_m": rounded(stand.distance_m, 2),
    }


def _line(origin: MapOrigin, walk: Walk) -> dict[str, Any]:
    lon, lat = zip(*[(x, y) for x, y, *_ in walk.line.coords], strict=True)
    return {"line": origin.spots(lat, lon), "closed": walk.closed}


def _light(origin: MapOrigin, lighting: Lighting, texts: Texts) -> dict[str, Any]:
    blind = lighting.blind
    return {
        "patch": None if blind.area.is_empty else shaped(origin, blind.area),
        "shadows": [shaped(origin, area) for area in lighting.earlier_shadows],
        "spots": [
            {"at": origin.spot(spot.lat, spot.lon), "name": texts.add(_spot_name(blind, spot))}
            for spot in blind.spots
        ],
        "sides": [
            {
                "at": origin.spot(side.lat, side.lon),
                "name": texts.add(f"light, {side.side}"),
                "keep_clear": None if side.keep_clear.is_empty else shaped(origin, side.keep_clear),
            }
            for side in lighting.side_lights
        ],
    }


def _spot_name(blind: BlindPatch, spot: HiddenSpot) -> str:
    """The hidden light's name on the map, with its turns where it is not for all."""
    if len(spot.lenses) == len(blind.from_stands):
        return "hidden light"
    return f"hidden light: {', '.join(spot.lenses)}"
