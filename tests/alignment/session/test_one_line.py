"""The kit from one line, against trying every minute and every choice of lenses."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from itertools import combinations, product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest

from backbearing.alignment.night.from_outing import night_sky, scene_of, zone_of
from backbearing.alignment.session.one_line import one_line
from backbearing.alignment.session.plan_session import setup_of
from backbearing.alignment.stand.stands import stand_at
from backbearing.alignment.stand.uncertainty import errors_of
from backbearing.camera.framing import frame_position
from backbearing.outing.session_request import PictureRequest
from backbearing.sky import direction
from session_costs import picture_cost_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment import Plan
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.session.tasks import Task
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


class Best(NamedTuple):
    """The best line there is: how many lenses, which way, span, cost, minute, and which lenses."""

    count: int
    inward: bool
    span_minutes: float
    cost_m: float
    time: dt.datetime
    focal_mm: tuple[float, ...]


@pytest.fixture(scope="module")
def setup(plan: Plan, outing: Outing, elevation: Elevation) -> SessionSetup:
    # A box in place of the sample's outline: what it hides is a matter of two comparisons.
    box = dataclasses.replace(
        outing, subject=dataclasses.replace(outing.subject, outline=None, width_m=5.0)
    )
    scene, zone = scene_of(box, elevation), zone_of(box)
    return setup_of(box, scene, night_sky(box.night, scene, zone), plan.lenses, plan.places)


def asking(setup: SessionSetup, seed: int) -> SessionSetup:
    """The sample's session with few minutes to choose from, asked for in some other way."""
    rng = np.random.default_rng(seed)
    wishes = PictureRequest(
        above_top_wanted_deg=float(rng.uniform(2.0, 15.0)) if rng.random() < 0.5 else None,
        above_top_costs_m_per_deg=float(rng.choice([0.0, 10.0])),
        ridge_costs_m_per_deg=float(rng.choice([0.0, 40.0])),
        skyline_break_costs_m_per_deg=float(rng.choice([0.0, 30.0])),
        line_change_minutes=float(rng.choice([0.5, 2.0, 3.0])),
    )
    tasks = tuple(
        dataclasses.replace(
            task,
            minutes=dataclasses.replace(
                task.minutes, frames_minutes=float(rng.choice([1.0, 2.5, 6.0]))
            ),
        )
        for task in setup.tasks
    )
    limits = setup.limits
    if rng.random() < 0.5:
        limits = dataclasses.replace(limits, not_before=None, not_after=None)
    return dataclasses.replace(
        setup, tasks=tasks, limits=limits, times=setup.times[int(rng.integers(0, 31)) :: 31],
        asked=dataclasses.replace(setup.asked, picture=wishes),
    )  # fmt: skip


def turn_cost_m(
    setup: SessionSetup, task: Task, stand: Stand, begin: dt.datetime, end: dt.datetime
) -> float:
    """What one lens of a line counts; infinite where it does not work."""
    scene, dark = task.scene, setup.sky.dark
    if not any(window.start <= begin and end <= window.end for window in dark):
        return math.inf
    looks = max(3, math.ceil((end - begin).total_seconds() / 120.0) + 1) | 1
    times = [begin + (end - begin) * k / (looks - 1) for k in range(looks)]
    azimuth, altitude = direction(
        scene.target, lat=stand.lat, lon=stand.lon, height_m=stand.ground_m, times=times
    )
    x, y = frame_position(
        scene.camera, task.lens, axis_azimuth_deg=stand.bearing_deg, pitch_deg=stand.pitch_deg,
        azimuth_deg=azimuth, altitude_deg=altitude,
    )  # fmt: skip
    edge = scene.framing.edge_margin
    if not all(edge <= value <= 1.0 - edge for value in (*x, *y)):
        return math.inf
    assert scene.elevation is not None
    seen = scene.elevation.horizon(
        lat=stand.lat, lon=stand.lon, azimuths_deg=azimuth, ground_m=stand.ground_m,
        eye_height_m=scene.framing.eye_height_m, max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
    )  # fmt: skip
    least = float((altitude - seen.altitudes_deg).min())
    if least < setup.sky.clear_by_deg or float(altitude.min()) <= 0.0:
        return math.inf
    half = looks // 2
    doubt = scene.elevation.skyline_doubt(seen, errors_of(scene, scene.elevation))
    sure = float(doubt.rise_deg[half] + 2.5 * doubt.sigma_deg[half])
    top = stand.target_altitude_deg - stand.above_top_deg
    turn = np.radians(azimuth - stand.bearing_deg)
    before = np.tan(np.radians(altitude)) / np.cos(turn) < math.tan(math.radians(top))
    if (before & (np.abs(stand.distance_m * np.tan(turn)) < 2.5)).any():
        return math.inf
    aside = stand.distance_m * math.sin(math.radians(azimuth[half] - stand.target_azimuth_deg))
    return abs(aside) + picture_cost_m(
        scene, stand, setup.asked.picture, above_top_deg=float(altitude[half]) - top,
        over_asked_deg=least - sure - setup.sky.clear_by_deg,
    )  # fmt: skip


def hours_hold(setup: SessionSetup, begin: dt.datetime, end: dt.datetime) -> bool:
    """Whether setting up, all frames and changes keep to the asked hours and out of breaks."""
    limits = setup.limits
    return (
        (limits.not_before is None or begin >= limits.not_before)
        and (limits.not_after is None or end <= limits.not_after)
        and not any(begin < pause.end and end > pause.start for pause in limits.pauses)
    )


def line_cost_m(
    setup: SessionSetup, tasks: Sequence[Task], time: dt.datetime, stands: Sequence[Stand]
) -> tuple[float, float]:
    """Span and cost of some lenses in their order, from the line of a minute."""
    change = setup.asked.picture.line_change_minutes
    lengths = [task.minutes.frames_minutes for task in tasks]
    span = sum(lengths) + change * (len(lengths) - 1)
    at = time - dt.timedelta(minutes=span / 2.0)
    first = tasks[0].minutes
    earliest = at - dt.timedelta(minutes=first.setup_minutes + first.focus_minutes)
    if not hours_hold(setup, earliest, time + dt.timedelta(minutes=span / 2.0)):
        return span, math.inf
    total = 0.0
    for task, stand, length in zip(tasks, stands, lengths, strict=True):
        end = at + dt.timedelta(minutes=length)
        total += turn_cost_m(setup, task, stand, at, end)
        at = end + dt.timedelta(minutes=change)
    return span, total


def try_everything(setup: SessionSetup) -> Best | None:
    """All minutes and all choices of two or more lenses."""
    stands = {
        (i, time): stand_at(task.scene, task.lens, time)
        for i, task in enumerate(setup.tasks)
        for time in setup.times
    }
    found = []
    # The sample's kit stands the farther the longer the lens.
    kit = sorted(range(len(setup.tasks)), key=lambda i: setup.tasks[i].lens.focal_length_mm)
    for count, inward in product(range(2, len(kit) + 1), (False, True)):
        for some in combinations(kit[::-1] if inward else kit, count):
            for time in setup.times:
                at = [stands[i, time] for i in some]
                if not all(np.isfinite(stand.lat) for stand in at):
                    continue
                tasks = [setup.tasks[i] for i in some]
                span, cost = line_cost_m(setup, tasks, time, at)
                if math.isfinite(cost):
                    focal = tuple(task.lens.focal_length_mm for task in tasks)
                    found.append(Best(count, inward, span, cost, time, focal))
    return min(found, key=lambda one: (-one.count, *one[1:4]), default=None)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_no_other_line_or_minute_is_better(setup: SessionSetup, seed: int) -> None:
    own = asking(setup, seed)
    found, best = one_line(own), try_everything(own)
    assert found is not None
    assert best is not None
    assert tuple(one.lens.focal_length_mm for one in found.lenses) == best.focal_mm
    assert found.span_minutes == pytest.approx(best.span_minutes)
    assert found.time == best.time
    assert found.inward is best.inward


@pytest.mark.slow
def test_stepping_in_where_more_lenses_work_so(setup: SessionSetup) -> None:
    # The 48 mm lens holds both only early in the night: who may begin no sooner takes it first.
    first = setup.limits.not_before
    assert first is not None
    limits = dataclasses.replace(
        setup.limits,
        not_before=first + dt.timedelta(minutes=36), not_after=first + dt.timedelta(minutes=85),
    )  # fmt: skip
    own = dataclasses.replace(setup, limits=limits, times=setup.times[::3])
    found, best = one_line(own), try_everything(own)
    assert found is not None
    assert best is not None
    assert best.inward
    assert found.inward
    assert found.time == best.time
    assert tuple(one.lens.focal_length_mm for one in found.lenses) == best.focal_mm
    away = [one.distance_m for one in found.lenses]
    assert away == sorted(away, reverse=True)
    assert "stepping in (more lenses work so than while stepping back)" in found.sentence


def test_what_each_lens_loses_is_what_the_sky_does_meanwhile(
    plan: Plan, elevation: Elevation
) -> None:
    assert plan.session is not None
    line = plan.session.one_line
    assert line is not None
    for one in line.lenses:
        middle = one.frames_start + (one.frames_end - one.frames_start) / 2
        ground = float(elevation.height_at(lat=one.lat, lon=one.lon))
        where = {"lat": one.lat, "lon": one.lon, "height_m": ground}
        (then,), (own,) = (
            np.transpose(direction(plan.target, **where, times=[time]))
            for time in (line.time, middle)
        )
        assert one.right_deg == pytest.approx(float(own[0] - then[0]), abs=1e-9)
        assert one.above_top_loss_deg == pytest.approx(float(then[1] - own[1]), abs=1e-9)
        # The bearings of both minutes as unit vectors on the ground: their cross product.
        a, b = np.radians([own[0], then[0]])
        cross = np.sin(a) * np.cos(b) - np.cos(a) * np.sin(b)
        assert one.aside_m == pytest.approx(one.distance_m * float(cross), abs=1e-9)
        assert abs(one.right_deg) <= 15.1 * line.span_minutes / 60.0 / np.cos(np.radians(own[1]))


def test_lenses_follow_one_another_along_the_line(plan: Plan) -> None:
    assert plan.session is not None
    line = plan.session.one_line
    assert line is not None
    assert line.start == line.lenses[0].frames_start
    assert line.end == line.lenses[-1].frames_end
    assert (line.end - line.start).total_seconds() == pytest.approx(60.0 * line.span_minutes)
    # The sample's 48 mm lens holds both only early, so that all four work stepping in.
    assert line.inward
    assert len(line.lenses) == 4
    for far, near in zip(line.lenses, line.lenses[1:], strict=False):
        assert near.distance_m < far.distance_m
        pause = (near.frames_start - far.frames_end).total_seconds()
        assert pause == pytest.approx(60.0 * line.change_minutes)
    names = {one.lens for one in line.lenses} | set(line.left_out)
    assert names == {lens.lens for lens in plan.lenses}
    assert line.left_out == ()
    assert "Not from this line" not in line.sentence


def test_stepping_back_is_kept_where_as_many_lenses_work_so(setup: SessionSetup) -> None:
    # Without the lens that holds both only early, all work stepping back as well as in.
    own = dataclasses.replace(setup, tasks=setup.tasks[:3], times=setup.times[::3])
    line = one_line(own)
    assert line is not None
    assert not line.inward
    assert "stepping back" in line.sentence
    for near, far in zip(line.lenses, line.lenses[1:], strict=False):
        assert near.distance_m < far.distance_m
    used = {one.lens for one in line.lenses}
    assert used | set(line.left_out) == {task.lens for task in own.tasks}
    for lens in line.left_out:
        assert lens.label in line.sentence.split("Not from this line")[1]


def test_one_lens_is_no_line(setup: SessionSetup) -> None:
    assert one_line(dataclasses.replace(setup, tasks=setup.tasks[:1])) is None
    assert one_line(dataclasses.replace(setup, times=())) is None
