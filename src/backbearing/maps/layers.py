"""What the page draws on the ground, as plain data: positions, lines and labels.

Everything is worked out when the page is written; the page's script only puts it on
the map. Text that comes from the user's files is passed as a number into
:class:`backbearing.drawing.texts.Texts`, and reaches the page through ``textContent`` alone.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.geodesy import point_along
from backbearing.base.numbers import rounded
from backbearing.base.units import METRIC
from backbearing.drawing.arcs import arc_runs
from backbearing.drawing.map_origin import MapOrigin
from backbearing.plan.turns import order_of, turn_of_each

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from backbearing.base.units import Units
    from backbearing.drawing.map_origin import Spot
    from backbearing.drawing.mercator import Floats
    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan, Stand

FAR_WEDGE_M = 4000.0
"""Length of a field of view on the map where no skyline point is known."""


def layers(plan: Plan, clock: WallClock, texts: Texts, units: Units = METRIC) -> dict[str, Any]:
    """Subject, lenses and the user's own places, to draw.

    Each lens is shown at the stand that ``plan`` gives it: of a session, pass the plan
    :func:`backbearing.plan.turns.as_planned`.
    """
    origin = MapOrigin.of(plan)
    turns = turn_of_each(plan)
    return {
        "subject": {
            "at": origin.spot(origin.lat, origin.lon),
            "name": texts.add(plan.subject.name),
            "footprint": origin.around(
                np.arange(0.0, 360.0, 5.0), plan.subject.shown_width_m / 2.0
            ),
        },
        "lenses": [
            _lens(origin, plan, lens, shot, clock, units)
            for lens, shot in zip(plan.lenses, turns, strict=True)
        ],
        "order": list(order_of(plan)),
        "places": [_place(origin, place, texts) for place in plan.places],
    }


def _lens(
    origin: MapOrigin, plan: Plan, lens: LensPlan, shot: Shot | None, clock: WallClock, units: Units
) -> dict[str, Any]:
    stand = lens.stand
    return {
        "label": lens.lens.label,
        "arc": arc_runs(origin, lens),
        "stand": _mark(stand, shot, clock, units) | _stand(origin, plan, stand) if stand else None,
    }


def _mark(stand: Stand, shot: Shot | None, clock: WallClock, units: Units) -> dict[str, Any]:
    """What stands at the mark: the turn and its frames, or the minute of a lens by itself."""
    far, at = units.length(stand.distance_m), clock.hm(stand.time)
    if shot is None:
        return {"number": None, "time": at, "from": at, "distance": far}
    start, end = clock.hm(shot.frames_start), clock.hm(shot.frames_end)
    return {"number": shot.number, "time": f"{start}–{end}", "from": start, "distance": far}


def _stand(origin: MapOrigin, plan: Plan, stand: Stand) -> dict[str, Any]:
    width_deg = plan.field_width_deg(stand.lens)
    known = math.isfinite(stand.skyline_lat) and math.isfinite(stand.skyline_lon)
    far = max(stand.skyline_distance_m if known else FAR_WEDGE_M, 4.0 * stand.distance_m)
    circle = point_along(
        lat=stand.lat,
        lon=stand.lon,
        azimuth_deg=np.arange(0.0, 360.0, 10.0),
        distance_m=stand.position_sigma_m,
    )
    return {
        "at": origin.spot(stand.lat, stand.lon),
        "back_deg": rounded(float(origin.to(stand.lat, stand.lon).azimuth_deg), 2),
        "bearing_deg": rounded(stand.bearing_deg, 3),
        "distance_m": rounded(stand.distance_m, 2),
        "wedge": _wedge(origin, stand, width_deg, far),
        "edges": _wedge(origin, stand, width_deg, 0.45 * stand.distance_m)[1::11],
        "sight": sight_line(origin, stand, far),
        "sigma": origin.spots(circle.lat, circle.lon),
        "skyline": origin.spot(stand.skyline_lat, stand.skyline_lon) if known else None,
        "skyline_m": rounded(stand.skyline_distance_m, 1) if known else None,
    }


def _wedge(origin: MapOrigin, stand: Stand, width_deg: float, far_m: float) -> list[Spot]:
    """The stand, then twelve points along the far edge of its field of view."""
    azimuths = stand.bearing_deg + np.linspace(-0.5, 0.5, 12) * width_deg
    end = point_along(lat=stand.lat, lon=stand.lon, azimuth_deg=azimuths, distance_m=far_m)
    return [origin.spot(stand.lat, stand.lon), *origin.spots(end.lat, end.lon)]


def sight_line(origin: MapOrigin, stand: Stand, far_m: float) -> list[Spot]:
    """The geodesic from the stand on the target's azimuth out to the skyline."""
    ways = np.concatenate([[0.0], np.geomspace(stand.distance_m, far_m, 9)])
    end = point_along(
        lat=stand.lat, lon=stand.lon, azimuth_deg=stand.target_azimuth_deg, distance_m=ways
    )
    return origin.spots(end.lat, end.lon)


def _place(origin: MapOrigin, place: Place, texts: Texts) -> dict[str, Any]:
    middle = place.geometry.representative_point()
    access = place.access if place.access in ("open", "ask first", "closed") else "unknown"
    return {
        "kind": place.kind,
        "access": access.replace(" ", "-"),
        "name": texts.add(place.name),
        "at": origin.spot(middle.y, middle.x),
        "shape": shaped(origin, place.geometry),
    }


def shaped(origin: MapOrigin, geometry: BaseGeometry) -> dict[str, Any]:
    """A lon/lat shape as GeoJSON on the subject's side of the antimeridian, to a centimetre."""
    from shapely import set_precision, transform
    from shapely.geometry import mapping

    def by_home(points: Floats) -> Floats:
        return np.column_stack([[origin.beside(lon) for lon in points[:, 0]], points[:, 1]])

    return mapping(transform(set_precision(geometry, 1e-7, mode="pointwise"), by_home))
