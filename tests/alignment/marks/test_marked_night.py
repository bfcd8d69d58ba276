"""A night over a bare raster with marks beside a night over the raster that holds the trees."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment.marks.marked_ground import OutingMarks
from backbearing.alignment.night.from_outing import open_elevation, scene_of
from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.night.plan_season import plan_season
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.view.lens_views import views
from backbearing.base.errors import BackbearingError
from backbearing.exports.plan_json import plan_document
from backbearing.outing.marks_request import MarkRequest, MarksRequest, ReadFrom
from backbearing.sky.magnetic import magnetic_declination
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing

LAT, LON = -31.2, 149.1
EVENING = dt.date(2027, 5, 8)
WALL_M = 90.0
LENSES = (24.0, 35.0, 50.0)
RASTER = {"half_m": 1500.0, "cell_m": 5.0}


def bare(east: Any, north: Any) -> Any:
    """Rolling invented ground."""
    return 200.0 + 30.0 * np.exp(-((east - 700.0) ** 2 + (north + 500.0) ** 2) / 3.0e5)


def wooded(east: Any, north: Any) -> Any:
    """The same with a belt of trees 90 m off in the south-east, 22 to 26 m high."""
    away, turn = np.hypot(east, north), np.degrees(np.arctan2(east, north)) % 360.0
    belt = (np.abs(away - WALL_M) < 3.6) & (turn > 85.0) & (turn < 150.0)
    return bare(east, north) + np.where(belt, 24.0 + 2.0 * np.sin(np.radians(8.0 * turn)), 0.0)


@pytest.fixture(scope="module")
def wood(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    return write_outing(
        tmp_path_factory.mktemp("wood"), lat=LAT, lon=LON, evening=EVENING, ground=wooded,
        raster=RASTER, lenses=LENSES, night={"moon": "any"},
    )  # fmt: skip


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    return write_outing(
        tmp_path_factory.mktemp("bare"), lat=LAT, lon=LON, evening=EVENING, ground=bare,
        raster=RASTER, lenses=LENSES, night={"moon": "any"},
    )  # fmt: skip


def with_marks(outing: Outing, *marks: MarkRequest, **more: Any) -> Outing:
    asked = MarksRequest(tuple(marks), **more)
    return replace(outing, ground=replace(outing.ground, marks=asked))


def belt_marks(wood: Outing, *, told: bool = True) -> list[MarkRequest]:
    """Read the wood's raster from the subject, a degree apart."""
    azimuths = np.arange(86.0, 150.0, 1.0)
    seen = open_elevation(wood).horizon(lat=LAT, lon=LON, azimuths_deg=azimuths)
    return [
        MarkRequest(
            altitude_deg=round(float(altitude), 2), azimuth_deg=float(azimuth), sigma_deg=0.2,
            azimuth_sigma_deg=0.2, distance_m=WALL_M if told else None,
        )
        for azimuth, altitude in zip(azimuths, seen.altitudes_deg, strict=True)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def marked(alone: Outing, wood: Outing) -> Outing:
    return with_marks(alone, *belt_marks(wood))


def test_every_lens_clears_when_it_does_over_the_trees_themselves(
    alone: Outing, marked: Outing, wood: Outing
) -> None:
    nights = [prepare_night(one).arcs() for one in (alone, marked, wood)]
    later = 0
    for over_bare, over_marks, over_trees in zip(*nights, strict=True):
        points = zip(over_marks.arc, over_trees.arc, over_bare.arc, strict=True)
        known = [
            (m.skyline_deg, t.skyline_deg, b.skyline_deg)
            for m, t, b in points
            if np.isfinite(m.skyline_deg) and np.isfinite(t.skyline_deg)
        ]
        by_marks, by_trees, by_bare = np.array(known).T
        raised = (by_trees - by_bare > 1.0) & (by_marks - by_bare > 1.0)
        assert raised.sum() > 10
        # Cells of 5 m put the trees up to 3.6 m nearer than 90 m: at most 0.75 degree here.
        assert np.abs(by_marks - by_trees)[raised].max() < 0.75
        assert np.abs(np.mean((by_marks - by_trees)[raised])) < 0.25
        later += by_marks.sum() > by_bare.sum()
    assert later == len(LENSES)


def test_a_stand_on_its_minute_agrees_and_says_what_the_mark_does(
    marked: Outing, wood: Outing, alone: Outing
) -> None:
    clock = "20:20"
    by_marks, by_trees, by_bare = (plan_night(one, at=clock) for one in (marked, wood, alone))
    assert by_marks.land.marks is not None
    for m, t, b, at in zip(
        by_marks.lenses, by_trees.lenses, by_bare.lenses, by_marks.land.marks.at_stands,
        strict=True,
    ):  # fmt: skip
        assert m.stand is not None
        assert t.stand is not None
        assert b.stand is not None
        assert m.stand.lat == pytest.approx(t.stand.lat, abs=1e-7)
        assert m.stand.skyline_deg == pytest.approx(t.stand.skyline_deg, abs=0.75)
        assert m.stand.skyline_distance_m == pytest.approx(t.stand.skyline_distance_m, abs=6.0)
        assert at.raises_deg == pytest.approx(m.stand.skyline_deg - b.stand.skyline_deg, abs=1e-9)
        assert at.raises_deg > 3.0
        assert at.out_of_reach == 0
        assert m.stand.clearance_sigma_deg < 3.0
        assert m.stand.skyline_break_deg < b.stand.skyline_break_deg


def test_the_season_s_windows_begin_as_over_the_trees(
    marked: Outing, wood: Outing, alone: Outing
) -> None:
    by_marks, by_trees, by_bare = (
        plan_season(one, first_night=EVENING, nights=3) for one in (marked, wood, alone)
    )
    for m, t, b in zip(by_marks.nights, by_trees.nights, by_bare.nights, strict=True):
        off = (m.clear[0].start - t.clear[0].start).total_seconds() / 60.0
        late = (m.clear[0].start - b.clear[0].start).total_seconds() / 60.0
        assert abs(off) < 3.0
        assert late > 20.0
    assert any("skyline marks" in note for note in by_marks.notes)
    assert not any("skyline marks" in note for note in by_bare.notes)


def test_the_ridge_from_a_spot_agrees(marked: Outing, wood: Outing) -> None:
    spot = {"lat": LAT + 0.0002, "lon": LON - 0.0002}
    by_marks, by_trees = ridge_view(marked, **spot), ridge_view(wood, **spot)
    off = by_marks.clear[0].start - by_trees.clear[0].start
    assert abs(off.total_seconds()) < 240.0
    assert len(by_marks.marks) == 64
    assert any(point.by_mark for point in by_marks.path)
    # A mark seen from elsewhere stands where the trees stand there.
    for mark in by_marks.marks[10:50]:
        tree = float(by_trees.horizon.altitude_at(mark.azimuth_deg))
        assert mark.altitude_deg == pytest.approx(tree, abs=0.75)


def test_previews_show_the_marked_skyline(marked: Outing, alone: Outing) -> None:
    ridges = []
    for one in (marked, alone):
        elevation = open_elevation(one)
        view = views(plan_night(one, elevation, at="20:20"), elevation)[0]
        ridges.append(view.ground.ridge[:, 1].max())
    assert ridges[0] > ridges[1] + 0.02


def test_without_marks_nothing_changes(alone: Outing) -> None:
    none = with_marks(alone)
    made = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
    documents = []
    for one in (alone, none):
        plan = plan_night(one)
        documents.append(plan_document(replace(plan, basis=replace(plan.basis, made=made))))
    assert documents[0] == documents[1]
    assert documents[0]["plan"]["marks"] is None
    assert not isinstance(open_elevation(alone), OutingMarks)


def test_a_night_made_ready_follows_a_change_of_the_marks(marked: Outing, alone: Outing) -> None:
    night = prepare_night(alone)
    over = night.with_outing(marked)
    assert isinstance(over.scene.elevation, OutingMarks)
    fresh = prepare_night(marked)
    for a, b in zip(over.stands_at("20:20"), fresh.stands_at("20:20"), strict=True):
        assert a is not None
        assert b is not None
        assert a.skyline_deg == b.skyline_deg
    assert not isinstance(over.with_outing(alone).scene.elevation, OutingMarks)
    lower = over.with_eye_height(1.0)
    assert lower.scene.elevation is over.scene.elevation


def test_marks_stay_where_they_were_read_when_the_subject_moves(marked: Outing) -> None:
    moved = prepare_night(marked).with_subject_moved(azimuth_deg=270.0, distance_m=40.0)
    ground = moved.scene.elevation
    assert isinstance(ground, OutingMarks)
    assert ground.sets[0].used.marks.lat == LAT
    assert ground.sets[0].used.marks.lon == LON


def test_an_area_is_swept_over_the_bare_raster(marked: Outing, alone: Outing) -> None:
    areas = [ridge_area(one, at="20:20", within_m=150.0) for one in (marked, alone)]
    assert np.array_equal(areas[0].margin_deg, areas[1].margin_deg, equal_nan=True)
    over = ridge_area(marked, open_elevation(marked), at="20:20", within_m=150.0)
    assert np.array_equal(over.margin_deg, areas[1].margin_deg, equal_nan=True)


def test_marks_without_a_distance_do_not_hold_at_a_stand_far_away(
    alone: Outing, wood: Outing
) -> None:
    untold = with_marks(alone, *belt_marks(wood, told=False))
    plan = plan_night(untold, at="20:20")
    assert plan.land.marks is not None
    for lens, at in zip(plan.lenses, plan.land.marks.at_stands, strict=True):
        assert lens.stand is not None
        far = lens.stand.distance_m > 50.0
        assert (at.out_of_reach == 64) is far
        assert (at.raises_deg == 0.0) is far
    assert any("50 m" in note for note in plan.notes)


@pytest.mark.parametrize(
    "place",
    [
        ReadFrom("", LAT + 0.0003, LON - 0.0004),
        ReadFrom("", None, None, 300.0, 45.0),
    ],
)
def test_marks_read_elsewhere_hold_as_those_read_at_the_subject(
    alone: Outing, wood: Outing, place: ReadFrom
) -> None:
    """The belt is read from another place, with its distances from there."""
    ground = open_elevation(wood)
    probe = with_marks(alone, MarkRequest(5.0, azimuth_deg=120.0, read_from=place))
    eye = scene_of(probe, open_elevation(alone)).elevation
    assert isinstance(eye, OutingMarks)
    where = eye.sets[0].used.marks
    azimuths = np.arange(90.0, 140.0, 1.0)
    seen = ground.horizon(lat=where.lat, lon=where.lon, azimuths_deg=azimuths)
    marks = [
        MarkRequest(float(h), azimuth_deg=float(a), distance_m=float(s), read_from=place)
        for a, h, s in zip(azimuths, seen.altitudes_deg, seen.distances_m, strict=True)
    ]
    over = scene_of(with_marks(alone, *marks), open_elevation(alone)).elevation
    assert over is not None
    asked = np.arange(100.0, 130.0, 0.5)
    found = over.horizon(lat=LAT, lon=LON, azimuths_deg=asked).altitudes_deg
    true = ground.horizon(lat=LAT, lon=LON, azimuths_deg=asked).altitudes_deg
    assert np.abs(found - true).max() < 1.2
    assert np.abs(found - true).mean() < 0.35


def test_a_compass_bearing_is_turned_by_the_declination(alone: Outing) -> None:
    declination = magnetic_declination(lat=LAT, lon=LON, height_m=200.0, when=EVENING)
    marks = [
        MarkRequest(20.0, compass_deg=100.0),
        MarkRequest(20.0, compass_deg=120.0, declination_deg=-3.0),
        MarkRequest(20.0, azimuth_deg=140.0),
    ]
    over = scene_of(with_marks(alone, *marks), open_elevation(alone)).elevation
    assert isinstance(over, OutingMarks)
    assert over.sets[0].used.marks.azimuths_deg == pytest.approx(
        [100.0 + declination.declination_deg, 117.0, 140.0], abs=1e-3
    )


def hilly(east: Any, north: Any) -> Any:
    """Hills near enough that the skyline runs up and down."""
    turn = np.arctan2(east, north)
    away = np.hypot(east, north)
    tops = 90.0 + 40.0 * np.sin(3.0 * turn + 0.4) + 30.0 * np.sin(11.0 * turn)
    return 200.0 + tops * np.exp(-((away - 700.0) ** 2) / 2.0e4)


def test_a_tilt_and_a_turn_of_the_readings_are_found_told_and_taken_off_only_when_asked(
    tmp_path: Path,
) -> None:
    outing = write_outing(
        tmp_path, lat=LAT, lon=LON, evening=EVENING, ground=hilly, raster=RASTER, lenses=(24.0,)
    )
    rng = np.random.default_rng(12)
    azimuths = np.arange(60.0, 240.0, 6.0)
    seen = open_elevation(outing).horizon(lat=LAT, lon=LON, azimuths_deg=azimuths)
    tilt, turn = 1.4, -5.0
    marks = [
        MarkRequest(float(h + tilt + rng.normal(0.0, 0.25)), azimuth_deg=float(a + turn),
                    sigma_deg=0.25)
        for a, h in zip(azimuths, seen.altitudes_deg, strict=True)
    ]  # fmt: skip
    read = plan_night(with_marks(outing, *marks), at="22:00")
    assert read.land.marks is not None
    errors = read.land.marks.sets[0].errors
    assert errors.tilt_deg == pytest.approx(tilt, abs=3.0 * errors.tilt_sigma_deg)
    assert errors.turn_deg == pytest.approx(turn, abs=3.0 * errors.turn_sigma_deg)
    assert errors.tilted
    assert errors.turned
    assert errors.tilt_taken_deg == 0.0
    assert read.land.marks.sets[0].marks[0].azimuth_deg == pytest.approx(55.0)
    assert any("too high" in note for note in read.notes)

    taken = plan_night(with_marks(outing, *marks, correct=True), at="22:00").land.marks
    assert taken is not None
    assert taken.sets[0].errors.tilt_taken_deg == pytest.approx(errors.tilt_deg)
    over = np.array([one.over_deg for one in taken.sets[0].marks])
    assert np.abs(over).mean() < 0.6
    written = plan_night(
        with_marks(outing, *marks, tilt_deg=tilt, turn_deg=turn), at="22:00"
    ).land.marks
    assert written is not None
    assert [one.azimuth_deg for one in written.sets[0].marks] == pytest.approx(azimuths.tolist())
    assert written.sets[0].errors.turn_taken_deg == turn


def test_a_reading_below_bare_ground_is_told(tmp_path: Path) -> None:
    outing = write_outing(
        tmp_path, lat=LAT, lon=LON, evening=EVENING, ground=hilly, raster=RASTER, lenses=(24.0,)
    )
    seen = open_elevation(outing).horizon(lat=LAT, lon=LON, azimuths_deg=[100.0])
    low = MarkRequest(float(seen.altitudes_deg[0]) - 6.0, azimuth_deg=100.0)
    plan = plan_night(with_marks(outing, low), at="22:00")
    assert plan.land.marks is not None
    assert plan.land.marks.lowest is not None
    assert plan.land.marks.lowest.over_deg == pytest.approx(-6.0, abs=1e-6)
    assert plan.land.marks.at_stands[0].raises_deg == 0.0


@pytest.mark.parametrize(
    ("place", "says"),
    [
        (ReadFrom("the gate"), "there is no places file"),
        (ReadFrom("", 10.0, 10.0), "knows no ground"),
        (ReadFrom("", None, None, 90.0, 100_000.0), "knows no ground"),
    ],
)
def test_a_place_that_nobody_knows_is_refused_in_one_sentence(
    alone: Outing, place: ReadFrom, says: str
) -> None:
    asked = with_marks(alone, MarkRequest(5.0, azimuth_deg=120.0, read_from=place))
    with pytest.raises(BackbearingError, match=says) as caught:
        open_elevation(asked)
    assert "skyline_mark" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_mark_never_lets_the_core_clear_earlier(alone: Outing) -> None:
    """Marks put on one after another, each over what is known by then, from a fixed seed."""
    rng = np.random.default_rng(3)
    spot = {"lat": LAT + 0.0001, "lon": LON - 0.0001}
    elevation = open_elevation(alone)
    marks: list[MarkRequest] = []
    before = ridge_view(alone, **spot, elevation=elevation)
    for _ in range(6):
        azimuth = float(rng.uniform(95.0, 125.0))
        known = scene_of(with_marks(alone, *marks), elevation).elevation
        assert known is not None
        now = known.horizon(lat=LAT, lon=LON, azimuths_deg=[azimuth]).altitudes_deg[0]
        marks.append(
            MarkRequest(float(now) + float(rng.uniform(0.2, 9.0)), azimuth_deg=azimuth,
                        distance_m=float(rng.choice([70.0, 90.0])))
        )  # fmt: skip
        after = ridge_view(with_marks(alone, *marks), **spot, elevation=elevation)
        for old, new in zip(before.path, after.path, strict=True):
            assert new.skyline_deg > old.skyline_deg - 0.02
            assert not (new.state == "clear" and old.state == "hidden")
        before = after
    assert any(point.by_mark for point in before.path)


def test_trees_of_canopy_m_are_not_put_on_marks(alone: Outing, wood: Outing) -> None:
    """With trees asked for, a mark keeps its own top, and lower trees do not lift it."""
    trees = replace(alone, ground=replace(alone.ground, canopy_m=3.0, clearing_m=60.0))
    marks = belt_marks(wood)
    by_marks = plan_night(with_marks(trees, *marks), at="20:20")
    by_none = plan_night(trees, at="20:20")
    for one, other in zip(by_marks.lenses, by_none.lenses, strict=True):
        assert one.stand is not None
        assert other.stand is not None
        # The marks stand far over 3 m of trees: the two clearances are the same.
        assert one.stand.canopy_clearance_deg == pytest.approx(one.stand.clearance_deg, abs=1e-9)
        assert other.stand.canopy_clearance_deg > one.stand.canopy_clearance_deg + 3.0


def test_a_session_s_turns_know_the_marks(alone: Outing, wood: Outing, tmp_path: Path) -> None:
    sessions = []
    for name, ground in (("bare", bare), ("wood", wooded)):
        folder = tmp_path / name
        folder.mkdir()
        sessions.append(
            write_outing(
                folder, lat=LAT, lon=LON, evening=EVENING, ground=ground, raster=RASTER,
                lenses=(24.0, 35.0), night={"moon": "any"}, session={},
            )
        )  # fmt: skip
    by_marks = plan_night(with_marks(sessions[0], *belt_marks(wood))).session
    by_trees, by_bare = (plan_night(one).session for one in reversed(sessions))
    assert by_marks is not None
    assert by_trees is not None
    assert by_bare is not None
    raised = 0.0
    for m, t, b in zip(by_marks.shots, by_trees.shots, by_bare.shots, strict=True):
        assert m.lens == t.lens == b.lens
        assert abs((m.frames_start - t.frames_start).total_seconds()) <= 300.0
        if m.frames_start == t.frames_start:
            assert m.stand.skyline_deg == pytest.approx(t.stand.skyline_deg, abs=0.75)
        raised = max(raised, m.stand.skyline_deg - b.stand.skyline_deg)
    assert raised > 3.0


def test_marks_are_read_from_a_place_of_the_user_s_own_file(alone: Outing, tmp_path: Path) -> None:
    places = tmp_path / "places.geojson"
    gate = {
        "type": "Feature",
        "properties": {"kind": "note", "name": "the gate"},
        "geometry": {"type": "Point", "coordinates": [LON + 0.0002, LAT]},
    }
    places.write_text(json.dumps({"type": "FeatureCollection", "features": [gate]}))
    asked = with_marks(
        replace(alone, ground=replace(alone.ground, places=places)),
        MarkRequest(12.0, azimuth_deg=120.0, read_from=ReadFrom("the gate")),
    )
    ground = open_elevation(asked)
    assert isinstance(ground, OutingMarks)
    assert ground.sets[0].used.marks.lon == pytest.approx(LON + 0.0002)
    assert plan_night(asked, at="20:20").land.marks.sets[0].read_from == "the gate"  # type: ignore[union-attr]
    with pytest.raises(BackbearingError, match="no place called 'the fence'"):
        open_elevation(
            with_marks(asked, MarkRequest(1.0, azimuth_deg=1.0, read_from=ReadFrom("the fence")))
        )


def test_a_correction_that_nothing_is_known_of_is_said_and_not_made(alone: Outing) -> None:
    few = [MarkRequest(20.0, azimuth_deg=100.0), MarkRequest(21.0, azimuth_deg=110.0)]
    marks = plan_night(with_marks(alone, *few, correct=True), at="20:20").land.marks
    assert marks is not None
    errors = marks.sets[0].errors
    assert "nothing is taken off" in errors.why
    assert (errors.tilt_taken_deg, errors.turn_taken_deg) == (0.0, 0.0)
    assert [one.altitude_deg for one in marks.sets[0].marks] == [20.0, 21.0]
