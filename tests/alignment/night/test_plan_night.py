"""The sample night: what the plan must say about it."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from backbearing.alignment import find_stands, plan_night
from backbearing.alignment.ridge.skyline_view import ridge_view

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.plan.stand import Stand
    from backbearing.terrain import Elevation


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


def test_four_lenses_have_stands_in_a_dark_window(plan: Plan) -> None:
    assert [lens.lens.focal_length_mm for lens in plan.lenses] == [15.0, 21.0, 35.0, 48.0]
    for lens in plan.lenses:
        assert lens.stand is not None
        assert lens.stand.in_frame
        assert lens.stand.clearance_deg >= 1.0
        assert any(w.start <= lens.stand.time <= w.end for w in plan.dark)
        assert any(s.start <= lens.stand.time <= s.end for s in lens.usable)


def test_a_real_ridge_hides_the_core_for_part_of_the_night(plan: Plan) -> None:
    for lens in plan.lenses:
        # By the ridge alone, whether or not the subject itself hides the core as well.
        spoilt_by_ridge = [p for p in lens.arc if set(p.limits) - {"subject"} == {"ridge"}]
        assert len(spoilt_by_ridge) * 2 > 45  # minutes, arcs have one point in two
        assert any(p.usable for p in lens.arc)


def test_the_long_lens_cannot_hold_both_all_night_and_says_when(plan: Plan) -> None:
    long = plan.lenses[-1]
    assert any("frame" in p.limits for p in long.arc)
    assert 0 < sum(s.minutes for s in long.framed) < len(long.arc) * 2
    assert "holds both only" in long.sentence
    zone = ZoneInfo(plan.zone)
    for span in long.framed:
        assert f"{span.start.astimezone(zone):%H:%M}" in long.sentence


def test_arc_agrees_with_single_stands(plan: Plan, outing: Outing, elevation: Elevation) -> None:
    lens = plan.lenses[2]
    point = lens.arc[len(lens.arc) // 2]
    (stand,) = find_stands(
        outing.subject, outing.target, point.time, outing.camera, [lens.lens], outing.framing,
        elevation,
    )  # fmt: skip
    assert point.lat == pytest.approx(stand.lat, abs=1e-9)
    assert point.lon == pytest.approx(stand.lon, abs=1e-9)
    assert point.clearance_deg == pytest.approx(stand.clearance_deg, abs=1e-6)


def test_ends_of_usable_stretches_are_true_ends(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    def about(number: int) -> list[Stand]:
        lens = plan.lenses[number]
        start = lens.usable[0].start
        return [
            find_stands(
                outing.subject, outing.target, start + dt.timedelta(seconds=s), outing.camera,
                [lens.lens], outing.framing, elevation,
            )[0]
            for s in (-2, 2)
        ]  # fmt: skip

    # The longer lens is let off by the ridge, the widest by the subject itself.
    before, after = about(1)
    assert before.clearance_deg < 1.0 <= after.clearance_deg
    before, after = about(0)
    assert [before.behind_subject, after.behind_subject] == [True, False]


def test_stands_walk_the_arc_leftwards_in_the_north(plan: Plan) -> None:
    for lens in plan.lenses:
        assert lens.stand is not None
        assert lens.stand.swing_m_per_minute > 0.0


def test_swing_matches_the_arc(plan: Plan) -> None:
    from backbearing.base.geodesy import line_between

    lens = plan.lenses[1]
    assert lens.stand is not None
    near = [p for p in lens.arc if abs((p.time - lens.stand.time).total_seconds()) <= 240]
    walked = line_between(
        lat1=near[0].lat, lon1=near[0].lon, lat2=near[-1].lat, lon2=near[-1].lon
    ).distance_m
    minutes = (near[-1].time - near[0].time).total_seconds() / 60.0
    assert float(walked) / minutes == pytest.approx(lens.stand.swing_m_per_minute, rel=0.05)


def test_asked_minute_is_kept_even_when_spoilt(outing: Outing, elevation: Elevation) -> None:
    one = outing.with_lenses(outing.lenses[:1])
    plan = plan_night(one, elevation, at="23:00")
    (lens,) = plan.lenses
    assert lens.stand is not None
    assert lens.stand.time.astimezone(ZoneInfo(plan.zone)).strftime("%d %H:%M") == "05 23:00"
    assert "spoilt by the ridge" in lens.sentence


def test_after_midnight_belongs_to_the_same_night(outing: Outing, elevation: Elevation) -> None:
    plan = plan_night(outing.with_lenses(outing.lenses[:1]), elevation, at="01:30")
    assert plan.lenses[0].stand is not None
    local = plan.lenses[0].stand.time.astimezone(ZoneInfo(plan.zone))
    assert local.strftime("%Y-%m-%d %H:%M") == "2027-06-06 01:30"


def test_full_moon_spoils_the_night(outing: Outing, elevation: Elevation) -> None:
    # Full Moon on 2027-06-19 at 00:44 UTC (ephem 4.2.1); up all the short night.
    night = dataclasses.replace(outing.night, evening=dt.date(2027, 6, 18))
    one = dataclasses.replace(outing, night=night).with_lenses(outing.lenses[:1])
    plan = plan_night(one, elevation)
    assert plan.lenses[0].stand is None
    assert "Moon" in plan.lenses[0].sentence
    assert plan.dark == ()
    assert plan.dark_reason


def test_plan_is_immutable(plan: Plan) -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        plan.name = "other"  # type: ignore[misc]


def test_ridge_view_agrees_with_the_plan(plan: Plan, outing: Outing, elevation: Elevation) -> None:
    stand = plan.lenses[0].stand
    assert stand is not None
    view = ridge_view(outing, lat=stand.lat, lon=stand.lon, elevation=elevation)
    point = min(view.path, key=lambda p: abs(p.time - stand.time))
    assert point.clearance_deg == pytest.approx(stand.clearance_deg, abs=0.05)
    assert {"hidden", "clear"} <= {p.state for p in view.path}
    # All round the circle and at the path's own azimuths it is one skyline.
    again = np.array([float(view.horizon.altitude_at(p.azimuth_deg)) for p in view.path])
    assert np.median(np.abs(again - [p.skyline_deg for p in view.path])) < 0.02
