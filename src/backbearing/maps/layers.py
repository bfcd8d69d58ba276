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
from backbearing.drawing.arcs import arc_runs
from backbearing.drawing.home import Home

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from backbearing.drawing.clock import Clock
    from backbearing.drawing.home import Spot
    from backbearing.drawing.mercator import Floats
    from backbearing.drawing.texts import Texts
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand

FAR_WEDGE_M = 4000.0
"""Length of a field of view on the map where no skyline point is known."""


def layers(plan: Plan, clock: Clock, texts: Texts) -> dict[str, Any]:
    """Subject, lenses and the user's own places, to draw."""
    home = Home.of(plan)
    return {
        "subject": {
            "at": home.spot(home.lat, home.lon),
            "name": texts.add(plan.subject.name),
            "footprint": home.around(np.arange(0.0, 360.0, 5.0), plan.subject.shown_width_m / 2.0),
        },
        "lenses": [_lens(home, plan, lens, clock) for lens in plan.lenses],
        "places": [_place(home, place, texts) for place in plan.places],
    }


def _lens(home: Home, plan: Plan, lens: LensPlan, clock: Clock) -> dict[str, Any]:
    return {
        "label": lens.lens.label,
        "arc": arc_runs(home, lens),
        "stand": _stand(home, plan, lens.stand, clock) if lens.stand else None,
    }


def _stand(home: Home, plan: Plan, stand: Stand, clock: Clock) -> dict[str, Any]:

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
        "at": home.spot(stand.lat, stand.lon),
        "time": clock.hm(stand.time),
        "back_deg": round(float(home.to(stand.lat, stand.lon).azimuth_deg), 2),
        "bearing_deg": round(stand.bearing_deg, 3),
        "distance_m": round(stand.distance_m, 2),
        "wedge": _wedge(home, stand, width_deg, far),
        "edges": _wedge(home, stand, width_deg, 0.45 * stand.distance_m)[1::11],
        "sight": sight_line(home, stand, far),
        "sigma": home.spots(circle.lat, circle.lon),
        "skyline": home.spot(stand.skyline_lat, stand.skyline_lon) if known else None,
        "skyline_m": round(stand.skyline_distance_m, 1) if known else None,
    }


def _wedge(home: Home, stand: Stand, width_deg: float, far_m: float) -> list[Spot]:
    """The stand, then twelve points along the far edge of its field of view."""
    azimuths = stand.bearing_deg + np.linspace(-0.5, 0.5, 12) * width_deg
    end = point_along(lat=stand.lat, lon=stand.lon, azimuth_deg=azimuths, distance_m=far_m)
    return [home.spot(stand.lat, stand.lon), *home.spots(end.lat, end.lon)]


def sight_line(home: Home, stand: Stand, far_m: float) -> list[Spot]:
    """The geodesic from the stand on the target's azimuth out to the skyline."""
    ways = np.concatenate([[0.0], np.geomspace(stand.distance_m, far_m, 9)])
    end = point_along(
        lat=stand.lat, lon=stand.lon, azimuth_deg=stand.target_azimuth_deg, distance_m=ways
    )
    return home.spots(end.lat, end.lon)


def _place(home: Home, place: Place, texts: Texts) -> dict[str, Any]:
    middle = place.geometry.representative_point()
    access = place.access if place.access in ("open", "ask first", "closed") else "unknown"
    return {
        "kind": place.kind,
        "access": access.replace(" ", "-"),
        "name": texts.add(place.name),
        "at": home.spot(middle.y, middle.x),
        "shape": shaped(home, place.geometry),
    }


def shaped(home: Home, geometry: BaseGeometry) -> dict[str, Any]:
    """A lon/lat shape as GeoJSON on the subject's side of the antimeridian, to a centimetre."""
    from shapely import set_precision, transform
    from shapely.geometry import mapping

    def by_home(points: Floats) -> Floats:
        return np.column_stack([[home.beside(lon) for lon in points[:, 0]], points[:, 1]])

    return mapping(transform(set_precision(geometry, 1e-7, mode="pointwise"), by_home))
