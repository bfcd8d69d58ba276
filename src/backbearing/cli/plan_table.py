"""The plan as a table on the terminal."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num, per_cent
from backbearing.base.text import (
    compass_point,
    degrees,
    rise_words,
    terminal_safe,
)
from backbearing.base.units import METRIC
from backbearing.base.wall_clock import hm
from backbearing.cli.lamp_table import print_lamp
from backbearing.cli.marks_table import print_marks
from backbearing.cli.plan_answer import in_order
from backbearing.cli.session_table import print_session

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand

_ROWS = (
    "stand at",
    "bearing to subject",
    "by compass",
    "distance",
    "tilt of the frame",
    "subject takes",
    "target from left",
    "target from bottom",
    "over the ridge by",
    "so that it",
    "with trees on it",
    "ridge altitude",
    "ridge distance",
    "step in 5 minutes",
    "shutter",
    "trail at target",
    "dimmed by the air",
    "dark sky behind it",
    "latitude",
    "longitude",
)


def print_plan(out: Screen, plan: Plan, units: Units = METRIC) -> None:
    """Print everything: stands, what limits each lens, the session, events, and the cautions."""
    out.blank()
    out.title("All of it")
    out.say(_times_line(plan))
    out.blank()
    shown = [lens for lens, _ in in_order(plan)] or list(plan.lenses)
    _table(out, plan, shown, units)
    for lens_plan in shown:
        out.labelled(lens_plan.lens.label, lens_plan.sentence)
        if lens_plan.stand is not None:
            for caution in lens_plan.stand.cautions:
                out.say(f"! {caution}", indent=2, hang=2)
    _print_remarks(out, plan, units)
    print_session(out, plan, units)
    rises = [one.stand.clearance_bias_deg for one in shown if one.stand is not None]
    if rise := rise_words(max(filter(isfinite, rises), default=0.0)):
        out.say(f"By the raster's errors {rise}, at most here.")
    out.blank()
    if plan.land.marks is not None:
        print_marks(out, plan.land.marks, units)
        out.blank()
    print_lamp(out, plan)
    _print_notes(out, plan)


def _print_remarks(out: Screen, plan: Plan, units: Units) -> None:
    """Say each lens's own best minute, which a session's turns leave aside."""
    if plan.session is None:
        return
    out.blank()
    out.title("A remark: each lens by itself, were it the only one")
    for lens in plan.lenses:
        stand = lens.stand
        if stand is None:
            out.labelled(lens.lens.label, lens.sentence)
            continue
        out.labelled(
            lens.lens.label,
            f"at {hm(stand.time, plan.zone)} from {units.length(stand.distance_m)}, subject at "
            f"{num(stand.bearing_deg, 1)}° true, {num(lens.shutter_s)} s. Not the plan.",
        )


def _times_line(plan: Plan) -> str:
    zone = ZoneInfo(plan.zone)
    events = ", ".join(f"{e.name} {hm(e.time, zone)}" for e in plan.events)
    if plan.dark:
        windows = " and ".join(f"{hm(w.start, zone)} to {hm(w.end, zone)}" for w in plan.dark)
        dark = f"Dark with the target clear of the ridge at the subject: {windows}."
    else:
        dark = plan.dark_reason
    return f"Times in {plan.zone}: {events}. {terminal_safe(dark)}"


def _table(out: Screen, plan: Plan, lenses: Sequence[LensPlan], units: Units) -> None:
    columns = [_column(plan, lens, units) for lens in lenses]
    out.facts(
        ["lens", *(lens.lens.label for lens in lenses)], list(zip(_ROWS, *columns, strict=True))
    )


def _column(plan: Plan, lens_plan: LensPlan, units: Units) -> tuple[str, ...]:
    stand = lens_plan.stand
    if stand is None:
        return ("no stand", *[""] * (len(_ROWS) - 1))
    magnetic = stand.bearing_magnetic_deg
    side = "left" if stand.swing_m_per_minute > 0 else "right"
    step = abs(stand.swing_m_per_minute) * 5.0
    shutter = lens_plan.shutter_s
    return (
        hm(stand.time, plan.zone),
        f"{num(stand.bearing_deg, 1)}° {compass_point(stand.bearing_deg)}",
        f"{num(magnetic, 0)}° mag" if isfinite(magnetic) else "unknown",
        units.length(stand.distance_m),
        f"{num(stand.pitch_deg, 1, sign=True)}°",
        per_cent(stand.share),
        _fraction(stand.target_x),
        _fraction(stand.target_y),
        f"{degrees(stand.clearance_deg)} ± {degrees(stand.clearance_sigma_deg)}",
        stand.verdict,
        _over_trees(plan, stand),
        degrees(stand.skyline_deg),
        units.length(stand.skyline_distance_m),
        f"{units.small(step, 2)} {side}",
        f"{num(shutter)} s" if isfinite(shutter) else "none",
        f"{num(lens_plan.trail_core_px, 1)} px" if isfinite(shutter) else "",
        _air(lens_plan),
        _behind(lens_plan),
        num(stand.lat, 6),
        num(stand.lon, 6),
    )


def _over_trees(plan: Plan, stand: Stand) -> str:
    """The clearance over trees of one height everywhere; known ones are in the skyline itself."""
    if plan.ground.cover:
        return "counted"
    return degrees(stand.canopy_clearance_deg) if plan.ground.canopy_m else "not asked"


def _air(lens_plan: LensPlan) -> str:
    """How much dimmer than overhead: ``0.4 ± 0.1 mag``."""
    air = lens_plan.air
    if air is None or not isfinite(air.dimmer_mag):
        return "unknown"
    return f"{num(air.dimmer_mag, 1)} ± {num(air.air_sigma_mag, 1)} mag"


def _behind(lens_plan: LensPlan) -> str:
    """How bright the dark sky behind the target is: ``20.3 ± 0.6 mag``."""
    sky = lens_plan.behind
    if sky is None or not isfinite(sky.behind_mag_arcsec2):
        return "unknown"
    return f"{num(sky.behind_mag_arcsec2, 1)} ± {num(sky.behind_sigma_mag, 1)} mag"


def _fraction(value: float) -> str:
    return f"{per_cent(value)}" if isfinite(value) else "behind"


def _print_notes(out: Screen, plan: Plan) -> None:

    out.title("What this cannot see")
    for note in plan.notes:
        out.say(note, indent=2)
    out.title("Before you go")
    for caution in plan.cautions:
        out.say(caution, indent=2)
