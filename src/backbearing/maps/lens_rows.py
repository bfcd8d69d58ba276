"""A stand's figures, and what a lens does in the night, as rows of words and numbers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.base.text import degrees, rise_words
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import (
    direction_words,
    magnetic_words,
    minutes,
    over,
    percent,
    pixels,
    position,
    seconds,
    skyline_break,
    swing,
    tilt,
)
from backbearing.plan.cloud import short_cloud_words

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.base.units import Units
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.stand import LensPlan, Stand

    Row = tuple[str, str | Markup]

GROUND_WORDS = {
    "raster": "between the raster's points",
    "measured drop": "from your measured ground difference",
    "flat": "taken as level with the subject",
}


def stand_rows(stand: Stand, clock: WallClock, target: str, units: Units = METRIC) -> list[Row]:
    """Every figure of a stand."""
    magnetic = magnetic_words(
        stand.bearing_magnetic_deg, "magnetic unknown: outside the magnetic model's years"
    )
    clear = (
        f"{num(stand.clearance_deg, 1)}° ± {num(stand.clearance_sigma_deg, 1)}°"
        if math.isfinite(stand.clearance_deg)
        else "unknown"
    )
    if stand.verdict != "unknown":
        clear += f": {stand.verdict}"
    if rise := rise_words(stand.clearance_bias_deg):
        clear += f" ({rise})"
    ridge = (
        f"{degrees(stand.skyline_deg)} high, {units.length(stand.skyline_distance_m)} away"
        if math.isfinite(stand.skyline_deg)
        else "unknown"
    )
    if stand.unknown_share > 0.0:
        ridge += f"; {percent(stand.unknown_share)} of the way there is unknown ground"
    rows: list[Row] = [
        ("At", f"{clock.hm(stand.time)} {clock.letters(stand.time)}"),
        ("Bearing to subject", f"{direction_words(stand.bearing_deg)} true; {magnetic}"),
        ("Distance", f"{units.length(stand.distance_m)} from the middle of the subject"),
        (
            "Stand",
            f"{position(stand.lat, stand.lon)}, ±\u00a0{units.length(stand.position_sigma_m)}",
        ),
        ("Ground there", _stand_ground(stand, units)),
        ("Tilt", tilt(stand.pitch_deg)),
        ("Subject in frame", f"{percent(stand.share)} of the frame's height"),
        ("Below its base", f"{percent(stand.base_margin)} of the frame's height"),
        (f"{target} over skyline", clear),
        ("Skyline there", ridge),
        ("Subject over skyline", skyline_break(stand.skyline_break_deg)),
        (f"{target} in frame", _in_frame(stand)),
        ("Play", f"{units.length(stand.play_m)} sideways, or {minutes(stand.play_minutes)}"),
        ("Swing", units.sentence(swing(stand.swing_m_per_minute))),
    ]
    if math.isfinite(stand.canopy_clearance_deg):
        rows.insert(9, (f"{target} over trees", over(stand.canopy_clearance_deg)))
    if math.isfinite(stand.bare_skyline_deg):
        bare = over(stand.target_altitude_deg - stand.bare_skyline_deg)
        rows.insert(9, (f"{target} over bare ground", bare))
    if cloud := short_cloud_words(stand.cloud):
        rows.append(("Cloud", cloud))
    return rows


def _stand_ground(stand: Stand, units: Units) -> str:
    how = GROUND_WORDS.get(stand.ground_source, stand.ground_source)
    return (
        f"{units.small(stand.ground_m, 0)}, {how}" if math.isfinite(stand.ground_m) else "unknown"
    )


def _in_frame(stand: Stand) -> str:
    if not (math.isfinite(stand.target_x) and math.isfinite(stand.target_y)):
        return "behind the camera"
    words = f"{percent(stand.target_x)} from the left, {percent(stand.target_y)} from the bottom"
    return words if stand.in_frame else f"{words}: outside, or too near the edge"


def lens_rows(lens: LensPlan, clock: WallClock, target: str, units: Units = METRIC) -> list[Row]:
    """What limits a lens through the night, its shutter and its focus."""
    trail = f"trail {pixels(lens.trail_core_px)} at the {target.lower()}, "
    trail += f"{pixels(lens.trail_corner_px)} in the worst corner"
    focus = f"hyperfocal {units.length(lens.hyperfocal_m)}; focused at infinity the subject "
    focus += f"blurs by {pixels(lens.infinity_blur_px)}"
    return [
        ("No limit found", clock.spans(lens.usable)),
        ("Frame holds both", clock.spans(lens.framed)),
        *([("Behind the subject itself", clock.spans(lens.hidden))] if lens.hidden else []),
        ("Shutter", f"{seconds(lens.shutter_s)}; {trail}"),
        ("Focus", focus),
        *panorama_row(lens),
        *([("Tracked", lens.tracker.tracker_sentence)] if lens.tracker is not None else []),
        *([("Air", lens.air.sentence)] if lens.air is not None else []),
        *([("Sky behind", lens.behind.sentence)] if lens.behind is not None else []),
    ]


def panorama_row(lens: LensPlan) -> list[Row]:
    """Rows, frames, minutes and the sky's turn, where the outing asks for a panorama."""
    found = None if lens.shutter is None else lens.shutter.panorama
    return [("Panorama", found.sentence)] if found is not None and found.is_asked else []
