"""A year against the plan of each night, and what it says where there is little to choose."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from backbearing.alignment import plan_night
from backbearing.alignment.night.from_outing import open_elevation, scene_of, zone_of
from backbearing.alignment.year.good_spans import SubjectSky, good_spans
from backbearing.alignment.year.plan_year import plan_year
from backbearing.base.errors import BackbearingError
from backbearing.base.geodesy import point_along
from backbearing.outing.load import load_outing
from backbearing.plan.year import NightMoon, YearRule
from backbearing.sky.targets import Target
from invented import CAMERA, toml, write_ground

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.year import LensNight, Year
    from backbearing.terrain import Elevation

FIRST = dt.date(2027, 1, 1)
HALF_A_MINUTE_S = 30.0


@pytest.fixture(scope="module")
def year(outing: Outing) -> Year:
    return plan_year([outing], first_night=FIRST)


def on(outing: Outing, evening: dt.date) -> Outing:
    """The outing on an evening, as a year asks it: no minute of its own, no session."""
    return replace(outing, night=replace(outing.night, evening=evening, at=None), session=None)


def agree(lens: LensNight, planned) -> None:  # type: ignore[no-untyped-def]
    assert lens.label == planned.lens.label
    assert len(lens.usable) == len(planned.usable)
    for ours, theirs in zip(lens.usable, planned.usable, strict=True):
        assert abs((ours.start - theirs.start).total_seconds()) < HALF_A_MINUTE_S
        assert abs((ours.end - theirs.end).total_seconds()) < HALF_A_MINUTE_S
    assert (lens.at is None) == (planned.stand is None)
    if lens.at is not None:
        assert abs((lens.at - planned.stand.time).total_seconds()) <= 60.0
        assert lens.distance_m == pytest.approx(planned.stand.distance_m, abs=0.2)
        assert lens.bearing_deg == pytest.approx(planned.stand.bearing_deg, abs=0.5)


def test_chosen_nights_are_their_own_plans(
    year: Year, outing: Outing, elevation: Elevation
) -> None:
    assert len(year.best) == len(year.spare) == 3
    for night in (*year.best, year.spare[0]):
        plan = plan_night(on(outing, night.evening), elevation, whole_skyline=False)
        for lens, planned in zip(night.subjects[0].lenses, plan.lenses, strict=True):
            agree(lens, planned)


@pytest.mark.parametrize(
    ("lat", "lon", "zone", "days"),
    [
        (-31.3, 116.9, "Australia/Perth", (40, 130, 190, 250)),
        (58.5, -4.2, "Europe/London", (20, 290, 330)),
        (0.2, 36.9, "Africa/Nairobi", (60, 170, 240)),
    ],
)
def test_every_night_is_within_half_a_minute_of_its_plan(
    tmp_path: Path, lat: float, lon: float, zone: str, days: tuple[int, ...]
) -> None:
    outing = invented_outing(tmp_path, lat=lat, lon=lon, zone=zone)
    if lat > 50.0:
        # The core hardly rises so far north.
        outing = replace(outing, target=Target.star("Rigel"))
    elevation = open_elevation(outing)
    sky = SubjectSky.of(
        outing, scene_of(outing, elevation), zone=zone_of(outing), first_night=FIRST, nights=365
    )
    found = good_spans(sky).good
    some = 0
    for day in days:
        of = on(outing, FIRST + dt.timedelta(days=day))
        plan = plan_night(of, elevation, whole_skyline=False)
        for spans, planned in zip(found, plan.lenses, strict=True):
            some += len(planned.usable)
            assert len(spans.of(day)) == len(planned.usable)
            for ours, theirs in zip(spans.of(day), planned.usable, strict=True):
                assert abs((ours.start - theirs.start).total_seconds()) < HALF_A_MINUTE_S
                assert abs((ours.end - theirs.end).total_seconds()) < HALF_A_MINUTE_S
    assert some >= 2


def test_a_moving_target_is_asked_of_every_night(outing: Outing, elevation: Elevation) -> None:
    moon = replace(
        outing, target=Target.body("moon"), night=replace(outing.night, moon="any"), session=None
    )
    first = dt.date(2027, 5, 14)
    year = plan_year([moon], first_night=first, nights=6, rule=YearRule(count=2))
    assert year.best
    for night in year.best:
        plan = plan_night(on(moon, night.evening), elevation, whole_skyline=False)
        for lens, planned in zip(night.subjects[0].lenses, plan.lenses, strict=True):
            agree(lens, planned)


def test_a_subject_of_another_season_gets_a_night_of_its_own(outing: Outing) -> None:
    winter = replace(outing, target=Target.star("Betelgeuse"), session=None)
    year = plan_year([outing, winter], first_night=FIRST)
    for i in range(2):
        assert any(night.subjects[i].good_minutes > 60.0 for night in year.best)
    # A night of September holds both: the core in the evening, the star before dawn.
    assert year.best[0].evening.month == 9


def test_whole_kit_leaves_out_nights_on_which_a_lens_lacks_its_minutes(
    outing: Outing, year: Year
) -> None:
    whole = plan_year([outing], first_night=FIRST, rule=YearRule(whole_kit=True))
    subject = whole.subjects[0]
    assert any(
        subject.states[n] == "good" and not subject.whole_kit_on(n) for n in range(whole.nights)
    )
    for night in (*whole.best, *whole.spare):
        assert night.subjects[0].whole_kit
        assert not any(lens.missing for lens in night.subjects[0].lenses)
    # The sample's session says how long each lens's frames take.
    assert [lens.wanted_minutes for lens in subject.lenses] == [6.0] * 4
    assert year.subjects[0].lenses == subject.lenses


def test_what_a_lens_lacks_is_said(outing: Outing) -> None:
    # The Moon rises before the target stands so high that the longest lens holds it.
    year = plan_year([outing], first_night=dt.date(2027, 7, 24), nights=1, rule=YearRule(count=1))
    *others, longest = year.best[0].subjects[0].lenses
    assert not any(lens.missing for lens in others)
    evening = on(outing, dt.date(2027, 7, 24))
    planned = plan_night(evening, whole_skyline=False).lenses[-1].sentence
    assert planned.startswith(longest.missing)
    assert "spoilt by" in longest.missing


def test_fewer_than_three_good_nights_and_none(outing: Outing) -> None:
    # Around full Moon: 18 to 21 June 2027 (full on the 19th).
    year = plan_year([outing], first_night=dt.date(2027, 6, 16), nights=4)
    assert not year.best
    assert "only while the Moon is up" in year.said
    assert year.subjects[0].states == ("moon",) * 4
    year = plan_year([outing], first_night=dt.date(2027, 6, 9), nights=2)
    assert len(year.best) == 2
    assert not year.spare
    assert "Only 2 of 2 nights have a minute that counts, 3 were wanted." in year.said


def test_a_summer_without_darkness_says_how_low_the_sun_goes(tmp_path: Path) -> None:
    outing = invented_outing(tmp_path, lat=62.0, lon=9.0, zone="Europe/Oslo")
    year = plan_year([outing], first_night=dt.date(2027, 6, 1), nights=30)
    assert not year.found
    # The Sun at 22.0 degrees on 1 June (from memory) is 90 - 62 - 22.0 = 6.0 down at midnight.
    assert "the Sun goes no lower than -5.9°" in year.said
    assert set(year.subjects[0].states) == {"no darkness"}


def test_a_target_that_never_rises_says_so(tmp_path: Path) -> None:
    outing = invented_outing(tmp_path, lat=66.0, lon=25.0, zone="Europe/Helsinki")
    year = plan_year([outing], first_night=dt.date(2027, 1, 1), nights=30)
    # 90 - 66 - 29.0 = -5.0 degrees without air, which lifts it below the horizontal too.
    assert "never rises here: it reaches -4.1° at most" in year.said


def test_a_stand_on_closed_ground_moves_as_in_the_plan(
    outing: Outing, year: Year, tmp_path: Path
) -> None:
    lens = year.best[0].subjects[0].lenses[-1]
    subject = outing.subject
    end = point_along(
        lat=subject.lat, lon=subject.lon,
        azimuth_deg=lens.bearing_deg + 180.0, distance_m=lens.distance_m,
    )  # fmt: skip
    lat, lon, half = float(end.lat), float(end.lon), 3e-5
    ring = [
        [lon + x * half, lat + y * half] for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
    ]
    (tmp_path / "closed.geojson").write_text(
        json.dumps(
            {"type": "FeatureCollection", "features": [{
                "type": "Feature", "properties": {"kind": "land", "name": "Paddock",
                "access": "closed"}, "geometry": {"type": "Polygon", "coordinates": [ring]},
            }]}
        ), encoding="utf-8",
    )  # fmt: skip
    places = replace(outing.ground, places=tmp_path / "closed.geojson")
    closed = replace(outing, ground=places)
    evening = year.best[0].evening
    again = plan_year([closed], first_night=evening, nights=1, rule=YearRule(count=1))
    moved = again.best[0].subjects[0].lenses[-1]
    planned = plan_night(on(closed, evening), whole_skyline=False).lenses[-1]
    assert planned.stand is not None
    assert planned.moved is not None
    assert moved.at == planned.stand.time != lens.at
    assert moved.usable == lens.usable or len(moved.usable) == len(lens.usable)


def test_sun_and_moon_in_words() -> None:
    night = NightMoon("22:39 EDT", "04:30 EDT", "03:40 EDT", "16:33 EDT", 0.17)
    assert night.dark_words == "dark from 22:39 EDT to 04:30 EDT"
    assert night.moon_words == "sets 16:33 EDT, rises 03:40 EDT"
    north = NightMoon(
        "above all night", "above all night", "below all night", "below all night", 0.5
    )
    assert (north.dark_words, north.moon_words) == ("never dark", "down all night")
    assert (
        NightMoon("18:00", "06:00", "not this night", "01:10 CET", 0.4).moon_words
        == "sets 01:10 CET"
    )


def test_what_cannot_be_asked_is_refused(outing: Outing) -> None:
    for refused in (
        lambda: plan_year([]),
        lambda: plan_year([outing], nights=0),
        lambda: plan_year([outing], rule=YearRule(count=0)),
        lambda: plan_year([outing], rule=YearRule(enough_minutes=0.0)),
    ):
        with pytest.raises(BackbearingError):
            refused()


def invented_outing(folder: Path, *, lat: float, lon: float, zone: str) -> Outing:
    """A lone tree on rolling ground with a ridge about it, and two lenses."""
    import numpy as np

    write_ground(
        folder / "ground.tif",
        lambda east, north: (
            300.0 + 12.0 * np.sin(east / 300.0) + 9.0 * np.cos(north / 400.0)
            + 60.0 * np.clip((np.hypot(east, north) - 1200.0) / 1500.0, 0.0, 1.0)
        ),
        lat=lat,
        lon=lon,
    )  # fmt: skip
    said = {
        "format": 1,
        "name": "Lone tree",
        "ground": {"elevation": "ground.tif"},
        "subject": {"name": "Lone tree", "lat": lat, "lon": lon, "height_m": 9.0},
        "target": {"name": "core"},
        "night": {"evening": FIRST, "time_zone": zone},
        "camera": CAMERA,
        "framing": {"share": 0.3},
        "lens": [
            {"focal_length_mm": 20.0, "f_number": 2.8},
            {"focal_length_mm": 35.0, "f_number": 2.0},
        ],
    }
    file = folder / "outing.toml"
    file.write_text("".join(f"{key} = {toml(one)}\n" for key, one in said.items()), "utf-8")
    return load_outing(file)
