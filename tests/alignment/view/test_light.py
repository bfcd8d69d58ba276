"""Where a session's hidden light stands in the pictures: inside the subject, from every turn."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from backbearing.alignment.night.from_outing import scene_of
from backbearing.alignment.session.light_session import light_session
from backbearing.alignment.view.lens_views import view_of, views
from backbearing.alignment.view.light import turn_of
from backbearing.base.geodesy import line_between
from backbearing.camera import Frame
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.plan.view import View
    from backbearing.terrain import Elevation


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


@pytest.fixture(scope="module")
def every(plan: Plan) -> Plan:
    """The plan as it is walked: no spot hides the light from all turns."""
    return as_walked(plan)


@pytest.fixture(scope="module")
def walked(plan: Plan, outing: Outing, elevation: Elevation) -> Plan:
    """The same without its first turn: the others have a spot in common."""
    walked, session = as_walked(plan), plan.session
    shots = session.shots[1:]
    lighting = light_session(scene_of(outing, elevation), outing.session, shots, ())
    shots = tuple(dataclasses.replace(shot, number=i) for i, shot in enumerate(shots, start=1))
    return dataclasses.replace(
        walked,
        lenses=tuple(
            one for one in walked.lenses if one.lens.label in {s.lens.label for s in shots}
        ),
        session=dataclasses.replace(session, shots=shots, lighting=lighting),
    )


@pytest.fixture(scope="module")
def seen(walked: Plan, elevation: Elevation) -> tuple[View, ...]:
    return views(walked, elevation)


def silhouette(view: View) -> shapely.Geometry:
    area = shapely.Polygon()
    for ring in view.subject:
        area = area.symmetric_difference(shapely.make_valid(shapely.Polygon(ring)))
    return area


def test_the_light_and_its_ground_lie_behind_the_subject(seen: tuple[View, ...]) -> None:
    for view in seen:
        assert view.hidden is not None
        assert view.hidden.from_every_stand
        subject = silhouette(view)
        west, base, east, top = subject.bounds
        # The outline is carried down to the ground from its lowest part.
        foot = shapely.box(
            *subject.intersection(shapely.box(west, base, east, base + 0.008)).bounds
        )
        cover = subject.union(foot).union(shapely.transform(foot, lambda p: p - [0.0, 0.02]))
        for ring in (view.hidden.light, *view.hidden.patch):
            assert cover.buffer(0.002).covers(shapely.Polygon(ring))
        assert np.ptp(view.hidden.light[:, 1]) < 0.2 * (top - base)


def test_the_light_falls_where_its_spot_and_size_say(walked: Plan, seen: tuple[View, ...]) -> None:
    lighting = walked.session.lighting
    for view, one in zip(seen, walked.lenses, strict=True):
        stand = one.stand
        line = line_between(
            lat1=stand.lat, lon1=stand.lon, lat2=lighting.blind.spot_lat,
            lon2=lighting.blind.spot_lon,
        )  # fmt: skip
        frame = Frame(walked.camera, one.lens, stand.pitch_deg, stand.bearing_deg)
        half = np.degrees(np.arctan2(lighting.light_width_m / 2.0, line.distance_m))
        left, right = view.hidden.light[0], view.hidden.light[1]
        _, foot = frame.direction(float(left[0]), float(left[1]))
        x, _ = frame.place(line.azimuth_deg + np.array([-half, half]), np.full(2, foot))
        np.testing.assert_allclose([left[0], right[0]], x, atol=2e-5)
        low, high = (frame.direction(float(p[0]), float(p[1]))[1] for p in view.hidden.light[1:3])
        slant = np.hypot(line.distance_m, lighting.light_width_m / 2.0)
        tall = slant * (np.tan(np.radians(high)) - np.tan(np.radians(low)))
        assert tall == pytest.approx(lighting.light_height_m, rel=1e-3)


def test_each_turn_shows_the_spot_that_hides_the_light_from_it(
    every: Plan, elevation: Elevation
) -> None:
    blind = every.session.lighting.blind
    assert len(blind.spots) > 1
    for view, one in zip(views(every, elevation), every.lenses, strict=True):
        assert not view.hidden.from_every_stand
        (spot,) = [spot for spot in blind.spots if one.lens.label in spot.lenses]
        frame = Frame(every.camera, one.lens, one.stand.pitch_deg, one.stand.bearing_deg)
        line = line_between(lat1=one.stand.lat, lon1=one.stand.lon, lat2=spot.lat, lon2=spot.lon)
        x, _ = frame.place(np.array([line.azimuth_deg]), np.zeros(1))
        assert view.hidden.light[:, 0].min() < x[0] < view.hidden.light[:, 0].max()
        cover = silhouette(view).buffer(0.002).bounds
        assert cover[0] < view.hidden.light[:, 0].min()
        assert view.hidden.light[:, 0].max() < cover[2]


def test_only_a_turns_stand_knows_of_the_light(plan: Plan, elevation: Elevation) -> None:
    # The lens's own best minute is another than its turn.
    one = plan.lenses[0]
    assert turn_of(plan, one.stand) is None
    assert view_of(plan, one, elevation).hidden is None


def test_without_common_ground_the_stands_own_is_shown(walked: Plan, elevation: Elevation) -> None:
    session = walked.session
    nowhere = dataclasses.replace(session.lighting.blind, area=shapely.Polygon(), spots=())
    lighting = dataclasses.replace(session.lighting, blind=nowhere)
    apart = dataclasses.replace(walked, session=dataclasses.replace(session, lighting=lighting))
    hidden = view_of(apart, apart.lenses[0], elevation).hidden
    assert hidden is not None
    assert not hidden.from_every_stand
    assert hidden.light.size == 0
    bare = dataclasses.replace(
        nowhere, from_stands=tuple((n, shapely.Polygon()) for n, _ in nowhere.from_stands)
    )
    lighting = dataclasses.replace(lighting, blind=bare)
    none = dataclasses.replace(walked, session=dataclasses.replace(session, lighting=lighting))
    assert view_of(none, none.lenses[0], elevation).hidden is None


def test_without_a_raster_the_ground_is_level(walked: Plan) -> None:
    hidden = view_of(walked, walked.lenses[1], None).hidden
    assert hidden is not None
    assert np.isfinite(hidden.light).all()
