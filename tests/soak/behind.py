"""Whether a target stands behind the subject itself, from the sight line and the outline alone."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from shapely.geometry import LinearRing, Point, Polygon

from soak.raw_ground import WGS84

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from backbearing.plan.session import Shot
    from backbearing.plan.stand import Stand
    from soak.claims import Looked

NEAR_DEG: Final = 0.03
"""So near to an edge, as seen, either answer may be given."""


def behind_contradictions(looked: Looked, stand: Stand, *, claimed: bool) -> Iterator[str]:
    """What is wrong with a stand's word on it, and with its being usable when it is behind."""
    room = room_m(looked, stand, stand.target_azimuth_deg, stand.target_altitude_deg)
    near = _near_m(stand)
    if room < -near and claimed and not _asked(looked):
        yield f"the target stands {-room:.2f} m within the subject's outline, which nobody asked"
    if room < -near and not stand.behind_subject:
        yield f"the target stands {-room:.2f} m within the outline, said to be free of it"
    # A gap that is narrower than the play counts as closed: only beyond the outermost points
    # is nothing before the target whatever the play.
    if stand.behind_subject and _beyond(looked, stand, near):
        yield f"the target stands {room:.2f} m off the outline, said to be behind it"


def frames_behind(looked: Looked, shot: Shot) -> Iterator[str]:
    """While a turn's frames run from one stand the subject never comes before the target."""
    if _asked(looked):
        return
    times: list[dt.datetime] = [shot.frames_start, shot.frames_end]
    azimuth, altitude = looked.target(times, shot.stand)
    for time, turn, up in zip(times, azimuth, altitude, strict=True):
        room = room_m(looked, shot.stand, turn, up)
        if room < -_near_m(shot.stand):
            yield f"at {time:%H:%M:%S} the target is {-room:.2f} m within the subject's outline"


def room_m(looked: Looked, stand: Stand, azimuth_deg: float, altitude_deg: float) -> float:
    """Metres, at the subject, from a sight line to the outline; negative within it."""
    place = _in_plane(looked, stand, azimuth_deg, altitude_deg)
    if place is None:
        return math.inf
    across, up = place
    shape = looked.outing.subject.shape
    outer, *inner = shape.rings
    area = Polygon(outer, inner)
    if not area.is_valid:
        area = area.buffer(0.0)
    left, low, right, _ = area.bounds
    if up <= low:
        # What lies below the visible base, between its sides, hides as well.
        return max(left - across, across - right)
    point = Point(across, up)
    edges = area.boundary.distance(point)
    return -edges if area.contains(point) else edges


def _in_plane(
    looked: Looked, stand: Stand, azimuth_deg: float, altitude_deg: float
) -> tuple[float, float] | None:
    outing = looked.outing
    _, _, away = WGS84.inv(stand.lon, stand.lat, outing.subject.lon, outing.subject.lat)
    bearing, _, _ = WGS84.inv(stand.lon, stand.lat, outing.subject.lon, outing.subject.lat)
    turn = math.radians((azimuth_deg - bearing + 180.0) % 360.0 - 180.0)
    if math.cos(turn) <= 0.0:
        return None
    eye = stand.ground_m + outing.framing.eye_height_m
    drop = (1.0 - outing.ground.refraction_k) * away**2 / (2.0 * 6_371_000.0)
    base = looked.plan.subject_ground_m + outing.subject.base_height_m - eye - drop
    up = away / math.cos(turn) * math.tan(math.radians(altitude_deg)) - base
    return away * math.tan(turn), up


def _beyond(looked: Looked, stand: Stand, near: float) -> bool:
    place = _in_plane(looked, stand, stand.target_azimuth_deg, stand.target_altitude_deg)
    if place is None:
        return True
    across, up = place
    left, _, right, top = LinearRing(looked.outing.subject.shape.rings[0]).bounds
    return across < left - near or across > right + near or up > top + near


def _near_m(stand: Stand) -> float:
    slant = stand.distance_m / math.cos(math.radians(min(stand.target_altitude_deg, 85.0)))
    return 0.02 + slant * math.radians(NEAR_DEG)


def _asked(looked: Looked) -> bool:
    framing = looked.outing.framing
    above = framing.above_top_deg
    return framing.behind_subject or (above is not None and above < 0.0)
