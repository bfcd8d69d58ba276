"""The page's words: everything on its pictures, and more, as text."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.numbers import num
from backbearing.base.text import degrees, night_label
from backbearing.base.units import METRIC
from backbearing.drawing.leaflet import NOTICE, leaflet_licence
from backbearing.drawing.number_words import (
    crs_name,
    direction_words,
    over,
    position,
)
from backbearing.maps.turn_text import turn_texts
from backbearing.plan.lamp_lines import lamp_lines

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.base.units import Units
    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan

    Row = tuple[str, str | Markup]

KIND_WORDS = {
    "parking": "Parking",
    "track": "Track",
    "land": "Land",
    "water": "Water",
    "hazard": "Hazard",
    "note": "Note",
}


def page_text(plan: Plan, clock: WallClock, texts: Texts, units: Units = METRIC) -> dict[str, Any]:
    """Everything that the page's text needs, formatted.

    Parameters
    ----------
    plan : Plan
        With one stand a lens, as :func:`backbearing.plan.turns.as_planned` gives it.
    clock : WallClock
    texts : Texts
        Takes what comes from files.
    units : Units
        How lengths are said.
    """
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
        "subject_rows": _subject_rows(plan, units),
        "turns": turn_texts(plan, clock, texts, units),
        "events": [(clock.hm(e.time), texts.element(e.name)) for e in plan.events],
        "path_rows": _path_rows(plan, clock),
        "viewpoint": texts.element(plan.viewpoint_note),
        "lamp": []
        if plan.lamp is None
        else [texts.element(line) for line in lamp_lines(plan.lamp, plan.zone)],
        "places": [_place(p, texts) for p in plan.places],
        "cautions": [texts.element(c) for c in plan.cautions],
        "notes": [texts.element(n) for n in dict.fromkeys(plan.notes)],
        "emergency": texts.element(plan.emergency_number) if plan.emergency_number.strip() else "",
        "ground_rows": _ground_rows(plan, texts, units),
        "credit": texts.element(plan.ground.credit) if plan.ground.credit.strip() else "",
        "software": NOTICE,
        "leaflet_licence": leaflet_licence(),
        "made": clock.local(plan.made).strftime("%Y-%m-%d %H:%M ") + clock.letters(plan.made),
        "version": texts.element(plan.version),
    }


def _dark(plan: Plan, clock: WallClock, texts: Texts) -> str | Markup:
    if not plan.dark:
        return texts.element(plan.dark_reason or "No dark window this night.")
    return ", ".join(f"{clock.hm(d.start)}–{clock.hm(d.end)}" for d in plan.dark)


def _subject_rows(plan: Plan, units: Units) -> list[Row]:
    subject = plan.subject
    width = f"{units.length(subject.shown_width_m)} wide"
    if subject.width_m is None:
        width += " (assumed: half its height)"
    rows: list[Row] = [
        ("Where", position(subject.lat, subject.lon)),
        ("Size", f"{units.length(subject.height_m)} tall, {width}"),
        ("Ground", _height(plan.subject_ground_m, units)),
    ]
    if subject.base_height_m:
        rows.append(("Base", f"{units.length(subject.base_height_m)} above that ground"))
    return rows


def _height(metres: float, units: Units) -> str:
    """A ground height, and whose height it is."""
    if not math.isfinite(metres):
        return "unknown"
    return f"{units.small(metres, 0)}, as the raster counts"


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


def _ground_rows(plan: Plan, texts: Texts, units: Units) -> list[Row]:
    ground = plan.ground
    sigma = (
        f"{units.small(ground.vertical_sigma_m)}, one standard deviation; "
        f"{units.small(ground.local_sigma_m)} of it each height's own, alike over "
        f"{units.length(ground.error_range_m)}"
        if math.isfinite(ground.vertical_sigma_m)
        else "unknown"
    )
    trees = "not counted"
    if ground.canopy_m > 0.0:
        trees = f"counted as {units.length(ground.canopy_m)} tall on all ground farther than "
        trees += f"{units.length(ground.clearing_m)} from the subject"
    return [
        ("Raster", texts.element(ground.source)),
        *([("Credit", texts.element(ground.credit))] if ground.credit.strip() else []),
        ("Reference system", texts.element(crs_name(ground.crs))),
        (
            "Cells",
            f"{ground.rows} rows, {ground.columns} columns, {units.small(ground.cell_m, 0)} wide",
        ),
        ("Heights count from", texts.element(ground.vertical_datum or "not said by the raster")),
        ("Height error", sigma),
        ("Trees", trees),
        (
            "Magnetic bearings",
            f"{plan.magnetic_model} for the night; the model itself errs by some 0.3° to 0.5°",
        ),
        ("Refraction", f"coefficient {num(plan.refraction_k)} for lines of sight over the ground"),
    ]
