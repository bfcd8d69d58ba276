"""What a plan claims of its stands and stretches, held against raw geometry and a raw sky.

Nothing here goes through the solver, the package's astronomy or its terrain: distances are
pyproj's geodesics, directions Skyfield's, heights rasterio's, and the frame is worked out
from the formulas of the two projections.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from soak.behind import behind_contradictions
from soak.raw_ground import WGS84, RawGround
from soak.raw_sky import directions, moon_limb_deg, seen_altitude_deg

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint, Limit, Span, Stand

    Floats = np.ndarray[Any, np.dtype[np.float64]]

SKY_DEG: Final = 0.02
"""Delta T and polar motion of the far future differ by arcseconds, refraction by its inverse."""

SHARE: Final = 2e-4
PLACE_M: Final = 0.05
HEIGHT_M: Final = 0.05
RIDGE_DEG: Final = 0.08
"""The march here samples four times a cell and may pass a crest by."""

DATUM_M: Final = 6.0
"""So far apart may two ties of a national grid to WGS84 put a height's place."""

MOON_DOWN_DEG: Final = -0.5667
"""Altitude of a limb that is just on the horizon: 34 minutes of arc of refraction, as almanacs
have it (Explanatory Supplement to the Astronomical Almanac, 3rd ed., 2013, 12.1)."""

INSIDE: Final = dt.timedelta(seconds=5)
STEP: Final = dt.timedelta(minutes=1)
ARC_STEP: Final = dt.timedelta(minutes=2, seconds=1)


@dataclass(frozen=True)
class Looked:
    """An outing, its plan and its ground, looked at from outside."""

    outing: Outing
    plan: Plan
    ground: RawGround

    def target(self, times: Sequence[dt.datetime], stand: Stand | None = None) -> Any:
        """Azimuth and altitude as seen, from a stand or else from the subject."""
        at: Any = self.outing.subject if stand is None else stand
        high = self.plan.subject_ground_m
        azimuth, altitude = directions(
            self.outing.target, times, lat=at.lat, lon=at.lon, height_m=high
        )
        return azimuth, seen_altitude_deg(altitude, high)

    def too_light(self, times: Sequence[dt.datetime]) -> Iterator[str]:
        """Moments at which Sun or Moon are not where they were asked to be."""
        from backbearing.sky.targets import SUN

        night = self.outing.night
        here = {"lat": self.outing.subject.lat, "lon": self.outing.subject.lon}
        high = self.plan.subject_ground_m
        _, sun = directions(SUN, times, height_m=high, **here)
        if sun.max() > night.sun_below_deg + SKY_DEG:
            yield f"the Sun stands at {sun.max():.3f}, asked {night.sun_below_deg}"
        if night.moon == "down" and night.moon_adds_mag is None:
            if self.outing.target.body_name == "moon":
                return
            limb = moon_limb_deg(times, height_m=high, **here)
            if limb.max() > MOON_DOWN_DEG + SKY_DEG:
                yield f"the Moon's limb stands at {limb.max():.3f}"


def contradictions(looked: Looked) -> Iterator[str]:
    """Everything in a plan that raw geometry says otherwise of."""
    for lens_plan in looked.plan.lenses:
        name = lens_plan.lens.label
        share = lens_plan.asked_share
        for what, spans in (("works", lens_plan.usable), ("framed", lens_plan.framed)):
            for wrong in _of_spans(looked, lens_plan.arc, spans, dark=what == "works"):
                yield f"{name} {what}: {wrong}"
        for point in _some(lens_plan.arc):
            for wrong in _of_arc_point(looked, point):
                yield f"{name} arc {point.time:%H:%M}: {wrong}"
        stand = lens_plan.stand
        if stand is not None:
            claimed = any(span.start <= stand.time <= span.end for span in lens_plan.usable)
            for wrong in stand_contradictions(looked, stand, share, claimed=claimed):
                yield f"{name} at {stand.time:%H:%M:%S}: {wrong}"


def _of_spans(
    looked: Looked, arc: Sequence[ArcPoint], spans: Sequence[Span], *, dark: bool
) -> Iterator[str]:
    """A stretch bridges no gap in time, and all its minutes hold what it claims."""
    for before, after in itertools.pairwise(spans):
        if after.start < before.end:
            yield "stretches overlap"
    for span in spans:
        if span.end < span.start:
            yield "a stretch ends before it begins"
        within = [p.time for p in arc if span.start <= p.time <= span.end]
        steps = [b - a for a, b in itertools.pairwise((span.start, *within, span.end))]
        if max(steps) > ARC_STEP:
            yield f"bridges {max(steps)} without a look"
        spoils: set[Limit] = {
            limit
            for p in arc
            if span.start <= p.time <= span.end
            for limit in p.limits
            if dark or limit in ("frame", "no stand")
        }
        if spoils:
            yield f"leads over {sorted(spoils)}"
        minutes = int((span.end - span.start - 2 * INSIDE) / STEP)
        times = [span.start + INSIDE + i * STEP for i in range(minutes + 1)]
        if span.end - span.start > 2 * INSIDE:
            _, altitude = looked.target(times)
            if altitude.min() < -SKY_DEG:
                yield f"the target goes down to {altitude.min():.2f}"
            if dark:
                yield from looked.too_light(times)


def _some(arc: Sequence[ArcPoint]) -> Sequence[ArcPoint]:
    found = [point for point in arc if point.usable and math.isfinite(point.lat)]
    return found[:: max(1, len(found) // 2)][:3]


def _of_arc_point(looked: Looked, point: ArcPoint) -> Iterator[str]:
    subject = looked.outing.subject
    bearing, _, distance = WGS84.inv(point.lon, point.lat, subject.lon, subject.lat)
    if abs(distance - point.distance_m) > PLACE_M:
        yield f"stands {distance:.3f} m away, said {point.distance_m:.3f}"
    if _turn(bearing, point.bearing_deg) * distance > math.degrees(PLACE_M):
        yield f"bears {bearing:.3f}, said {point.bearing_deg:.3f}"
    if point.clearance_deg < looked.outing.night.clear_by_deg - SKY_DEG:
        yield f"clears by {point.clearance_deg:.3f}"


def stand_contradictions(
    looked: Looked, stand: Stand, share: float, *, claimed: bool
) -> Iterator[str]:
    """What is wrong with one stand's numbers and, when ``claimed``, with its being usable."""
    yield from _place(looked, stand)
    yield from _sky(looked, stand)
    yield from _frame(looked, stand, share)
    yield from _ridge(looked, stand)
    yield from _verdict(stand)
    yield from behind_contradictions(looked, stand, claimed=claimed)
    if not claimed:
        return
    if stand.target_altitude_deg < -SKY_DEG:
        yield "the target is down"
    if stand.clearance_deg < looked.outing.night.clear_by_deg - SKY_DEG:
        yield f"clears by {stand.clearance_deg:.3f} only"
    if not stand.in_frame:
        yield "the target is out of its place"
    yield from looked.too_light([stand.time])


def _place(looked: Looked, stand: Stand) -> Iterator[str]:
    subject = looked.outing.subject
    bearing, _, distance = WGS84.inv(stand.lon, stand.lat, subject.lon, subject.lat)
    if abs(distance - stand.distance_m) > PLACE_M:
        yield f"stands {distance:.3f} m away, said {stand.distance_m:.3f}"
    if _turn(bearing, stand.bearing_deg) * distance > math.degrees(PLACE_M):
        yield f"bears {bearing:.4f}, said {stand.bearing_deg:.4f}"
    if stand.position.ground_source != "raster":
        return
    off = np.array([0.0, 1.0, -1.0, 0.0, 0.0]) * (DATUM_M if looked.ground.shifted else 0.0)
    lats = stand.lat + off / 111_195.0
    lons = stand.lon + np.roll(off, 2) / (111_195.0 * math.cos(math.radians(stand.lat)))
    heights = looked.ground.heights_m(lats, lons)
    if not heights.min() - HEIGHT_M <= stand.ground_m <= heights.max() + HEIGHT_M:
        yield f"the ground lies at {heights[0]:.2f} m, said {stand.ground_m:.2f}"


def _sky(looked: Looked, stand: Stand) -> Iterator[str]:
    azimuth, altitude = looked.target([stand.time], stand)
    across = _turn(azimuth[0], stand.target_azimuth_deg) * math.cos(math.radians(altitude[0]))
    if across > SKY_DEG or abs(altitude[0] - stand.target_altitude_deg) > SKY_DEG:
        yield (
            f"the target stands at {azimuth[0]:.3f}, {altitude[0]:.3f}, said "
            f"{stand.target_azimuth_deg:.3f}, {stand.target_altitude_deg:.3f}"
        )
    off = (stand.target_azimuth_deg - stand.bearing_deg - looked.outing.framing.offset_deg) % 360.0
    if min(off, 360.0 - off) > SKY_DEG:
        yield f"the target stands {off:.3f} aside of where it was asked"


def _frame(looked: Looked, stand: Stand, asked: float) -> Iterator[str]:
    """Share, margin and the target's place, from the eye's and the subject's heights alone."""
    outing, framing, lens = looked.outing, looked.outing.framing, stand.lens
    subject, camera = outing.subject, outing.camera
    tall, wide = camera.sensor_height_mm, camera.sensor_width_mm
    if camera.orientation == "portrait":
        tall, wide = wide, tall
    eye = stand.ground_m + framing.eye_height_m
    away = stand.distance_m
    drop = (1.0 - outing.ground.refraction_k) * away**2 / (2.0 * 6_371_000.0)
    rise = looked.plan.subject_ground_m + subject.base_height_m - eye - drop
    base, top = (math.degrees(math.atan2(rise + up, away)) for up in (0.0, subject.height_m))
    pitch = 0.0
    if not framing.level:
        pitch = base - _angle_deg(lens, lens.rise_mm + (framing.base_margin - 0.5) * tall)
    low, high = (_up_mm(lens, altitude - pitch) for altitude in (base, top))
    share, margin = (high - low) / tall, (low - lens.rise_mm) / tall + 0.5
    if abs(share - stand.share) > SHARE or abs(margin - stand.base_margin) > SHARE:
        yield (
            f"share {share:.5f} and margin {margin:.5f}, said {stand.share:.5f} and "
            f"{stand.base_margin:.5f}"
        )
    across = _width_mm(looked, lens, rise, away, pitch) / wide
    if abs(across - stand.framing.share_width) > 5.0 * SHARE:
        yield f"share of the width {across:.5f}, said {stand.framing.share_width:.5f}"
    reached = across if framing.share_of == "width" else share
    if abs(reached - asked) > 5.0 * SHARE:
        yield f"share {reached:.5f}, asked {asked:.5f}"
    x, y = _in_frame(lens, stand.target_azimuth_deg - stand.bearing_deg,
                     stand.target_altitude_deg, pitch)  # fmt: skip
    x, y = x / wide + 0.5, (y - lens.rise_mm) / tall + 0.5
    if not math.isnan(x) and math.hypot(x - stand.target_x, y - stand.target_y) > 5.0 * SHARE:
        said = f"{stand.target_x:.4f}, {stand.target_y:.4f}"
        yield f"the target falls on {x:.4f}, {y:.4f}, said {said}"
    left, bottom, right, high_y = framing.target_box or (0.0, 0.0, 1.0, 1.0)
    edge = framing.edge_margin - SHARE
    inside = max(left, edge) <= x <= min(right, 1.0 - edge)
    inside = inside and max(bottom, edge) <= y <= min(high_y, 1.0 - edge)
    if framing.above_top_deg is not None:
        over = stand.target_altitude_deg - top - framing.above_top_deg
        inside = inside and abs(over) <= framing.play_deg + SHARE
    if stand.in_frame and not inside:
        yield f"said to be in its place, at {x:.4f}, {y:.4f}"


def _ridge(looked: Looked, stand: Stand) -> Iterator[str]:
    here = float(looked.ground.heights_m(np.array([stand.lat]), np.array([stand.lon]))[0])
    if not math.isfinite(here):
        return
    skyline, known = looked.ground.skyline_deg(
        lat=stand.lat,
        lon=stand.lon,
        azimuth_deg=stand.target_azimuth_deg,
        eye_m=max(here, stand.ground_m) + looked.outing.framing.eye_height_m,
        reach_m=looked.outing.ground.reach_m,
        k=looked.outing.ground.refraction_k,
    )
    if not known or looked.ground.shifted:
        return
    if not abs(skyline - stand.skyline_deg) <= RIDGE_DEG:
        yield f"the skyline stands at {skyline:.3f}, said {stand.skyline_deg:.3f}"
    said = stand.target_altitude_deg - stand.skyline_deg
    if abs(said - stand.clearance_deg) > 1e-9:
        yield f"clearance {stand.clearance_deg:.4f} is not {said:.4f}"


def _verdict(stand: Stand) -> Iterator[str]:
    """The word on the ridge is what docs/doubt.md makes of the numbers shown with it."""
    left, sigma = stand.clearance_deg - stand.clearance_bias_deg, stand.clearance_sigma_deg
    if not (math.isfinite(left) and math.isfinite(sigma)):
        word = "unknown"
    elif left > 2.5 * sigma:
        word = "clears"
    else:
        word = "hidden" if left < -2.0 * sigma else "too close to call"
    if word != stand.verdict:
        yield f"{left:.3f} over the ridge with a doubt of {sigma:.3f} is {stand.verdict}"
    if sigma < 0.0:
        yield f"a doubt of {sigma:.3f}"


def _up_mm(lens: Lens, angle_deg: float) -> float:
    angle, focal = math.radians(angle_deg), lens.focal_length_mm
    return focal * math.tan(angle) if lens.projection == "rectilinear" else (
        2.0 * focal * math.sin(angle / 2.0)
    )  # fmt: skip


def _angle_deg(lens: Lens, up_mm: float) -> float:
    ratio = up_mm / lens.focal_length_mm
    if lens.projection == "rectilinear":
        return math.degrees(math.atan(ratio))
    return math.degrees(2.0 * math.asin(ratio / 2.0))


def _in_frame(lens: Lens, turn_deg: float, altitude_deg: float, pitch_deg: float) -> Any:
    """Millimetres right and up of the axis: by the angle from the axis and the angle about it."""
    turn, altitude, pitch = (math.radians(v) for v in (turn_deg, altitude_deg, pitch_deg))
    axis = np.array([0.0, math.cos(pitch), math.sin(pitch)])
    above = np.array([0.0, -math.sin(pitch), math.cos(pitch)])
    ray = np.array([
        math.cos(altitude) * math.sin(turn), math.cos(altitude) * math.cos(turn),
        math.sin(altitude),
    ])  # fmt: skip
    off = math.atan2(float(np.linalg.norm(np.cross(axis, ray))), float(ray @ axis))
    if lens.projection == "rectilinear" and off >= math.pi / 2.0:
        return math.nan, math.nan
    radius, about = _up_mm(lens, math.degrees(off)), math.atan2(ray[0], float(ray @ above))
    return radius * math.sin(about), radius * math.cos(about)


def _width_mm(looked: Looked, lens: Lens, rise_m: float, away_m: float, pitch_deg: float) -> float:
    """From the leftmost to the rightmost of many points along the outline."""
    t = np.linspace(0.0, 1.0, 24)[:, None, None]
    sides = []
    for ring in looked.outing.subject.shape.rings:
        begin = np.asarray(ring, dtype=np.float64)
        sides.append((begin + t * (np.roll(begin, -1, axis=0) - begin)).reshape(-1, 2))
    x, up = np.concatenate(sides).T
    pitch = math.radians(pitch_deg)
    ahead = away_m * math.cos(pitch) + (rise_m + up) * math.sin(pitch)
    above = (rise_m + up) * math.cos(pitch) - away_m * math.sin(pitch)
    aside = np.hypot(x, above)
    off = np.arctan2(aside, ahead)
    if lens.projection == "rectilinear":
        radius = np.where(off < math.pi / 2.0, lens.focal_length_mm * np.tan(off), np.nan)
    else:
        radius = 2.0 * lens.focal_length_mm * np.sin(off / 2.0)
    found = radius * x / np.maximum(aside, 1e-12)
    return float(found.max() - found.min())


def _turn(one_deg: float, other_deg: float) -> float:
    return abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)
