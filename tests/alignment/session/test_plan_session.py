"""The session of the sample night, against the sky and against trying everything."""

from __future__ import annotations

import dataclasses
import datetime as dt
from itertools import permutations
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import shapely

from backbearing.alignment import find_stands, plan_night
from backbearing.alignment.night.from_outing import night_sky, scene_of, zone_of
from backbearing.alignment.session.frame_starts import lens_starts
from backbearing.alignment.session.plan_session import plan_session
from backbearing.alignment.session.schedule import best_schedule
from backbearing.alignment.session.session_words import session_cautions
from backbearing.alignment.session.tasks import Limits, jobs_of, starts_of, tasks_of
from backbearing.alignment.stand.lens_optics import focus_facts
from backbearing.base.geodesy import line_between
from backbearing.base.grouped import changed
from backbearing.base.local_plane import LocalPlane
from backbearing.camera.trailing import trail_at
from backbearing.outing.session_request import NO_WISHES, PictureRequest
from backbearing.plan.place import Place
from backbearing.sky import direction

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.plan.session import Session
    from backbearing.terrain import Elevation


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


@pytest.fixture(scope="module")
def session(plan: Plan) -> Session:
    assert plan.session is not None
    return plan.session


def again(
    plan: Plan,
    outing: Outing,
    elevation: Elevation,
    places: tuple[Place, ...] = (),
    **changed: object,
) -> Session:
    """Plan only the session once more, with something changed in what was asked."""
    assert outing.session is not None
    asked = dataclasses.replace(outing.session, **changed)  # type: ignore[arg-type]
    own = dataclasses.replace(outing, session=asked)
    scene, zone = scene_of(own, elevation), zone_of(own)
    return plan_session(own, scene, night_sky(own.night, scene, zone), plan.lenses, places)


def separation_deg(a1: float, h1: float, a2: float, h2: float) -> float:
    """Angle between two directions by the dot product of unit vectors."""
    one, two = (
        np.array([np.cos(h) * np.sin(a), np.cos(h) * np.cos(a), np.sin(h)])
        for a, h in ((np.radians(a1), np.radians(h1)), (np.radians(a2), np.radians(h2)))
    )
    return float(np.degrees(np.arccos(np.clip(one @ two, -1.0, 1.0))))


def test_every_lens_has_a_turn_and_they_do_not_overlap(session: Session, outing: Outing) -> None:
    assert {s.lens for s in session.shots} == {r.lens for r in outing.lenses}
    assert session.left_out == ()
    for shot in session.shots:
        assert shot.walk_start <= shot.setup_start <= shot.focus_start <= shot.frames_start
        assert shot.frames_start < shot.frames_end
    for one, two in zip(session.shots, session.shots[1:], strict=False):
        assert one.frames_end <= two.walk_start
        assert two.wait_minutes == pytest.approx(
            (two.walk_start - one.frames_end).total_seconds() / 60.0
        )


def test_asked_hours_and_breaks_are_kept(session: Session, plan: Plan) -> None:
    zone = ZoneInfo(plan.zone)
    assert session.start is not None
    assert session.end is not None
    assert session.start >= dt.datetime(2027, 6, 5, 23, 30, tzinfo=zone)
    assert session.end <= dt.datetime(2027, 6, 6, 2, 30, tzinfo=zone)
    (pause,) = session.pauses
    assert pause.start == dt.datetime(2027, 6, 6, 1, 0, tzinfo=zone)
    for shot in session.shots:
        assert shot.frames_end <= pause.start or shot.walk_start >= pause.end


def test_the_core_keeps_its_place_while_each_lens_shoots(
    session: Session, plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    # From the standing tripod at six moments, with the sky asked anew.
    for shot in session.shots:
        stand = shot.stand
        place = stand.target_azimuth_deg, stand.target_altitude_deg
        length = shot.frames_end - shot.frames_start
        for share in np.linspace(0.0, 1.0, 6):
            azimuth, altitude = direction(
                plan.target, lat=stand.lat, lon=stand.lon, height_m=stand.ground_m,
                times=shot.frames_start + share * length,
            )  # fmt: skip
            drift = separation_deg(float(azimuth), float(altitude), *place)
            assert drift <= shot.drift_deg + 1e-6
            assert drift <= outing.framing.play_deg
            ridge = elevation.horizon(
                lat=stand.lat, lon=stand.lon, eye_height_m=outing.framing.eye_height_m,
                azimuths_deg=[float(azimuth)], max_distance_m=outing.ground.reach_m,
                refraction_k=outing.ground.refraction_k, ground_m=stand.ground_m,
            )  # fmt: skip
            assert float(altitude) - ridge.altitudes_deg[0] >= outing.night.clear_by_deg - 1e-6
            assert any(w.start <= shot.frames_start and shot.frames_end <= w.end for w in plan.dark)
        assert stand.in_frame
        for value in (shot.start_x, shot.end_x, shot.start_y, shot.end_y):
            assert 0.05 <= value <= 0.95


def test_stands_are_those_of_the_middle_of_the_frames(
    session: Session, outing: Outing, elevation: Elevation
) -> None:
    for shot in session.shots:
        middle = shot.frames_start + (shot.frames_end - shot.frames_start) / 2
        assert shot.stand.time == middle
        (stand,) = find_stands(
            outing.subject, outing.target, middle, outing.camera, [shot.lens], outing.framing,
            elevation, refraction_k=outing.ground.refraction_k,
        )  # fmt: skip
        assert stand.lat == pytest.approx(shot.stand.lat, abs=1e-9)
        assert stand.lon == pytest.approx(shot.stand.lon, abs=1e-9)


def test_no_other_order_or_minutes_are_better(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    scene, zone = scene_of(outing, elevation), zone_of(outing)
    sky = night_sky(outing.night, scene, zone)
    tasks = tasks_of(outing, scene, plan.lenses, zone)
    first = dt.datetime(2027, 6, 6, 3, 50, tzinfo=dt.UTC)
    times = [first + dt.timedelta(minutes=i) for i in range(0, 130, 1)]
    limits = Limits(None, None, ())
    starts = [starts_of(task, sky, times, limits, plan.places) for task in tasks]
    jobs = jobs_of(tasks, starts, night_factor=1.5, wait_costs_m=1.0, room_minutes=15.0)
    coarse = dataclasses.replace(
        jobs, minutes=jobs.minutes[::7], allowed=jobs.allowed[:, ::7],
        east_m=jobs.east_m[:, ::7], north_m=jobs.north_m[:, ::7],
        start_cost=jobs.start_cost[:, ::7],
    )  # fmt: skip
    found = best_schedule(coarse)
    best = np.inf
    for order in permutations(range(4)):
        best = min(best, best_of_order(coarse, order))
    assert len(found.turns) == 4
    assert found.cost == pytest.approx(best)


def best_of_order(jobs, order) -> float:  # type: ignore[no-untyped-def]
    """Least cost of one order by trying every start of every lens."""

    def after(k: int, last: int, start: int, cost: float) -> float:
        if k == len(order):
            return cost
        step = jobs.step_cost(last, order[k])[start]
        return min(
            (after(k + 1, order[k], j, cost + step[j]) for j in np.flatnonzero(np.isfinite(step))),
            default=np.inf,
        )

    first = jobs.first_cost(order[0])
    return min(
        (after(1, order[0], i, first[i]) for i in np.flatnonzero(np.isfinite(first))),
        default=np.inf,
    )


def test_steps_lead_from_stand_to_stand(session: Session) -> None:
    for one, two in zip(session.shots, session.shots[1:], strict=False):
        local = LocalPlane(one.stand.lat, one.stand.lon)
        bearing = np.radians(one.stand.bearing_deg)
        # Left of where one faces, and back from it, as plain vectors.
        east = -two.left_m * np.cos(bearing) - two.back_m * np.sin(bearing)
        north = two.left_m * np.sin(bearing) - two.back_m * np.cos(bearing)
        assert local.metres(lat=two.stand.lat, lon=two.stand.lon) == pytest.approx(
            (east, north), abs=1e-4
        )


def test_late_stands_are_the_later_stands(
    session: Session, outing: Outing, elevation: Elevation
) -> None:
    shot = session.shots[1]
    assert [late.late_minutes for late in shot.late] == [10.0, 20.0, 30.0]
    middle = (shot.frames_end - shot.frames_start) / 2
    for late in shot.late:
        (stand,) = find_stands(
            outing.subject, outing.target, late.frames_start + middle, outing.camera, [shot.lens],
            outing.framing, elevation, refraction_k=outing.ground.refraction_k,
        )  # fmt: skip
        moved = line_between(
            lat1=shot.stand.lat, lon1=shot.stand.lon, lat2=stand.lat, lon2=stand.lon
        )
        assert np.hypot(late.left_m, late.back_m) == pytest.approx(float(moved.distance_m))
        assert late.left_m > 0.0  # in the north the core goes right, and so the stand goes left
        assert "left" in late.sentence
        assert not late.limits


def test_a_late_stand_that_no_longer_works_says_why(session: Session) -> None:
    long = next(s for s in session.shots if s.lens.focal_length_mm == 48.0)
    assert "frame" in long.late[-1].limits
    assert long.late[-1].sentence.startswith("Too late: the target leaves its place")


def test_room_to_be_late_is_true(session: Session, outing: Outing, elevation: Elevation) -> None:
    scene, zone = scene_of(outing, elevation), zone_of(outing)
    sky = night_sky(outing.night, scene, zone)
    long = next(s for s in session.shots if s.lens.focal_length_mm == 48.0)
    assert long.room_minutes >= 15.0
    offsets = [long.room_minutes, long.room_minutes + 1.0]
    times = [long.frames_start + dt.timedelta(minutes=m) for m in offsets]
    later = lens_starts(scene, long.lens, sky, times, long.minutes.frames_minutes)
    assert later.allowed.tolist() == [True, False]


@pytest.mark.slow
def test_frames_longer_than_the_play_are_left_out_with_a_tried_remedy(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    assert outing.session is not None
    minutes = ((2.0, 4.0, 3.0, 6.0),) * 3 + ((2.0, 4.0, 3.0, 16.0),)
    found = again(plan, outing, elevation, minutes=minutes)
    (left,) = found.left_out
    assert left.lens.focal_length_mm == 48.0
    assert "play" in left.why
    (said,) = [r for r in left.remedies if "instead of 16" in r]
    frames = float(said.split("frames ")[1].split(" min")[0])
    saved = again(plan, outing, elevation, minutes=(*minutes[:3], (2.0, 4.0, 3.0, frames)))
    assert saved.left_out == ()


@pytest.mark.slow
def test_too_late_a_start_leaves_the_long_lens_out_and_an_earlier_one_saves_it(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    found = again(plan, outing, elevation, not_before="00:30")
    (left,) = found.left_out
    assert left.lens.focal_length_mm == 48.0
    assert "48 mm" in found.sentence
    (said,) = [r for r in left.remedies if "earlier" in r]
    clock = said.split("at ")[1][:5]
    assert again(plan, outing, elevation, not_before=clock).left_out == ()


def strip(plan: Plan, session: Session) -> Place:
    """A closed strip between the arcs of the first two stands, a good way round to either end."""
    first = session.shots[0]
    between = (first.stand.distance_m + session.shots[1].stand.distance_m) / 2.0
    outward = np.radians(first.placing.outward_deg + np.linspace(-110.0, 110.0, 45))
    rim = shapely.LineString(between * np.column_stack([np.sin(outward), np.cos(outward)]))
    local = LocalPlane(plan.subject.lat, plan.subject.lon)
    area = local.to_earth(rim.buffer(0.5))
    return Place("land", "Ferris strip (invented)", "", "closed", area)


@pytest.mark.slow
@pytest.mark.parametrize("wishes", [NO_WISHES, PictureRequest()])
def test_a_way_round_closed_land_gets_the_minutes_it_takes(
    plan: Plan, outing: Outing, elevation: Elevation, session: Session, wishes: PictureRequest
) -> None:
    closed = strip(plan, session)
    found = again(plan, outing, elevation, (closed,), picture=wishes)
    assert found.left_out == ()
    long = [shot for shot in found.shots if shot.walk is not None and shot.walk.longer_m > 30.0]
    assert long
    for shot in long:
        assert shot.walk is not None
        assert shot.walk.round_of == ("Ferris strip (invented)",)
        assert not closed.geometry.intersects(shot.walk.line)
        assert any("goes round Ferris strip" in said for said in shot.walk.cautions)
        spare = 0.0 if wishes == NO_WISHES else shot.wait_minutes
        assert shot.walk.night_minutes <= shot.minutes.walk_minutes + spare
    for one, two in zip(found.shots, found.shots[1:], strict=False):
        assert one.frames_end <= two.walk_start
    (pause,) = found.pauses
    for shot in found.shots:
        assert shot.frames_end <= pause.start or shot.walk_start >= pause.end
        assert shot.walk_start <= shot.setup_start
        if shot.walk is not None:
            walked = dt.timedelta(minutes=shot.walk.night_minutes)
            assert shot.walk_start + walked <= shot.setup_start + dt.timedelta(seconds=1)
    # With nothing to wait for the walk itself gets more minutes; in a long wait it has them.
    longer = any("min were planned for the walk" in note for note in found.notes)
    assert longer is (wishes == NO_WISHES)
    assert not any("is late" in said for said in found.cautions)


@pytest.mark.slow
def test_no_way_round_is_said_with_the_walk(
    plan: Plan, outing: Outing, elevation: Elevation, session: Session
) -> None:
    local = LocalPlane(plan.subject.lat, plan.subject.lon)
    between = (session.shots[0].stand.distance_m + session.shots[1].stand.distance_m) / 2.0
    ring = shapely.Point(0.0, 0.0).buffer(between).exterior.buffer(0.4)
    closed = Place("land", "Ferris ring (invented)", "", "closed", local.to_earth(ring))
    found = again(plan, outing, elevation, (closed,))
    walks = [shot.walk for shot in found.shots if shot.walk is not None]
    (crossing,) = [walk for walk in walks if walk.closed]
    assert np.isnan(crossing.longer_m)
    assert any("No way round Ferris ring" in said for said in found.cautions)


def test_a_walk_that_ends_too_late_names_its_lens(session: Session) -> None:
    late = changed(session.shots[1], wait_minutes=-4.0)
    said = session_cautions((session.shots[0], late), None, None)
    (one,) = [text for text in said if "is late" in text]
    assert one.startswith(f"{late.lens.label} is late")
    assert "4 min" in one


def test_figures_are_those_of_the_turns_own_stand(
    session: Session, plan: Plan, outing: Outing
) -> None:
    others = 0
    for shot in session.shots:
        figures, stand = shot.figures, shot.stand
        assert figures.focus is not None
        assert figures.focus == focus_facts(
            outing.camera, shot.lens, stand.distance_m, outing.accepted_blur_px
        )
        assert figures.trail_core_px == pytest.approx(
            float(
                trail_at(
                    outing.camera, shot.lens, shutter_s=figures.shutter_s, x=stand.target_x,
                    y=stand.target_y, pitch_deg=stand.pitch_deg, azimuth_deg=stand.bearing_deg,
                    lat=stand.lat,
                )
            )
        )  # fmt: skip
        each = figures.shutter_s + outing.exposure.pause_s
        fit = figures.frames_that_fit
        assert fit * each <= 60.0 * shot.minutes.frames_minutes < (fit + 1) * each
        own = next(lens for lens in plan.lenses if lens.lens == shot.lens)
        # Another minute, another place; one lens has its turn at its own best minute.
        same = own.stand is not None and own.stand.time == stand.time
        assert (figures.trail_core_px == own.trail_core_px) is same
        others += not same
    assert others >= 3


@pytest.mark.slow
def test_frames_left_to_the_exposure_fit_into_their_turn(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    found = again(plan, outing, elevation, minutes=((2.0, 4.0, 3.0, None),) * 4)
    assert found.shots
    for shot in found.shots:
        assert shot.figures.frames_that_fit >= outing.exposure.frames


@pytest.mark.slow
def test_a_whole_night_closed_leaves_all_out(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    found = again(plan, outing, elevation, not_after="23:40")
    assert found.shots == ()
    assert len(found.left_out) == 4
    assert found.start is None
    assert found.lighting is None
    assert found.sentence.startswith("No lens has a turn")


@pytest.mark.slow
def test_closed_land_moves_a_stand_and_says_what_it_costs(
    plan: Plan, outing: Outing, elevation: Elevation, session: Session
) -> None:
    long = session.shots[0]
    local = LocalPlane(long.stand.lat, long.stand.lon)
    closed = Place(
        kind="land", name="Ferris field (invented)", note="", access="closed",
        geometry=local.to_earth(shapely.Point(0.0, 0.0).buffer(0.6)),
    )  # fmt: skip
    found = again(plan, outing, elevation, (closed,))
    moved = next(s for s in found.shots if s.lens == long.lens)
    for shot in found.shots:
        assert not closed.geometry.covers(shapely.Point(shot.stand.lon, shot.stand.lat))
    assert moved.moved is not None
    assert moved.moved.by == "Ferris field (invented)"
    assert moved.moved.minutes != 0.0
    apart = line_between(
        lat1=long.stand.lat, lon1=long.stand.lon, lat2=moved.stand.lat, lon2=moved.stand.lon
    )
    assert moved.moved.metres == pytest.approx(float(apart.distance_m), abs=1e-6)
    assert "moved" in moved.moved.sentence
    assert moved.moved.clearance_change_deg == pytest.approx(
        moved.stand.clearance_deg - long.stand.clearance_deg, abs=1e-6
    )


def test_without_a_session_the_stand_too_leaves_closed_land(
    plan: Plan, outing: Outing, elevation: Elevation, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand = plan.lenses[2].stand
    assert stand is not None
    local = LocalPlane(stand.lat, stand.lon)
    closed = Place("land", "Ferris field (invented)", "", "closed",
                   local.to_earth(shapely.Point(0.0, 0.0).buffer(1.0)))  # fmt: skip
    monkeypatch.setattr(
        "backbearing.alignment.night.prepared_night.read_places", lambda path: (closed,)
    )
    bare = dataclasses.replace(outing, session=None).with_lenses([outing.lenses[2]])
    (lens,) = plan_night(bare, elevation).lenses
    assert lens.stand is not None
    assert lens.moved is not None
    assert not closed.geometry.covers(shapely.Point(lens.stand.lon, lens.stand.lat))
    # The nearest arc minute that is allowed, and no nearer one is.
    nearer = [
        p for p in lens.arc
        if p.usable and abs(p.time - stand.time) < abs(lens.stand.time - stand.time)
    ]  # fmt: skip
    assert nearer
    for point in nearer:
        assert closed.geometry.covers(shapely.Point(point.lon, point.lat))
    assert lens.asked_at is None
    assert "moved" in lens.sentence


@pytest.mark.slow
def test_a_lens_keeps_its_asked_minute(plan: Plan, outing: Outing, elevation: Elevation) -> None:
    one = dataclasses.replace(outing.lenses[1], at="00:45")
    lenses = (outing.lenses[0], one, *outing.lenses[2:])
    asked = dataclasses.replace(outing, lenses=lenses)
    found = again(plan, asked, elevation)
    shot = next(s for s in found.shots if s.lens == one.lens)
    assert shot.stand.time.astimezone(ZoneInfo(plan.zone)).strftime("%H:%M") == "00:45"


@pytest.mark.slow
def test_the_session_is_the_same_every_time(
    plan: Plan, outing: Outing, elevation: Elevation, session: Session
) -> None:
    found = again(plan, outing, elevation, plan.places)
    assert [(s.lens, s.frames_start) for s in found.shots] == [
        (s.lens, s.frames_start) for s in session.shots
    ]
