"""A prepared night says of every change what a plan of the changed outing says."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from typing import TYPE_CHECKING, Any

import pytest
from shapely.geometry.base import BaseGeometry

from backbearing.alignment import plan_night, prepare_night
from backbearing.alignment.night.plan_facts import SkylineAsNeeded, skyline_of
from backbearing.base.errors import OutingError, SkyError, TerrainError
from backbearing.base.geodesy import line_between
from backbearing.outing.outline import Outline
from backbearing.pictures import ridge_picture
from backbearing.sky.targets import Target
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.alignment import Plan
    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.outing.request import Outing

CLOCKS = ("01:00", "03:30")

MILL = Outline.of_widths([[0.0, 5.0], [9.0, 4.0], [11.0, 1.0]], height_m=11.0)


@pytest.fixture(scope="module")
def night(outing: Outing, elevation: Elevation) -> PreparedNight:
    return prepare_night(dataclasses.replace(outing, session=None), elevation)


def same(one: Any, other: Any, path: str = "") -> None:
    """Hold two answers against each other: to 1e-6 of metres and degrees, and to a second."""
    assert type(one) is type(other), path
    if dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            same(getattr(one, field.name), getattr(other, field.name), f"{path}.{field.name}")
    elif isinstance(one, tuple | list):
        assert len(one) == len(other), path
        for i, (a, b) in enumerate(zip(one, other, strict=True)):
            same(a, b, f"{path}[{i}]")
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=0.0, abs=1e-6, nan_ok=True), path
    elif isinstance(one, dt.datetime):
        assert abs(one - other) <= dt.timedelta(seconds=1), path
    elif isinstance(one, BaseGeometry):
        # Square degrees; a hundred-thousandth of a square metre is about 1e-15 of them.
        assert one.symmetric_difference(other).area < 1e-15, path
    else:
        assert one == other, path


CHANGES: dict[str, Callable[[PreparedNight], PreparedNight]] = {
    "nothing": lambda night: night,
    "share": lambda night: night.with_share(0.3),
    "eye": lambda night: night.with_eye_height(0.9),
    "height": lambda night: night.with_subject_height(9.0),
    "lenses": lambda night: night.with_lenses(night.outing.lenses[1:3]),
    "a metre": lambda night: night.with_subject_moved(azimuth_deg=75.0, distance_m=1.0),
    "a kilometre": lambda night: night.with_subject_moved(azimuth_deg=200.0, distance_m=1_000.0),
    "two changes": lambda night: night.with_share(0.25).with_eye_height(2.0),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_night_says_what_a_plan_of_the_changed_outing_says(
    night: PreparedNight, outing: Outing, change: str
) -> None:
    night.arcs()
    changed = CHANGES[change](night)
    # The plan begins from the outing alone, with a raster of its own.
    plan = plan_night(changed.outing, outing.ground.open())
    for arc, lens in zip(changed.arcs(), plan.lenses, strict=True):
        assert arc.lens == lens.lens
        same((arc.arc, arc.usable, arc.framed), (lens.arc, lens.usable, lens.framed))
    for clock in CLOCKS:
        asked = plan_night(changed.outing, outing.ground.open(), at=clock)
        same(changed.stands_at(clock), tuple(lens.stand for lens in asked.lenses))


def test_a_plan_of_a_night_that_was_asked_before_is_the_plan(
    outing: Outing, elevation: Elevation, plan: Plan
) -> None:
    night = prepare_night(outing, elevation)
    night.stands_at("02:00")
    night.with_share(0.2).arcs()
    again = night.plan()
    same(dataclasses.replace(again, basis=plan.basis), plan)


def test_points_are_those_of_the_arc_and_of_the_stands(night: PreparedNight) -> None:
    for lens, arc in enumerate(night.arcs()):
        for point in arc.arc[::60]:
            same(night.points_at(point.time)[lens], point)
    for point, stand in zip(night.points_at("01:30"), night.stands_at("01:30"), strict=True):
        assert stand is not None
        same(
            (point.time, point.lat, point.lon, point.distance_m, point.clearance_deg),
            (stand.time, stand.lat, stand.lon, stand.distance_m, stand.clearance_deg),
        )


def test_a_night_is_never_changed_and_keeps_what_the_change_leaves_true(
    night: PreparedNight,
) -> None:
    before = night.points_at("01:00")
    nearer = night.with_share(0.5)
    assert nearer.sky is night.sky
    assert nearer.events is night.events
    assert nearer.points_at("01:00")[3].distance_m < before[3].distance_m
    same(night.points_at("01:00"), before)
    with pytest.raises(dataclasses.FrozenInstanceError):
        night.outing = nearer.outing  # type: ignore[misc]


def test_another_evening_has_a_sky_of_its_own(night: PreparedNight, outing: Outing) -> None:
    evening = outing.night.evening + dt.timedelta(days=3)
    later = dataclasses.replace(
        night.outing, night=dataclasses.replace(outing.night, evening=evening)
    )
    changed = night.with_outing(later)
    assert changed.sky.times[0].date() >= evening
    same(changed.arcs()[0].usable, plan_night(later, night.scene.elevation).lenses[0].usable)


def test_a_moved_subject_stands_where_it_was_moved_to(night: PreparedNight) -> None:
    moved = night.with_subject_moved(azimuth_deg=310.0, distance_m=250.0)
    old, new = night.outing.subject, moved.outing.subject
    line = line_between(lat1=old.lat, lon1=old.lon, lat2=new.lat, lon2=new.lon)
    assert float(line.distance_m) == pytest.approx(250.0, abs=1e-6)
    assert float(line.azimuth_deg) == pytest.approx(310.0, abs=1e-6)
    assert moved.scene.subject_ground_m != night.scene.subject_ground_m


def test_an_outline_grows_with_its_height_and_in_width_only_if_none_was_given(
    night: PreparedNight,
) -> None:
    subject = dataclasses.replace(night.outing.subject, height_m=11.0, width_m=None, outline=MILL)
    free = subject.as_high_as(22.0)
    assert free.shape.height_m == pytest.approx(22.0)
    assert free.shape.width_m == pytest.approx(10.0)
    given = dataclasses.replace(subject, width_m=5.0).as_high_as(22.0)
    assert given.shape.height_m == pytest.approx(22.0)
    assert given.shape.width_m == pytest.approx(5.0)
    plain = dataclasses.replace(subject, outline=None).as_high_as(7.0)
    assert plain.height_m == 7.0
    assert plain.shown_width_m == 3.5


def test_what_cannot_be_is_refused(night: PreparedNight) -> None:
    with pytest.raises(SkyError, match="no zone"):
        night.points_at(dt.datetime(2027, 6, 6, 5, 0))  # noqa: DTZ001  # naive is the point
    with pytest.raises(OutingError):
        night.stands_at("25:99")
    with pytest.raises(TerrainError):
        night.with_subject_at(lat=0.0, lon=0.0)


def test_a_lens_without_a_stand_has_none_and_a_point_says_why(night: PreparedNight) -> None:
    # From twenty metres over its foot no distance makes the tree so large.
    high = night.with_eye_height(20.0).with_share(0.9)
    for point, stand in zip(high.points_at("01:00"), high.stands_at("01:00"), strict=True):
        assert stand is None
        assert math.isnan(point.lat)
        assert "no stand" in point.limits


@pytest.mark.parametrize("target", ["core", "Polaris", "Vega"])
def test_without_the_skyline_all_else_of_a_plan_is_the_same(
    outing: Outing, elevation: Elevation, target: str
) -> None:
    # Polaris goes round through north, where the azimuths begin again; Vega climbs high.
    seen = outing.target if target == "core" else Target.star(target)
    night = prepare_night(dataclasses.replace(outing, session=None, target=seen), elevation)
    whole, without = night.plan(), night.plan(whole_skyline=False)
    assert len(whole.skyline) == 720
    assert without.skyline == ()
    assert without.ground_within == ()
    drawn = {"skyline": whole.skyline, "ground_within": whole.ground_within}
    land = dataclasses.replace(without.land, **drawn)
    basis = dataclasses.replace(without.basis, made=whole.basis.made)
    same(dataclasses.replace(without, land=land, basis=basis), whole)


def test_a_plan_without_the_skyline_refuses_its_picture(
    night: PreparedNight, tmp_path: Path
) -> None:
    with pytest.raises(OutingError, match="whole_skyline=True"):
        ridge_picture(night.plan(whole_skyline=False), tmp_path / "ridge.svg")


def test_only_the_rays_under_the_target_are_sent(
    night: PreparedNight, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[int] = []
    whole = Elevation.horizon

    def counted(self: Elevation, **asked: Any) -> Any:
        sent.append(len(asked["azimuths_deg"]))
        return whole(self, **asked)

    monkeypatch.setattr(Elevation, "horizon", counted)
    over = SkylineAsNeeded(night.scene)
    first = over.altitude_at([359.75, 10.1, float("nan")])
    assert over.altitude_at([10.2, 359.9]).shape == (2,)
    assert sent == [4]
    known = skyline_of(night.scene).altitude_at([359.75, 10.1, float("nan")])
    assert first == pytest.approx(known, rel=0.0, abs=1e-9, nan_ok=True)
