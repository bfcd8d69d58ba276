"""The page's words: everything on its pictures, and more, as text."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.cautions import CANNOT_SEE
from backbearing.base.numbers import num
from backbearing.base.text import degrees, length, night_label, rise_words
from backbearing.drawing.leaflet import NOTICE, leaflet_licence
from backbearing.drawing.number_words import (
    bearing_words,
    crs_name,
    direction_words,
    height,
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

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand

    Row = tuple[str, str | Markup]

KIND_WORDS = {
    "parking": "Parking",
    "track": "Track",
    "land": "Land",
    "water": "Water",
    "hazard": "Hazard",
    "note": "Note",
}
GROUND_WORDS = {
    "raster": "between the raster's points",
    "measured drop": "from your measured ground difference",
    "flat": "taken as level with the subject",
}


def page_text(plan: Plan, clock: WallClock, texts: Texts) -> dict[str, Any]:
    """Everything that the page's text needs, formatted."""
    subject = plan.subject
    return {
        "night": night_label(plan.evening),
        "name": texts.element(plan.name),
        "subject": texts.element(subject.name),
        "kind": texts.element(subject.kind) if subject.kind else "",
        "target": texts.element(plan.target.name),
        "letters": clock.night_letters(plan),
        "zone": plan.zone,
        "dark": _dark(plan, clock, texts),
        "subject_rows": _subject_rows(plan),
        "lenses": [_lens(plan, lens, clock, texts) for lens in plan.lenses],
        "events": [(clock.hm(e.time), texts.element(e.name)) for e in plan.events],
        "path_rows": _path_rows(plan, clock),
        "viewpoint": texts.element(plan.viewpoint_note),
        "places": [_place(p, texts) for p in plan.places],
        "cautions": [texts.element(c) for c in plan.cautions],
        "notes": [texts.element(n) for n in dict.fromkeys((*plan.notes, *CANNOT_SEE))],
        "emergency": texts.element(plan.emergency_number) if plan.emergency_number.strip() else "",
        "ground_rows": _ground_rows(plan, texts),
        "credit": texts.element(plan.ground.credit),
        "software": NOTICE,
        "leaflet_licence": leaflet_licence(),
        "made": clock.local(plan.made).strftime("%Y-%m-%d %H:%M ") + clock.letters(plan.made),
        "version": texts.element(plan.version),
    }


def _dark(plan: Plan, clock: WallClock, texts: Texts) -> str | Markup:
    if not plan.dark:
        return texts.element(plan.dark_reason or "No dark window this night.")
    return ", ".join(f"{clock.hm(d.start)}–{clock.hm(d.end)}" for d in plan.dark)


def _subject_rows(plan: Plan) -> list[Row]:
    subject = plan.subject
    width = f"{length(subject.shown_width_m)} wide"
    if subject.width_m is None:
        width += " (assumed: half its height)"
    rows: list[Row] = [
        ("Where", position(subject.lat, subject.lon)),
        ("Size", f"{length(subject.height_m)} tall, {width}"),
        ("Ground", height(plan.subject_ground_m)),
    ]
    if subject.base_height_m:
        rows.append(("Base", f"{length(subject.base_height_m)} above that ground"))
    return rows


def _lens(plan: Plan, lens: LensPlan, clock: WallClock, texts: Texts) -> dict[str, Any]:
    stand = lens.stand
    return {
        "label": lens.lens.label,
        "aperture": f"f/{num(lens.lens.f_number)}",
        "name": texts.element(lens.lens.name) if lens.lens.name else "",
        "sentence": texts.element(lens.sentence),
        "time": clock.hm(stand.time) if stand else "",
        "bearing": bearing_words(stand.bearing_deg) if stand else "",
        "distance": length(stand.distance_m) if stand else "",
        "shutter": seconds(lens.shutter_s),
        "stand_rows": _stand_rows(stand, clock, plan.target_word) if stand else [],
        "rows": _lens_rows(lens, clock, plan.target_word),
        "cautions": [texts.element(c) for c in stand.cautions] if stand else [],
    }


def _stand_rows(stand: Stand, clock: WallClock, target: str) -> list[Row]:
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
        f"{degrees(stand.skyline_deg)} high, {length(stand.skyline_distance_m)} away"
        if math.isfinite(stand.skyline_deg)
        else "unknown"
    )
    if stand.unknown_share > 0.0:
        ridge += f"; {percent(stand.unknown_share)} of the way there is unknown ground"
    rows: list[Row] = [
        ("At", f"{clock.hm(stand.time)} {clock.letters(stand.time)}"),
        ("Bearing to subject", f"{direction_words(stand.bearing_deg)} true; {magnetic}"),
        ("Distance", f"{length(stand.distance_m)} from the middle of the subject"),
        ("Stand", f"{position(stand.lat, stand.lon)}, ±\u00a0{length(stand.position_sigma_m)}"),
        ("Ground there", _stand_ground(stand)),
        ("Tilt", tilt(stand.pitch_deg)),
        ("Subject in frame", f"{percent(stand.share)} of the frame's height"),
        ("Below its base", f"{percent(stand.base_margin)} of the frame's height"),
        (f"{target} over skyline", clear),
        ("Skyline there", ridge),
        ("Subject over skyline", skyline_break(stand.skyline_break_deg)),
        (f"{target} in frame", _in_frame(stand)),
        ("Play", f"{length(stand.play_m)} sideways, or {minutes(stand.play_minutes)}"),
        ("Swing", swing(stand.swing_m_per_minute)),
    ]
    if math.isfinite(stand.canopy_clearance_deg):
        rows.insert(9, (f"{target} over trees", over(stand.canopy_clearance_deg)))
    return rows


def _stand_ground(stand: Stand) -> str:
    how = GROUND_WORDS.get(stand.ground_source, stand.ground_source)
    return f"{num(stand.ground_m, 0)} m, {how}" if math.isfinite(stand.ground_m) else "unknown"


def _in_frame(stand: Stand) -> str:
    if not (math.isfinite(stand.target_x) and math.isfinite(stand.target_y)):
        return "behind the camera"
    words = f"{percent(stand.target_x)} from the left, {percent(stand.target_y)} from the bottom"
    return words if stand.in_frame else f"{words}: outside, or too near the edge"


def _lens_rows(lens: LensPlan, clock: WallClock, target: str) -> list[Row]:
    trail = f"trail {pixels(lens.trail_core_px)} at the {target.lower()}, "
    trail += f"{pixels(lens.trail_corner_px)} in the worst corner"
    focus = f"hyperfocal {length(lens.hyperfocal_m)}; focused at infinity the subject "
    focus += f"blurs by {pixels(lens.infinity_blur_px)}"
    return [
        ("No limit found", clock.spans(lens.usable)),
        ("Frame holds both", clock.spans(lens.framed)),
        *([("Behind the subject itself", clock.spans(lens.hidden))] if lens.hidden else []),
        ("Shutter", f"{seconds(lens.shutter_s)}; {trail}"),
        ("Focus", focus),
    ]


def _path_rows(plan: Plan, clock: WallClock) -> list[tuple[str, str, str, str]]:
    """The target's path every half hour: time, direction, altitude, over the skyline."""
    if len(plan.sky_path) < 2:
        return []
    skyline = plan.skyline
    first = plan.sky_path[0].time
    at = np.array([(p.time - first).total_seconds() for p in plan.sky_path])
    az = np.degrees(np.unwrap(np.radians([p.azimuth_deg for p in plan.sky_path])))
    alt = np.array([p.altitude_deg for p in plan.sky_path])
    sky_az = [p.azimuth_deg for p in skyline]
    sky_alt = [p.altitude_deg for p in skyline]
    rows = []
    for time in clock.marks(first, plan.sky_path[-1].time, 30):
        s = (time - first).total_seconds()
        a, h = wrap_360_deg(float(np.interp(s, at, az))), float(np.interp(s, at, alt))
        ridge = (
            float(np.interp(a, sky_az, sky_alt, left=np.nan, right=np.nan)) if sky_az else np.nan
        )
        rows.append((clock.hm(time), direction_words(a), degrees(h), over(h - ridge)))
    return rows


def _place(place: Place, texts: Texts) -> dict[str, Any]:
    return {
        "kind": KIND_WORDS.get(place.kind, "Note"),
        "name": texts.element(place.name) if place.name else "without a name",
        "note": texts.element(place.note) if place.note else "",
        "access": place.access,
    }


def _ground_rows(plan: Plan, texts: Texts) -> list[Row]:
    ground = plan.ground
    sigma = (
        f"{num(ground.vertical_sigma_m)} m, one standard deviation; "
        f"{num(ground.local_sigma_m, 1)} m of it each height's own, alike over "
        f"{length(ground.error_range_m)}"
        if math.isfinite(ground.vertical_sigma_m)
        else "unknown"
    )
    trees = "not counted"
    if ground.canopy_m > 0.0:
        trees = f"counted as {length(ground.canopy_m)} tall on all ground farther than "
        trees += f"{length(ground.clearing_m)} from the subject"
    return [
        ("Raster", texts.element(ground.source)),
        ("Credit", texts.element(ground.credit)),
        ("Reference system", texts.element(crs_name(ground.crs))),
        ("Cells", f"{ground.rows} rows, {ground.columns} columns, {num(ground.cell_m, 0)} m wide"),
        ("Heights count from", texts.element(ground.vertical_datum or "not said by the raster")),
        ("Height error", sigma),
        ("Trees", trees),
        (
            "Magnetic bearings",
            f"{plan.magnetic_model} for the night; the model itself errs by some 0.3° to 0.5°",
        ),
        ("Refraction", f"coefficient {num(plan.refraction_k)} for lines of sight over the ground"),
    ]
