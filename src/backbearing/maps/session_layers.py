"""The session on the map besides its stands, as plain data: walks, and where lights may be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.drawing.map_origin import MapOrigin
from backbearing.maps.layers import shaped

if TYPE_CHECKING:
    from backbearing.drawing.texts import Texts
    from backbearing.plan.lighting import BlindPatch, HiddenSpot, Lighting
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Walk


def session_layers(plan: Plan, texts: Texts) -> dict[str, Any] | None:
    """Walks and lights to draw; None where the plan has no session."""
    session = plan.session
    if session is None:
        return None
    origin = MapOrigin.of(plan)
    return {
        "walks": [_line(origin, walk) for walk in session.walks_in_order],
        "light": _light(origin, session.lighting, texts) if session.lighting else None,
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
