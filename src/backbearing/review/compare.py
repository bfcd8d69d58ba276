"""Set one frame's EXIF beside the plan: its lens and turn, exposure, clock and place."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from backbearing.base.geodesy import line_between
from backbearing.base.numbers import num, per_cent
from backbearing.base.text import compass_point, length
from backbearing.camera.framing import Frame
from backbearing.plan.turns import at_turns, turn_of_each
from backbearing.review.report import Beside, PlaceOff, PlannedTurn
from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import ArcPoint, LensPlan
    from backbearing.review.exif import FrameExif

SAME_LENS: Final = 0.05
"""A frame belongs to a lens whose focal length is within five percent of its own: makers
round marked focal lengths by so much (common practice, no source)."""

SAME_SHAPE: Final = 0.01
_ARC_STEP: Final = dt.timedelta(minutes=2)
_FULL_DIAGONAL_MM: Final = math.hypot(36.0, 24.0)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A lens of the plan at its turn, if it has one."""

    lens_plan: LensPlan
    shot: Shot | None


def candidates(plan: Plan) -> tuple[Candidate, ...]:
    """All lenses of a plan, each at its turn."""
    pairs = zip(at_turns(plan).lenses, turn_of_each(plan), strict=True)
    return tuple(Candidate(lens, shot) for lens, shot in pairs)


def focal_length_mm(exif: FrameExif, given_mm: float, camera: Camera) -> float:
    """Focal length of a frame: its own, the user's, or worked back from the 135 equivalent.

    The equivalent counts by the frame's diagonal [CIPA-DC-008]_.
    """
    if math.isfinite(exif.focal_length_mm):
        return exif.focal_length_mm
    if math.isfinite(given_mm):
        return given_mm
    return exif.focal_length_135_mm * camera.frame_diagonal_mm / _FULL_DIAGONAL_MM


def find_candidate(
    found: tuple[Candidate, ...], focal_mm: float, time: dt.datetime | None
) -> Candidate | None:
    """The lens of the plan that a frame was taken with; among equals the nearest in time.

    Without a focal length a frame belongs to the turn that holds its time.
    """
    with_stand = [one for one in found if one.lens_plan.stand is not None]
    if math.isnan(focal_mm):
        return next((c for c in with_stand if c.shot and _late_minutes(c, time) == 0.0), None)
    near = [c for c in with_stand if _apart(c, focal_mm) <= SAME_LENS]
    if not near:
        return None
    least = min(_apart(c, focal_mm) for c in near)
    equal = [c for c in near if _apart(c, focal_mm) <= least + 1e-9]
    return min(equal, key=lambda c: _or_zero(abs(_late_minutes(c, time))))


def _apart(one: Candidate, focal_mm: float) -> float:
    return abs(focal_mm / one.lens_plan.lens.focal_length_mm - 1.0)


def _or_zero(value: float) -> float:
    return value if math.isfinite(value) else 0.0


def _span(one: Candidate, time: dt.datetime | None) -> tuple[dt.datetime, dt.datetime] | None:
    """The turn's frames, or the usable stretch nearest to a time."""
    if one.shot is not None:
        return one.shot.frames_start, one.shot.frames_end
    spans = [(span.start, span.end) for span in one.lens_plan.usable]
    if not spans:
        return None
    moment = time or (one.lens_plan.stand.time if one.lens_plan.stand else spans[0][0])
    return min(spans, key=lambda s: max((s[0] - moment), (moment - s[1]), dt.timedelta()))


def _late_minutes(one: Candidate, time: dt.datetime | None) -> float:
    span = _span(one, time)
    if span is None or time is None:
        return math.nan
    if time < span[0]:
        return (time - span[0]).total_seconds() / 60.0
    return max(0.0, (time - span[1]).total_seconds() / 60.0)


def planned_turn(plan: Plan, one: Candidate, time: dt.datetime | None) -> PlannedTurn:
    """Say where a frame belongs, and where the plan points the lens at its time."""
    stand = one.lens_plan.stand
    assert stand is not None  # noqa: S101  # find_candidate gives only lenses with a stand
    span, late = _span(one, time), _late_minutes(one, time)
    point = _arc_point(one, time) if late else None
    pitch = stand.pitch_deg if point is None else point.pitch_deg
    azimuth = stand.bearing_deg if point is None else point.bearing_deg
    x, y = _target(plan, one, pitch, azimuth, time)
    return PlannedTurn(
        lens=one.lens_plan.lens.label,
        turn=one.shot.number if one.shot else None,
        frames_start=span[0] if span else None,
        frames_end=span[1] if span else None,
        late_minutes=late,
        stand_lat=stand.lat,
        stand_lon=stand.lon,
        pitch_deg=pitch,
        azimuth_deg=azimuth,
        target_x=x,
        target_y=y,
        sentence=_turn_sentence(one, late, moved=point is not None) + _target_sentence(plan, x, y),
    )


def _arc_point(one: Candidate, time: dt.datetime | None) -> ArcPoint | None:
    """The lens's arc at a time outside its turn, where it would point otherwise."""
    if time is None:
        return None
    known = [p for p in one.lens_plan.arc if math.isfinite(p.pitch_deg)]
    best = min(known, key=lambda p: abs(p.time - time), default=None)
    return best if best is not None and abs(best.time - time) <= _ARC_STEP else None


def _turn_sentence(one: Candidate, late: float, *, moved: bool) -> str:
    what = f"turn {one.shot.number}" if one.shot else "a stretch that works"
    label = one.lens_plan.lens.label
    if math.isnan(late):
        return f"{label}, no time to place it in the night by."
    if late == 0.0:
        return f"{label}, in {what}."
    side = "after" if late > 0.0 else "before"
    much = f"{num(abs(late), 0)} min" if abs(late) < 600.0 else f"{num(abs(late) / 1440.0, 1)} days"
    whose = "its end" if late > 0.0 else "its start"
    aim = "; the pointing is that of the lens's arc at this time" if moved else ""
    return f"{label}, {much} {side} {whose} of {what}{aim}."


def _target_sentence(plan: Plan, x: float, y: float) -> str:
    if not (math.isfinite(x) and math.isfinite(y)):
        return ""
    there = f"{per_cent(x)} from the left and {per_cent(y)} from the bottom"
    name = plan.target.name
    if 0.0 <= x <= 1.0 and 0.0 <= y <= 1.0:
        return f" {name} then stands {there} of the planned frame."
    return f" {name} is then out of the planned frame."


def _target(
    plan: Plan, one: Candidate, pitch_deg: float, azimuth_deg: float, time: dt.datetime | None
) -> tuple[float, float]:
    """Where the target falls in the planned frame at a time, seen from the planned stand."""
    stand = one.lens_plan.stand
    if time is None or stand is None or abs(time - stand.time) > dt.timedelta(days=3):
        return math.nan, math.nan

    height = stand.ground_m if math.isfinite(stand.ground_m) else plan.subject_ground_m
    azimuth, altitude = direction(
        plan.target, lat=stand.lat, lon=stand.lon, height_m=height, times=[time]
    )
    frame = Frame(plan.camera, one.lens_plan.lens, pitch_deg, azimuth_deg)
    return frame.place(float(azimuth[0]), float(altitude[0]))


def beside_plan(one: Candidate, exif: FrameExif, focal_mm: float, iso: float) -> tuple[Beside, ...]:
    """Set focal length, shutter, f-number and ISO beside what was planned."""
    lens = one.lens_plan.lens
    return (
        _beside("focal length", "mm", lens.focal_length_mm, focal_mm, SAME_LENS),
        _beside("shutter", "s", one.lens_plan.shutter_s, exif.shutter_s, 0.1),
        _beside("f-number", "", lens.f_number, exif.f_number, 0.06),
        _beside("ISO", "", iso, exif.iso, 0.06),
    )


def _beside(what: str, unit: str, planned: float, taken: float, slack: float) -> Beside:
    end = f" {unit}" if unit else ""
    same = bool(abs(taken / planned - 1.0) <= slack) if planned > 0.0 else False
    if math.isnan(taken):
        sentence = f"{what}: not in the frame."
    elif not math.isfinite(planned):
        sentence = f"{what}: {num(taken)}{end}; none is planned."
    elif same:
        sentence = f"{what}: {num(taken)}{end}, as planned."
    else:
        stops = "" if unit == "mm" else f" ({_stops(what, taken / planned)})"
        sentence = f"{what}: {num(taken)}{end} for {num(planned)}{end} planned{stops}."
    return Beside(what, unit, planned, taken, same, sentence)


def _stops(what: str, ratio: float) -> str:
    """By how many stops a setting makes the picture brighter or darker."""
    stops = math.log2(ratio) * (-2.0 if what == "f-number" else 1.0)
    return f"{num(abs(stops), 1)} stops {'brighter' if stops > 0.0 else 'darker'}"


def place_off(one: Candidate, exif: FrameExif, sigma_m: float) -> PlaceOff | None:
    """How far the frame's position lies from the planned stand; None without a position."""
    stand = one.lens_plan.stand
    if not exif.gps.known or stand is None:
        return None

    line = line_between(lat1=stand.lat, lon1=stand.lon, lat2=exif.gps.lat, lon2=exif.gps.lon)
    away, azimuth = float(line.distance_m), float(line.azimuth_deg)
    turn = math.radians(azimuth - stand.bearing_deg)
    stated = exif.gps.error_m
    worth = stated if math.isfinite(stated) else sigma_m
    sentence = f"Taken {length(away)} {compass_point(azimuth)} of the planned stand"
    if away <= 2.0 * worth:
        sentence += f", which a receiver good to {length(worth)} cannot tell from the stand."
    else:
        sentence += f"; its receiver is good to about {length(worth)}."
    return PlaceOff(away, azimuth, -away * math.cos(turn), -away * math.sin(turn), worth, sentence)


def frame_camera(camera: Camera, width_px: int, height_px: int) -> tuple[Camera | None, str]:
    """The plan's camera held as the frame was, with the picture's own pixels.

    Returns
    -------
    camera : Camera or None
        None when the picture has another shape: cropped, or from another camera.
    sentence : str
        What was found odd; empty when nothing.
    """
    long_side, short_side = max(width_px, height_px), min(width_px, height_px)
    if abs(long_side / short_side * camera.height_px / camera.width_px - 1.0) > SAME_SHAPE:
        return None, (
            f"The picture is {width_px} x {height_px} pixels and the plan's camera makes "
            f"{camera.width_px} x {camera.height_px}: it is cropped or from another camera, so "
            "its trails cannot be set beside the prediction; review the whole frame."
        )
    held = camera.held("portrait" if height_px > width_px else "landscape")
    said = ""
    if abs(long_side / camera.width_px - 1.0) > SAME_SHAPE:
        said = (
            f"The picture holds {per_cent(long_side / camera.width_px)} of the camera's pixels "
            "across; trails are counted in the picture's own."
        )
    return replace(held, width_px=long_side, height_px=short_side), said


def used_lens(one: Candidate, exif: FrameExif, focal_mm: float) -> Lens:
    """The planned lens with the focal length and f-number that the frame was taken at."""
    lens = one.lens_plan.lens
    if math.isfinite(focal_mm):
        lens = replace(lens, focal_length_mm=focal_mm)
    if math.isfinite(exif.f_number) and exif.f_number >= 0.5:
        lens = replace(lens, f_number=exif.f_number)
    return lens
