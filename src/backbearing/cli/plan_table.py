"""The plan as a table on the terminal."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num, per_cent
from backbearing.base.text import (
    compass_point,
    degrees,
    length,
    night_label,
    rise_words,
    terminal_safe,
)
from backbearing.base.wall_clock import hm
from backbearing.cli.session_table import print_session

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan

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
    "latitude",
    "longitude",
)


def print_plan(out: Console, plan: Plan) -> None:
    """Print night, stands, what limits each lens, events, and the cautions."""
    from rich.text import Text

    title = f"{terminal_safe(plan.subject.name)}, night of {night_label(plan.evening)}"
    out.print(Text(title, style="bold"))
    out.print(Text(_times_line(plan)))
    out.print()
    out.print(_table(plan))
    for lens_plan in plan.lenses:
        out.print(Text.assemble((f"{lens_plan.lens.label:>6}  ", "bold"), lens_plan.sentence))
        if lens_plan.stand is not None:
            for caution in lens_plan.stand.cautions:
                out.print(Text(f"        ! {caution}"))
    print_session(out, plan)
    rises = [one.stand.clearance_bias_deg for one in plan.lenses if one.stand is not None]
    if rise := rise_words(max(filter(isfinite, rises), default=0.0)):
        out.print(Text(f"By the raster's errors {rise}, at most here."))
    out.print()
    _print_notes(out, plan)


def _times_line(plan: Plan) -> str:
    zone = ZoneInfo(plan.zone)
    events = ", ".join(f"{e.name} {hm(e.time, zone)}" for e in plan.events)
    if plan.dark:
        windows = " and ".join(f"{hm(w.start, zone)} to {hm(w.end, zone)}" for w in plan.dark)
        dark = f"Dark with the target clear of the ridge at the subject: {windows}."
    else:
        dark = plan.dark_reason
    return f"Times in {plan.zone}: {events}. {terminal_safe(dark)}"


def _table(plan: Plan) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("lens", no_wrap=True, min_width=max(map(len, _ROWS)))
    for lens_plan in plan.lenses:
        table.add_column(terminal_safe(lens_plan.lens.label), justify="right", no_wrap=True)
    columns = [_column(plan, lens_plan) for lens_plan in plan.lenses]
    for i, name in enumerate(_ROWS):
        table.add_row(name, *(Text(column[i]) for column in columns))
    return table


def _column(plan: Plan, lens_plan: LensPlan) -> tuple[str, ...]:
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
        length(stand.distance_m),
        f"{num(stand.pitch_deg, 1, sign=True)}°",
        per_cent(stand.share),
        _fraction(stand.target_x),
        _fraction(stand.target_y),
        f"{degrees(stand.clearance_deg)} ± {degrees(stand.clearance_sigma_deg)}",
        stand.verdict,
        degrees(stand.canopy_clearance_deg) if plan.ground.canopy_m else "not asked",
        degrees(stand.skyline_deg),
        length(stand.skyline_distance_m),
        f"{num(step, 2)} m {side}",
        f"{num(shutter)} s" if isfinite(shutter) else "none",
        f"{num(lens_plan.trail_core_px, 1)} px" if isfinite(shutter) else "",
        num(stand.lat, 6),
        num(stand.lon, 6),
    )


def _fraction(value: float) -> str:
    return f"{per_cent(value)}" if isfinite(value) else "behind"


def _print_notes(out: Console, plan: Plan) -> None:
    from rich.text import Text

    out.print(Text("What this cannot see", style="bold"))
    for note in plan.notes:
        out.print(Text(f"  {note}"))
    out.print(Text("Before you go", style="bold"))
    for caution in plan.cautions:
        out.print(Text(f"  {caution}"))
