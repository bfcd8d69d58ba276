"""The lamp and what the air takes, as text on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.plan.lamp_lines import lamp_lines

if TYPE_CHECKING:
    from backbearing.cli.screen import Screen
    from backbearing.plan.plan import Plan


def print_lamp(out: Screen, plan: Plan) -> None:
    """Print what is said of light; nothing without a [light] section."""
    if plan.lamp is None:
        return
    out.title("The lamp, and twilight on the ground")
    for line in lamp_lines(plan.lamp, plan.zone):
        out.say(line, indent=2, hang=2)
