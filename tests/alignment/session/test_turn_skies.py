"""Air, bright sky and cloud in a session's choice: what starts count, and that none is better."""

from __future__ import annotations

import dataclasses
import datetime as dt
from itertools import permutations, product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest

from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.session.plan_session import setup_of
from backbearing.alignment.session.schedule import best_schedule
from backbearing.alignment.stand.cloud_seen import with_cloud
from backbearing.alignment.stand.stands import stand_at
from backbearing.explain.session import session_explanations
from backbearing.outing.session_request import PictureRequest
from session_costs import sky_cost_m

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan

FEW = 6
"""So many starts of each lens are tried in all orders."""


class Night(NamedTuple):
    prepared: PreparedNight
    plan: Plan
    setup: SessionSetup
    starts: list[Starts]


def weighing(outing: Outing, **weights: float) -> Outing:
    """Ask for a session of three lenses whose skies alone count beside walking and waiting."""
    assert outing.session is not None
    session = dataclasses.replace(
        outing.session,
        minutes=outing.session.minutes[:3],
        picture=PictureRequest(
            above_top_costs_m_per_deg=0.0,
            ridge_costs_m_per_deg=0.0,
            skyline_break_costs_m_per_deg=0.0,
            stand_before_shows_costs_m=0.0,
            light_moves_costs_m=0.0,
            **weights,
        ),
    )
    return dataclasses.replace(outing, session=session, lenses=outing.lenses[:3])


def written(file: Path, evening: dt.date, percent: Callable[[int], float]) -> Path:
    """A forecast whose cloud is told by the hours since 18 UTC of the evening, 5 to 95 per cent."""
    start = dt.datetime.combine(evening, dt.time(18), dt.UTC)
    rows = [
        f"{(start + dt.timedelta(hours=h)).isoformat()},{min(95, max(5, percent(h)))}"
        for h in range(24)
    ]
    file.write_text("\n".join(["time,total_percent", *rows, ""]), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def night(outing: Outing, tmp_path_factory: pytest.TempPathFactory) -> Night:
    """The demo's session under towns, with cloud that thins out through the night."""
    file = written(
        tmp_path_factory.mktemp("sky") / "cloud.csv",
        outing.night.evening,
        lambda h: 95 - 20 * (h - 9),
    )
    asked = weighing(
        outing, air_costs_m_per_mag=15.0, bright_sky_costs_m_per_mag=40.0, cloud_costs_m=120.0
    )
    asked = dataclasses.replace(
        asked,
        night=dataclasses.replace(asked.night, forecast=file),
        exposure=dataclasses.replace(asked.exposure, brightness_from="towns"),
    )
    prepared = prepare_night(asked)
    plan = prepared.plan(whole_skyline=False)
    setup = setup_of(asked, prepared.scene, prepared.sky, plan.lenses, prepared.places)
    return Night(prepared, plan, setup, setup.starts(setup.tasks))


def own_cost_m(night: Night, job: int, start: int) -> float:
    """What the sky of one start counts, from a stand that is settled by itself."""
    task, scene = night.setup.tasks[job], night.prepared.scene
    half = dt.timedelta(minutes=task.minutes.frames_minutes / 2.0)
    stand = stand_at(task.scene, task.lens, night.setup.times[start] + half)
    (stand,) = with_cloud([stand], scene.forecast)
    return sky_cost_m(scene, stand, night.setup.asked.picture)


def test_every_start_counts_what_its_own_stand_says(night: Night) -> None:
    setup = night.setup
    pictures = setup.pictures(night.starts)
    for job, (picture, starts) in enumerate(zip(pictures, night.starts, strict=True)):
        counted = picture.cost_m(setup.asked.picture, setup.sky.clear_by_deg)
        for start in np.flatnonzero(starts.allowed)[::40]:
            own = own_cost_m(night, job, int(start))
            assert own > 10.0
            assert counted[start] == pytest.approx(own, rel=0.01)


def test_no_order_or_start_is_better(night: Night) -> None:
    setup = night.setup
    jobs = setup.jobs(setup.tasks, night.starts, pictures=setup.pictures(night.starts))
    plain = setup.jobs(setup.tasks, night.starts)
    few = np.zeros_like(jobs.allowed)
    own: dict[tuple[int, int], float] = {}
    for job in range(len(few)):
        some = np.flatnonzero(jobs.allowed[job])
        for start in some[np.linspace(0, len(some) - 1, FEW).astype(int)]:
            few[job, start] = True
            # Walking, waiting and room as without skies, and the sky by itself.
            own[job, int(start)] = float(plain.start_cost[job, start]) + own_cost_m(
                night, job, int(start)
            )
    found = best_schedule(dataclasses.replace(jobs, allowed=few))
    best = np.inf
    for order in permutations(range(len(few))):
        for at in product(*(np.flatnonzero(few[job]).tolist() for job in order)):
            total = own[order[0], at[0]]
            for a, b, i, j in zip(order, order[1:], at, at[1:], strict=False):
                leg = jobs.leg(a, b, i, j)
                if i >= j or leg.waited_minutes < -1e-9:
                    total = np.inf
                    break
                total += own[b, j] + float(leg.walked_m)
                total += setup.asked.wait_costs_m * float(leg.waited_minutes)
            best = min(best, total)
    assert len(found.turns) == len(few)
    assert found.cost == pytest.approx(best, rel=5e-3)


def test_turns_say_what_their_sky_counted(night: Night) -> None:
    session = night.plan.session
    assert session is not None
    found = session_explanations(night.plan)
    for shot in session.shots:
        sky = shot.sky
        assert sky is not None
        assert sky.cost_m == pytest.approx(
            sky_cost_m(night.prepared.scene, shot.stand, night.setup.asked.picture), rel=0.01
        )
        assert 0.0 < sky.cloud_share <= 1.0
        name = f"turn_sky.{shot.lens.label.replace(' ', '')}.bright_sky_cost_m"
        assert found[name].value == sky.bright_sky_cost_m
    assert any("by the forecast" in note for note in session.notes)


def test_what_a_clearer_start_would_cost_is_told(night: Night, tmp_path: Path) -> None:
    """With a weight too light to take a lens hours before cloud comes, what that costs is said."""
    asked = night.prepared.outing
    rising = written(tmp_path / "rising.csv", asked.night.evening, lambda h: 20 * (h - 8))
    light = prepare_night(
        dataclasses.replace(
            weighing(asked, cloud_costs_m=1.0),
            exposure=asked.exposure,
            night=dataclasses.replace(asked.night, forecast=rising),
        )
    ).plan(whole_skyline=False)
    assert light.session is not None
    offers = [other for shot in light.session.shots for other in shot.other_starts]
    clearer = [other for other in offers if other.why == "cloud"]
    assert clearer
    for other in clearer:
        assert "of the line of sight less in cloud" in other.sentence
        assert other.costs_m > 0.0
        assert other.minutes < 0.0


def test_a_weight_moves_the_turns_and_none_leaves_them(night: Night, outing: Outing) -> None:
    """Cloud that thins out draws the session later; weights of 0 look at no sky at all."""
    asked = night.prepared.outing
    without = prepare_night(
        dataclasses.replace(weighing(asked), exposure=asked.exposure, night=asked.night)
    ).plan(whole_skyline=False)
    assert without.session is not None
    assert all(shot.sky is None for shot in without.session.shots)
    heavy = prepare_night(
        dataclasses.replace(
            weighing(asked, cloud_costs_m=5_000.0), exposure=asked.exposure, night=asked.night
        )
    ).plan(whole_skyline=False)
    assert heavy.session is not None
    before, after = (
        sum(shot.sky.cloud_share if shot.sky else shot.stand.cloud.towards for shot in one.shots)
        for one in (without.session, heavy.session)
    )
    assert after < before
