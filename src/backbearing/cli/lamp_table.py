"""The lamp, panoramas and a tracking mount, as text on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.plan.lamp_lines import lamp_lines
from backbearing.plan.turns import as_planned

if TYPE_CHECKING:
    from backbearing.cli.screen import Screen
    from backbearing.plan.plan import Plan


def print_lamp(out: Screen, plan: Plan) -> None:
    """Print what is said of light, panoramas and a mount; nothing of what is not asked for."""
    if plan.lamp is not None:
        out.title("The lamp, and twilight on the ground")
        for line in lamp_lines(plan.lamp, plan.zone):
            out.say(line, indent=2, hang=2)
    rows = [
        (one.lens.label, one.shutter.panorama.sentence)
        for one in as_planned(plan).lenses
        if one.shutter is not None and one.shutter.panorama and one.shutter.panorama.is_asked
    ]
    if rows:
        out.title("Panoramas")
    for label, sentence in rows:
        out.say(f"{label}: {sentence}", indent=2, hang=2)
    tracked = [one for one in as_planned(plan).lenses if one.stand is not None and one.tracker]
    if tracked:
        out.title("A tracked sky and its land")
    for lens in tracked:
        if lens.tracker is not None:
            out.say(f"{lens.lens.label}: {lens.tracker.tracker_sentence}", indent=2, hang=2)
