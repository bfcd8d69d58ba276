"""The demo's night by the clock: in order, on one screen, with the plan's own numbers."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

from backbearing.base.units import Units
from backbearing.cli.demo_story import print_story
from backbearing.cli.screen import Screen

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan


def lines_of(plan: Plan, width: int, units: str = "metric") -> list[str]:
    out = Screen(width=width)
    assert plan.session is not None
    print_story(out, plan, plan.session, units=Units(units), then="open it")
    return out.text.splitlines()


def test_the_night_is_told_in_the_order_of_the_clock(plan: Plan) -> None:
    lines = lines_of(plan, 80)
    assert 20 <= len(lines) <= 30
    assert max(map(len, lines)) <= 80
    clock = [line[:5] for line in lines if re.match(r"\d\d:\d\d  ", line)]
    # A night: what comes after midnight follows what came before it.
    later = [f"{int(time[:2]) + 24 * (time < '12')}:{time[3:]}" for time in clock]
    assert later == sorted(later)
    said = "\n".join(lines)
    for word in ("The Sun sets.", "Dark.", "comes clear of the ridge.", "The Moon rises.", "Dawn"):
        assert said.count(word) == 1


def test_each_turn_has_the_plans_own_minutes_and_metres(plan: Plan) -> None:
    assert plan.session is not None
    zone = ZoneInfo(plan.zone)
    lines = lines_of(plan, 80)
    for shot in plan.session.shots:
        (line,) = [one for one in lines if f"{shot.number}. {shot.lens.label}:" in one]
        assert line.startswith(f"{shot.setup_start.astimezone(zone):%H:%M}")
        assert f"{shot.stand.distance_m:.1f} m out" in line
        assert f"{(shot.stand.bearing_magnetic_deg + 180.0) % 360.0:.0f}°" in line
        assert f"{shot.frames_start.astimezone(zone):%H:%M}" in line
    assert any("Leave Lych pull-in by now" in line for line in lines)


@pytest.mark.parametrize("width", [40, 60, 120])
def test_no_digit_is_lost_on_another_width(plan: Plan, width: int) -> None:
    def numbers(lines: list[str]) -> list[str]:
        return re.findall(r"\d[\d.:–]*", " ".join(lines))

    assert max(map(len, lines_of(plan, width))) <= width
    # How many cautions are left for `--all` goes by the lines that they take.
    told, wanted = ({*numbers(lines_of(plan, w))} for w in (width, 80))
    left = next(one for one in lines_of(plan, 80) if "more: --all" in one)
    assert wanted - told <= {*numbers([left])}


def test_lengths_are_said_as_the_outing_asks(plan: Plan) -> None:
    assert " ft out" in " ".join(lines_of(plan, 80, "imperial"))
