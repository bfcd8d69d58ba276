"""No stretch leads over a set target, and no plan that contradicts itself is given out."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment import plan_night
from backbearing.alignment.night import lens_arc
from backbearing.alignment.night.from_outing import night_sky, scene_of, zone_of
from backbearing.alignment.night.self_check import check_plan
from backbearing.base.errors import SelfCheckError
from backbearing.base.grouped import changed
from backbearing.plan.optics import LensFigures
from invented import write_outing

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.alignment import Plan
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import Outing
    from backbearing.plan.stand import LensPlan
    from backbearing.terrain import Elevation


def test_no_stretch_leads_over_the_hours_in_which_the_target_is_down(tmp_path: Path) -> None:
    # Vega sets in the evening and rises before dawn: 1 January at 40 N.
    outing = write_outing(
        tmp_path, lat=40.0, lon=-100.0, evening=dt.date(2027, 1, 1),
        target={"star": "Vega"}, night={"moon": "any", "clear_by_deg": 0.0},
    )  # fmt: skip
    (lens,) = plan_night(outing).lenses
    assert len(lens.usable) == 2
    assert len(lens.framed) == 2
    assert lens.stand is not None
    assert lens.stand.target_altitude_deg > 0.0
    for evening, morning in (lens.usable, lens.framed):
        assert morning.start - evening.end > dt.timedelta(hours=5)


@pytest.mark.slow
def test_falling_land_does_not_lift_a_target_that_is_below_the_horizontal(tmp_path: Path) -> None:
    # At 68 S Sirius sinks to -5 degrees in the south, where the land lies lower still.
    outing = write_outing(
        tmp_path, lat=-68.0, lon=20.0, evening=dt.date(2027, 6, 21),
        ground=lambda east, north: 600.0 + 0.15 * north,
        target={"star": "Sirius"}, night={"moon": "any", "clear_by_deg": 0.0}, lenses=(14.0, 50.0),
        session={"frames_minutes": 5}, framing={"behind_subject": True},
    )  # fmt: skip
    plan = plan_night(outing)
    for lens in plan.lenses:
        assert lens.stand is not None
        assert lens.stand.target_altitude_deg > 0.0
    assert plan.session is not None
    assert plan.session.shots
    for shot in plan.session.shots:
        assert shot.stand.target_altitude_deg > 0.0
    (asked,) = plan_night(outing.with_lenses(outing.lenses[:1]), at="01:30").lenses
    assert asked.stand is not None
    assert asked.stand.skyline_deg < asked.stand.target_altitude_deg < 0.0
    assert "below the horizontal" in asked.sentence


def test_a_minute_that_something_brief_spoils_gives_way_to_a_sample(
    outing: Outing, elevation: Elevation, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A tooth of the ridge narrower than the step of the arc, just at the chosen minute.
    scene, lens = scene_of(outing, elevation), outing.lenses[1].lens
    sky = night_sky(outing.night, scene, zone_of(outing))
    smooth = settle_lens(scene, lens, sky, None)
    assert smooth.stand is not None
    moment = smooth.stand.time
    samples = [time for time in sky.times if moment != time]
    nearest = min(samples, key=lambda time: abs(time - moment))
    honest = lens_arc.limits_of

    def with_a_tooth(settled: Any, sky: Any, times: Any) -> lens_arc.MomentLimits:
        found = honest(settled, sky, times)
        for i, time in enumerate(times):
            if isinstance(times, list) and time == moment:
                found.limits["ridge"][i] = True
        return found

    monkeypatch.setattr(lens_arc, "limits_of", with_a_tooth)
    jagged = settle_lens(scene, lens, sky, None)
    assert jagged.stand is not None
    assert jagged.stand.time in sky.times
    assert abs(jagged.stand.time - nearest) <= dt.timedelta(minutes=2)


def settle_lens(scene: Scene, lens: Lens, sky: NightSky, asked: None) -> LensPlan:
    return lens_arc.settle_lens(
        scene, lens, sky, asked, lambda asked: [LensFigures(hyperfocal_m=math.nan) for _ in asked]
    )


def _darker(plan: Plan) -> Plan:
    return _with_stand(plan, time=plan.dark[0].end + dt.timedelta(hours=2))


def _with_stand(plan: Plan, **new: object) -> Plan:
    first, *rest = plan.lenses
    assert first.stand is not None
    stand = changed(first.stand, **new)
    return replace(plan, lenses=(replace(first, stand=stand), *rest))


def _with_turn(plan: Plan, **new: object) -> Plan:
    assert plan.session is not None
    first, *rest = plan.session.shots
    shots = (changed(first, **new), *rest)
    return replace(plan, session=replace(plan.session, shots=shots))


def _bridged(plan: Plan) -> Plan:
    first, *rest = plan.lenses
    gone = first.usable[0].start + dt.timedelta(minutes=10)
    arc = tuple(p for p in first.arc if not gone <= p.time <= gone + dt.timedelta(minutes=9))
    return replace(plan, lenses=(replace(first, arc=arc), *rest))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda plan: _with_stand(plan, target_altitude_deg=-1.0), "below the horizontal"),
        (lambda plan: _with_stand(plan, clearance_deg=0.5), "clears the ridge by 0.50°"),
        (lambda plan: _with_stand(plan, in_frame=False), "out of its place"),
        (lambda plan: _with_stand(plan, lat=float("nan")), "has no place"),
        (_darker, "none of the stretches"),
        (_bridged, "leads over moments"),
        (lambda plan: _with_turn(plan, least_clearance_deg=0.2), "near the ridge"),
        (
            lambda plan: _with_turn(plan, frames_end=plan.dark[0].end + dt.timedelta(hours=1)),
            "do not lie in the dark",
        ),
    ],
)
def test_what_contradicts_itself_is_refused(
    plan: Plan,
    outing: Outing,
    elevation: Elevation,
    spoil: Callable[[Plan], Plan],
    said: str,
) -> None:
    scene = scene_of(outing, elevation)
    sky = night_sky(outing.night, scene, zone_of(outing))
    check_plan(plan, sky)
    with pytest.raises(SelfCheckError, match=said) as refused:
        check_plan(spoil(plan), sky)
    assert "fault of Backbearing" in str(refused.value)


@pytest.mark.parametrize(
    ("spoil", "refused"),
    [
        # A degree over the ridge is asked; the plan's own arithmetic may be a hundredth off.
        (lambda plan: _with_stand(plan, clearance_deg=0.992), False),
        (lambda plan: _with_stand(plan, clearance_deg=0.988), True),
        (lambda plan: _with_stand(plan, target_altitude_deg=-0.008), False),
        (lambda plan: _with_stand(plan, target_altitude_deg=-0.012), True),
        (lambda plan: _with_turn(plan, least_clearance_deg=0.992), False),
        (lambda plan: _with_turn(plan, least_clearance_deg=0.988), True),
    ],
)
def test_a_hundredth_of_a_degree_is_no_contradiction(
    plan: Plan,
    outing: Outing,
    elevation: Elevation,
    spoil: Callable[[Plan], Plan],
    *,
    refused: bool,
) -> None:
    sky = night_sky(outing.night, scene_of(outing, elevation), zone_of(outing))
    assert sky.clear_by_deg == 1.0
    if refused:
        with pytest.raises(SelfCheckError):
            check_plan(spoil(plan), sky)
    else:
        check_plan(spoil(plan), sky)


@pytest.mark.parametrize(("seconds", "refused"), [(120.5, False), (122.0, True)])
def test_a_stretch_may_lead_over_a_step_of_the_arc_and_a_second(
    plan: Plan, outing: Outing, elevation: Elevation, seconds: float, *, refused: bool
) -> None:
    # The arc is sampled every two minutes: let one sample come late by so much.
    sky = night_sky(outing.night, scene_of(outing, elevation), zone_of(outing))
    first, *rest = plan.lenses
    start = first.usable[0].start + dt.timedelta(minutes=20)
    inside = [i for i, point in enumerate(first.arc) if point.time >= start]
    before = first.arc[inside[0] - 1].time
    late = replace(first.arc[inside[0]], time=before + dt.timedelta(seconds=seconds))
    arc = (*first.arc[: inside[0]], late, *first.arc[inside[0] + 1 :])
    spoilt = replace(plan, lenses=(replace(first, arc=arc), *rest))
    if refused:
        with pytest.raises(SelfCheckError, match="leads over moments"):
            check_plan(spoilt, sky)
    else:
        check_plan(spoilt, sky)
