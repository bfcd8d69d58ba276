"""What the page draws on the ground, as plain data: positions, lines and labels.

Everything is worked out when the page is written; the page's script only puts it on
the map. Text that comes from the user's files is passed as a number into
:class:`backbearing.drawing.texts.Texts`, and reaches the page through ``textContent`` alone.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from backbearing.base.geodesy import point_along
from backbearing.camera.angles import field_of_view
from backbearing.drawing.home import Home

if TYPE_CHECKING:
    import datetime as dt

    from shapely.geometry.base import BaseGeometry

    from backbearing.drawing.clock import Clock
    from backbearing.drawing.home import Spot
    from backbearing.drawing.mercator import Floats
    from backbearing.drawing.texts import Texts
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint, LensPlan, Stand

Role = Literal["usable", "ridge", "frame", "sky", "unknown"]
"""How a stretch of arc is drawn."""

ROLE_OF_LIMIT: dict[str, Role] = {
    "unknown ground": "unknown",
    "no stand": "unknown",
    "ridge": "ridge",
    "horizon": "ridge",
    "frame": "frame",
    "twilight": "sky",
    "moon": "sky",
}
"""In order of precedence where several limits hold: the ground before the sky."""

ROLES: tuple[tuple[Role, str], ...] = (
    ("usable", "no limit found"),
    ("ridge", "the ridge hides it, or comes too near"),
    ("frame", "outside the frame"),
    ("sky", "twilight or Moon"),
    ("unknown", "ground unknown"),
)
"""Every role and what the key says of it."""

FAR_WEDGE_M = 4000.0
"""Length of a field of view on the map where no skyline point is known."""


def role_of(limits: tuple[str, ...]) -> Role:
    """How a minute with these limits is drawn."""
    for limit, role in ROLE_OF_LIMIT.items():
        if limit in limits:
            return role
    return "usable"


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


def placed(point: ArcPoint | Stand) -> bool:
    """Whether there is a place at all."""
    return math.isfinite(point.lat) and math.isfinite(point.lon)


def _lens(home: Home, plan: Plan, lens: LensPlan, clock: Clock) -> dict[str, Any]:
    return {
        "label": lens.lens.label,
        "arc": arc_runs(home, lens),
        "stand": _stand(home, plan, lens.stand, clock) if lens.stand else None,
    }


def _stand(home: Home, plan: Plan, stand: Stand, clock: Clock) -> dict[str, Any]:

    width_deg = field_of_view(plan.camera, stand.lens).horizontal_deg
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


def arc_runs(home: Home, lens: LensPlan) -> list[dict[str, Any]]:
    """A lens's arc cut into stretches of one role.

    A stretch reaches half-way to its neighbours, so that they meet where the role
    changes. Moments without a stand have no place and leave a gap.
    """
    runs: list[dict[str, Any]] = []
    before: ArcPoint | None = None
    for point in lens.arc:
        if not placed(point):
            before = None
            continue
        here = home.spot(point.lat, point.lon)
        role = role_of(point.limits)
        if before is None:
            runs.append({"role": role, "line": [here]})
        elif role_of(before.limits) == role:
            runs[-1]["line"].append(here)
        else:
            last = runs[-1]["line"][-1]
            half = [(last[0] + here[0]) / 2.0, (last[1] + here[1]) / 2.0]
            runs[-1]["line"].append(half)
            runs.append({"role": role, "line": [half, here]})
        before = point
    return runs


def at_time(lens: LensPlan, time: dt.datetime) -> tuple[float, float] | None:
    """Where a lens's arc stands at a moment, between its points; None off the arc."""
    for one, other in zip(lens.arc, lens.arc[1:], strict=False):
        if one.time <= time <= other.time:
            if not (placed(one) and placed(other)):
                return None
            part = (time - one.time) / (other.time - one.time)
            return (
                one.lat + part * (other.lat - one.lat),
                one.lon + part * (other.lon - one.lon),
            )
    return None


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
