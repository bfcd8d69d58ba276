"""A session that heeds its pictures: against settled stands, and against trying everything."""

from __future__ import annotations

import dataclasses
import datetime as dt
from itertools import combinations, permutations, product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest
import shapely

from backbearing.alignment import plan_night
from backbearing.alignment.night.from_outing import night_sky, scene_of, zone_of
from backbearing.alignment.session.blind_patch import Eye
from backbearing.alignment.session.plan_session import plan_session, setup_of
from backbearing.alignment.session.schedule import best_schedule
from backbearing.alignment.stand.outline_edges import outline_area
from backbearing.alignment.stand.stand_doubts import with_doubts
from backbearing.alignment.stand.stands import stand_at
from backbearing.alignment.view.frame_ground import HeldCamera
from backbearing.base.local_plane import LocalPlane
from backbearing.land.walks import walking_speed_m_per_minute
from backbearing.outing.session_request import NO_WISHES, PictureRequest
from invented import hill, write_outing
from session_costs import picture_cost_m

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan
    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.session.tasks import Task
    from backbearing.outing.request import Outing
    from backbearing.plan.session import Session
    from backbearing.plan.stand import Stand
    from backbearing.terrain import Elevation

Between = dict[tuple[int, int, int, int], tuple[bool, bool]]
"""By lens and start before, lens and start after: the stand before shows, a light must move."""

EVERY = 13
"""Minutes between the few starts of which everything is tried."""


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


class Night(NamedTuple):
    """The sample's session, with every so many of its starts settled one by one."""

    setup: SessionSetup
    starts: list[Starts]
    some: list[int]
    stands: list[dict[int, Stand]]


def asked(outing: Outing, **picture: float | None) -> Outing:
    """Ask for other pictures of the session."""
    assert outing.session is not None
    wishes = dataclasses.replace(outing.session.picture, **picture)  # type: ignore[arg-type]
    return dataclasses.replace(outing, session=dataclasses.replace(outing.session, picture=wishes))


def planned(plan: Plan, outing: Outing, elevation: Elevation, **picture: float | None) -> Session:
    own = asked(outing, **picture)
    scene, zone = scene_of(own, elevation), zone_of(own)
    return plan_session(own, scene, night_sky(own.night, scene, zone), plan.lenses, plan.places)


@pytest.fixture(scope="module")
def night(plan: Plan, outing: Outing, elevation: Elevation) -> Night:
    scene, zone = scene_of(outing, elevation), zone_of(outing)
    sky = night_sky(outing.night, scene, zone)
    setup = setup_of(outing, scene, sky, plan.lenses, plan.places)
    starts = setup.starts(setup.tasks)
    open_at = np.any([one.allowed for one in starts], axis=0)
    some = [int(i) for i in np.flatnonzero(open_at)[::EVERY]]
    stands = []
    for task, one in zip(setup.tasks, starts, strict=True):
        half = dt.timedelta(minutes=task.minutes.frames_minutes / 2.0)
        stands.append({i: settled(task, setup.times[i] + half) for i in some if one.allowed[i]})
    return Night(setup, starts, some, stands)


def settled(task: Task, time: dt.datetime) -> Stand:
    """One stand by itself, its doubt with it."""
    (stand,) = with_doubts([stand_at(task.scene, task.lens, time)], task.scene)
    return stand


def own_cost_m(
    setup: SessionSetup, stand: Stand, least_deg: float, wishes: PictureRequest
) -> float:
    """What one settled stand's picture counts."""
    sure = stand.clearance_bias_deg + 2.5 * stand.clearance_sigma_deg
    return picture_cost_m(
        setup.scene, stand, wishes, above_top_deg=stand.above_top_deg,
        over_asked_deg=least_deg - sure - setup.sky.clear_by_deg,
    )  # fmt: skip


def try_everything(night: Night, between: Between, wishes: PictureRequest) -> tuple[int, float]:
    """Every subset, order and start among the few, with costs made from settled stands."""
    setup, outing = night.setup, night.setup.outing
    local = LocalPlane(outing.subject.lat, outing.subject.lon)
    assert outing.session is not None
    speed = float(walking_speed_m_per_minute(0.0)) * 0.6 / outing.session.night_factor
    alone, spot = {}, {}
    for job, stands in enumerate(night.stands):
        for i, stand in stands.items():
            least = float(night.starts[job].clearance_deg[:, i].min())
            east, north = local.metres(lat=stand.lat, lon=stand.lon)
            spot[job, i] = (float(east), float(north))
            room = room_minutes(night.starts[job], i)
            alone[job, i] = (
                own_cost_m(setup, stand, least, wishes)
                + 0.001 * i
                + 2.0 * outing.session.wait_costs_m * max(outing.session.room_minutes - room, 0.0)
            )
    for size in range(len(night.stands), 0, -1):
        best = np.inf
        for jobs in combinations(range(len(night.stands)), size):
            for order in permutations(jobs):
                for at in product(*(sorted(night.stands[job]) for job in order)):
                    total = alone[order[0], at[0]]
                    for (a, i), (b, j) in zip(
                        zip(order, at, strict=True), zip(order[1:], at[1:], strict=True),
                        strict=False,
                    ):  # fmt: skip
                        walked = float(np.hypot(*np.subtract(spot[a, i], spot[b, j])))
                        minutes = setup.tasks[b].minutes
                        walk = max(minutes.walk_minutes, walked / speed)
                        before = walk + minutes.setup_minutes + minutes.focus_minutes
                        if i >= j:
                            total = np.inf
                            break
                        free = j - i - setup.tasks[a].minutes.frames_minutes - before
                        unlike = night.stands[a][i].above_top_deg - night.stands[b][j].above_top_deg
                        total += alone[b, j] + walked + outing.session.wait_costs_m * free
                        total += wishes.alike_costs_m_per_deg * abs(unlike)
                        shows, moves = between[a, i, b, j]
                        total += wishes.stand_before_shows_costs_m * shows
                        total += wishes.light_moves_costs_m * moves
                        if free < -1e-9 or total >= best:
                            total = np.inf
                            break
                    best = min(best, total)
        if np.isfinite(best):
            return size, best
    return 0, 0.0


@pytest.fixture(scope="module")
def between(night: Night) -> Between:
    return {
        (a, i, b, j): after_another(night.setup, one, two)
        for a, before in enumerate(night.stands)
        for b, after in enumerate(night.stands)
        for i, one in before.items()
        for j, two in after.items()
        if a != b and i < j
    }


def after_another(setup: SessionSetup, before: Stand, after: Stand) -> tuple[bool, bool]:
    """Whether the stand before shows and a light must move, from the meaning of the two keys."""
    subject = setup.scene.subject
    local = LocalPlane(subject.lat, subject.lon)
    east, north = (
        np.array(v) for v in local.metres(lat=[before.lat, after.lat], lon=[before.lon, after.lon])
    )
    eye = Eye(float(east[1]), float(north[1]), after.ground_m + setup.scene.framing.eye_height_m)
    held = HeldCamera(eye, setup.scene.camera, after.lens, after.bearing_deg, after.pitch_deg)
    shows = held.shows(
        lambda e, _: np.full(np.shape(e), before.ground_m), float(east[0]), float(north[0]),
        height_m=1.8, width_m=0.6,
    )  # fmt: skip
    # Every spot on circles about a post as wide as the trunk at its narrowest below half a metre,
    # the light 0.3 m wide and with 5 cm of room to every side.
    outline = outline_area(subject.shape)
    trunk = min(
        outline.intersection(shapely.LineString([(-9.0, up), (9.0, up)])).length
        for up in np.linspace(1e-6, 0.5, 16)
    )
    west, _, ahead, _ = outline.intersection(shapely.box(-9.0, 0.0, 9.0, 0.12)).bounds
    least = 0.5 * (ahead - west) + 0.15 + 0.1 + 0.05
    behind = np.arctan2(-east.mean(), -north.mean())
    angle = behind + np.radians(np.arange(-30.0, 30.0, 0.01))
    radius, angle = np.meshgrid(np.geomspace(least, 39.95, 12), angle)
    x, y = radius * np.sin(angle), radius * np.cos(angle)
    hidden = np.ones(x.shape, dtype=bool)
    for e, n in zip(east, north, strict=True):
        away = np.hypot(e, n)
        back = -(x * e + y * n) / away
        aside = np.abs(x * n - y * e) / away
        half = 0.5 * trunk * (away + back) / away - 0.15 - 0.05
        hidden &= (back >= 0.0) & (aside <= half)
    return shows, not hidden.any()


def room_minutes(starts: Starts, i: int) -> float:
    """Whole minutes until something other than hours and breaks spoils a later start."""
    spoilt = np.any([v for k, v in starts.causes.items() if k not in ("hours", "break")], axis=0)
    later = i
    while later + 1 < len(spoilt) and not spoilt[later] and not spoilt[later + 1]:
        later += 1
    return float(later - i)


def wishes_of(seed: int) -> PictureRequest:
    rng = np.random.default_rng(seed)
    weights = rng.choice([0.0, 1.0, 10.0, 40.0], 6)
    return PictureRequest(
        above_top_wanted_deg=float(rng.uniform(0.0, 15.0)) if rng.random() < 0.5 else None,
        above_top_costs_m_per_deg=float(weights[0]),
        ridge_costs_m_per_deg=float(weights[1]),
        skyline_break_wanted_deg=float(rng.uniform(-5.0, 5.0)),
        skyline_break_costs_m_per_deg=float(weights[2]),
        alike_costs_m_per_deg=float(weights[3]),
        stand_before_shows_costs_m=float(weights[4]),
        light_moves_costs_m=float(weights[5]),
    )


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_no_order_or_start_of_the_sample_is_better(
    night: Night, between: Between, seed: int
) -> None:
    wishes = wishes_of(seed)
    session = dataclasses.replace(night.setup.asked, picture=wishes)
    setup = dataclasses.replace(night.setup, asked=session)
    jobs = setup.jobs(setup.tasks, night.starts, pictures=setup.pictures(night.starts))
    few = np.zeros_like(jobs.allowed)
    few[:, night.some] = jobs.allowed[:, night.some]
    found = best_schedule(dataclasses.replace(jobs, allowed=few))
    size, cost = try_everything(night, between, wishes)
    assert len(found.turns) == size == 4
    assert found.cost == pytest.approx(cost, abs=1e-3)


def test_with_all_weights_0_walking_and_waiting_choose_alone(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    # The order and starts before pictures counted.
    found = planned(
        plan, outing, elevation, above_top_costs_m_per_deg=0.0, ridge_costs_m_per_deg=0.0,
        skyline_break_costs_m_per_deg=0.0, alike_costs_m_per_deg=0.0,
        stand_before_shows_costs_m=0.0, light_moves_costs_m=0.0,
    )  # fmt: skip
    turns = [(shot.lens.focal_length_mm, f"{shot.frames_start:%H:%M}") for shot in found.shots]
    assert turns == [(48.0, "04:01"), (35.0, "04:16"), (21.0, "04:31"), (15.0, "04:46")]
    assert found.price is not None
    assert found.price.more_waiting_minutes == 0.0
    assert all(shot.other_starts == () for shot in found.shots)
    weights = {f.name for f in dataclasses.fields(NO_WISHES) if "_costs_m" in f.name}
    assert weights == {
        "above_top_costs_m_per_deg", "ridge_costs_m_per_deg", "skyline_break_costs_m_per_deg",
        "alike_costs_m_per_deg", "stand_before_shows_costs_m", "light_moves_costs_m",
        "air_costs_m_per_mag", "bright_sky_costs_m_per_mag", "cloud_costs_m",
    }  # fmt: skip
    assert all(getattr(NO_WISHES, name) == 0.0 for name in weights)


def test_with_the_two_weights_between_turns_0_only_pictures_count(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    # The order and starts before stands that show and lights that move counted.
    found = planned(
        plan, outing, elevation, stand_before_shows_costs_m=0.0, light_moves_costs_m=0.0
    )
    turns = [(shot.lens.focal_length_mm, f"{shot.frames_start:%H:%M}") for shot in found.shots]
    assert turns == [(48.0, "04:17"), (15.0, "05:30"), (21.0, "05:45"), (35.0, "06:00")]
    assert found.shots[3].stand.skyline_break_deg >= 0.0
    assert found.lighting is not None
    assert found.lighting.in_later_frames != ()
    # With them nobody at a stand shows in a later frame, for pictures no worse together.
    assert plan.session is not None
    assert plan.session.lighting is not None
    assert plan.session.lighting.in_later_frames == ()
    assert sum(s.picture.cost_m for s in plan.session.shots if s.picture) <= sum(
        s.picture.cost_m for s in found.shots if s.picture
    )


def test_a_picture_is_not_drowned_where_a_later_turn_helps(plan: Plan) -> None:
    assert plan.session is not None
    turns = {shot.lens.focal_length_mm: shot.stand for shot in plan.session.shots}
    # By walking and waiting alone the 35 mm lens has the top 4.5 degrees below the land.
    assert turns[35.0].skyline_break_deg >= -0.3
    # The 48 mm lens holds both only until 00:38, when the land behind still stands higher.
    assert turns[48.0].skyline_break_deg < -8.0


def test_a_turns_figures_are_those_of_its_stand(plan: Plan, outing: Outing) -> None:
    assert plan.session is not None
    assert outing.session is not None
    wishes = outing.session.picture
    for shot in plan.session.shots:
        picture = shot.picture
        assert picture is not None
        assert picture.above_top_deg == shot.stand.above_top_deg
        off = abs(picture.above_top_deg - picture.above_top_wanted_deg)
        assert picture.above_top_off_deg == pytest.approx(off)
        assert picture.above_top_cost_m == pytest.approx(10.0 * off)
        doubt = shot.stand.clearance_bias_deg + 2.5 * shot.stand.clearance_sigma_deg
        assert picture.ridge_doubt_deg == pytest.approx(doubt, abs=1e-6)
        low = max(-shot.stand.skyline_break_deg, 0.0)
        assert picture.skyline_break_short_deg == pytest.approx(low)
        assert picture.skyline_break_cost_m == pytest.approx(30.0 * low)
        left = shot.least_clearance_deg - picture.ridge_doubt_deg
        assert picture.ridge_short_deg == pytest.approx(max(outing.night.clear_by_deg - left, 0.0))
        assert picture.cost_m == pytest.approx(
            picture.above_top_cost_m + picture.ridge_cost_m + picture.skyline_break_cost_m
        )
    assert wishes.alike_costs_m_per_deg == 0.0


def test_like_with_like_brings_the_turns_placements_together(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    def apart_deg(found: Session) -> float:
        over = [shot.stand.above_top_deg for shot in found.shots]
        return float(np.abs(np.diff(over)).sum())

    assert plan.session is not None
    alike = planned(plan, outing, elevation, alike_costs_m_per_deg=500.0)
    assert len(alike.shots) == 4
    assert apart_deg(alike) < 0.8 * apart_deg(plan.session)
    second = alike.shots[1]
    assert second.picture is not None
    assert second.picture.alike_cost_m == pytest.approx(500.0 * second.picture.alike_off_deg)
    assert second.picture.alike_off_deg == pytest.approx(
        abs(second.stand.above_top_deg - alike.shots[0].stand.above_top_deg)
    )


def test_a_wished_height_is_come_near_to(plan: Plan, outing: Outing, elevation: Elevation) -> None:
    def off_deg(found: Session) -> float:
        return sum(abs(shot.stand.above_top_deg - 9.0) for shot in found.shots)

    assert plan.session is not None
    near = planned(
        plan, outing, elevation, above_top_wanted_deg=9.0, above_top_costs_m_per_deg=1000.0
    )
    assert off_deg(near) < off_deg(plan.session)
    assert all(shot.picture and shot.picture.above_top_wanted_deg == 9.0 for shot in near.shots)


def test_other_starts_are_true(plan: Plan, night: Night) -> None:
    session = plan.session
    assert session is not None
    seen = 0
    for shot in session.shots:
        for other in shot.other_starts:
            seen += 1
            later = (other.frames_start - shot.frames_start).total_seconds() / 60.0
            assert other.minutes == later
            task = next(t for t in night.setup.tasks if t.lens == shot.lens)
            half = dt.timedelta(minutes=task.minutes.frames_minutes / 2.0)
            stand = settled(task, other.frames_start + half)
            assert other.above_top_change_deg == pytest.approx(
                stand.above_top_deg - shot.stand.above_top_deg, abs=1e-6
            )
            assert other.skyline_break_change_deg == pytest.approx(
                stand.skyline_break_deg - shot.stand.skyline_break_deg, abs=1e-6
            )
            assert np.isnan(other.costs_m) == (other.why == "walking")
            assert not other.costs_m < 0.0
            assert f"{abs(later):.0f} min {'later' if later > 0 else 'earlier'}" in other.sentence
    assert seen >= 4


def test_the_price_is_what_walking_and_waiting_alone_would_save(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    found = plan.session
    assert found is not None
    assert found.price is not None
    alone = planned(
        plan, outing, elevation, above_top_costs_m_per_deg=0.0, ridge_costs_m_per_deg=0.0,
        skyline_break_costs_m_per_deg=0.0, stand_before_shows_costs_m=0.0,
        light_moves_costs_m=0.0,
    )  # fmt: skip
    assert found.price.more_waiting_minutes == pytest.approx(
        found.waiting_minutes - alone.waiting_minutes
    )
    # Walks go round what is closed; the choice is by straight lines.
    assert found.price.more_walked_m == pytest.approx(found.walked_m - alone.walked_m, abs=0.5)
    pictures = [shot.picture for shot in found.shots if shot.picture]
    counted = sum(
        one.cost_m + one.stand_before_shows_cost_m + one.light_moves_cost_m for one in pictures
    )
    assert [one.light_moves_cost_m for one in pictures] == [0.0, 20.0, 0.0, 0.0]
    assert found.price.picture_m == pytest.approx(counted, abs=1e-3)
    assert found.price.walking_picture_m > found.price.picture_m


@pytest.mark.slow
def test_the_wide_lens_waits_until_the_core_stands_over_the_subject(tmp_path: Path) -> None:
    # A hill at 31 S with the core rising: by walking and waiting alone the 15 mm lens had it
    # 1.4 degrees over the top, though more than an hour was left of the hours asked.
    def wide(**weights: float) -> Stand:
        outing = write_outing(
            tmp_path, lat=-31.0, lon=149.0, evening=dt.date(2027, 4, 25), ground=hill(120.0, 800.0),
            lenses=(15.0, 21.0, 35.0, 48.0), subject={"height_m": 6.0, "width_m": 2.0},
            framing={"share": 0.36, "base_margin": 0.08},
            night={"time_zone": "Australia/Sydney", "moon": "any"},
            session={"not_after": "23:30", "frames_minutes": 5.0, **weights},
        )  # fmt: skip
        session = plan_night(outing).session
        assert session is not None
        assert session.left_out == ()
        return next(s.stand for s in session.shots if s.lens.focal_length_mm == 15.0)

    walking = wide(
        above_top_costs_m_per_deg=0.0, ridge_costs_m_per_deg=0.0,
        skyline_break_costs_m_per_deg=0.0, stand_before_shows_costs_m=0.0, light_moves_costs_m=0.0,
    )  # fmt: skip
    assert walking.above_top_deg < 3.0
    assert wide().above_top_deg > 12.0
