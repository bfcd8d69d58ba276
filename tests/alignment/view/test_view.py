"""What a lens will see: directions against the full reduction, and what is in the frame."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.view.bodies import moon_disc, sky_adds_mag
from backbearing.alignment.view.frame_stars import moved_vectors, star_table
from backbearing.alignment.view.lens_views import view_of, views
from backbearing.alignment.view.milky_way import brightness, smooth_map
from backbearing.alignment.view.sky_rotation import SkyTurn
from backbearing.camera import Frame, Lens
from backbearing.sky import Target, direction
from backbearing.sky.moonlight import moonlight_at
from backbearing.sky.stars import STARS

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.plan.view import View
    from backbearing.terrain import Elevation

TIME = dt.datetime(2027, 6, 6, 6, 12, tzinfo=dt.UTC)


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    """Its skyline stands far behind the subject; the sample's begins at its foot."""
    return deep_valley_plan


@pytest.fixture(scope="module")
def seen(plan: Plan, elevation: Elevation) -> tuple[View, ...]:
    return views(plan, elevation)


@pytest.mark.parametrize("lat", [-45.0, 0.0, 36.37, 69.0])
def test_many_directions_at_once_agree_with_the_full_reduction(lat: float) -> None:
    place = {"lat": lat, "lon": -84.36, "height_m": 500.0}
    turn = SkyTurn.at(**place, time=TIME)
    _, vectors, _, _ = star_table()
    some = vectors[:, ::200]
    azimuth, altitude = turn.horizontal(some)
    for i in range(some.shape[1]):
        ra = np.degrees(np.arctan2(some[1, i], some[0, i]))
        dec = np.degrees(np.arcsin(some[2, i]))
        az, alt = direction(Target.radec(ra_deg=ra, dec_deg=dec), **place, times=[TIME])
        assert altitude[i] == pytest.approx(alt[0], abs=1e-3)
        off = (azimuth[i] - az[0] + 180.0) % 360.0 - 180.0
        assert off * np.cos(np.radians(alt[0])) == pytest.approx(0.0, abs=1e-3)


def test_the_turn_is_undone() -> None:
    turn = SkyTurn.at(lat=36.0, lon=10.0, height_m=0.0, time=TIME)
    _, vectors, _, _ = star_table()
    np.testing.assert_allclose(turn.icrs(*turn.horizontal(vectors)), vectors, atol=1e-6)


def test_the_table_holds_the_bright_stars() -> None:
    hip, vectors, mag, _ = star_table()
    assert len(hip) == 5044
    assert len(set(hip.tolist())) == 5044
    assert np.all(np.diff(mag) >= 0.0)
    assert hip[0] == 32349
    np.testing.assert_allclose(np.linalg.norm(vectors, axis=0), 1.0)


def test_the_error_of_stars_without_a_motion_is_as_the_table_says() -> None:
    """`data/STARS.md`: how far stars move until 2030, those of known motion as a sample."""
    moved = [30.0 * np.hypot(s.ra_cos_dec_mas_yr, s.dec_mas_yr) / 1e3 for s in STARS.values()]
    assert len(moved) == 78
    assert np.median(moved) == pytest.approx(2.6, abs=0.1)
    assert np.percentile(moved, 90) == pytest.approx(17.3, abs=0.1)
    assert max(moved) == pytest.approx(111.3, abs=0.1)
    # The motion of Rigil Kentaurus is applied: unmoved it would stand that far off.
    hip, vectors, _, _ = star_table()
    at = hip.tolist().index(71683)
    off = np.degrees(np.arccos(np.clip(vectors[:, at] @ moved_vectors(2030.0)[:, at], -1.0, 1.0)))
    assert off * 3600.0 == pytest.approx(max(moved), abs=0.5)


def test_every_lens_sees_stars_land_and_the_subject(plan: Plan, seen: tuple[View, ...]) -> None:
    assert [view.label for view in seen] == [one.lens.label for one in plan.lenses]
    counts = [len(view.stars.x) for view in seen]
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] > 50
    for view, one in zip(seen, plan.lenses, strict=True):
        assert one.stand is not None
        assert view.ground_known
        points = np.concatenate(view.subject)
        assert points[:, 1].min() == pytest.approx(one.stand.base_margin, abs=0.01)
        # The outline's top need not be in its middle, so its projected height may differ a little.
        assert np.ptp(points[:, 1]) == pytest.approx(one.stand.share, abs=0.03)
        assert np.ptp(points[:, 0]) == pytest.approx(one.stand.share_width, abs=0.005)


def test_the_skyline_in_the_picture_is_the_stands_own(plan: Plan, seen: tuple[View, ...]) -> None:
    for view, one in zip(seen, plan.lenses, strict=True):
        stand = one.stand
        frame = Frame(plan.camera, one.lens, stand.pitch_deg, stand.bearing_deg)
        _, expected = frame.place(stand.target_azimuth_deg, stand.skyline_deg)
        found = np.interp(stand.target_x, view.ridge[:, 0], view.ridge[:, 1])
        assert found == pytest.approx(expected, abs=0.004)
        assert np.interp(stand.target_x, view.near[:, 0], view.near[:, 1]) <= found + 1e-9


def test_antares_falls_where_its_own_direction_does(plan: Plan, seen: tuple[View, ...]) -> None:
    one, view = plan.lenses[1], seen[1]
    stand = one.stand
    az, alt = direction(
        Target.star("Antares"),
        lat=stand.lat,
        lon=stand.lon,
        height_m=stand.ground_m,
        times=[stand.time],
    )
    frame = Frame(plan.camera, one.lens, stand.pitch_deg, stand.bearing_deg)
    x, y = frame.place(float(az[0]), float(alt[0]))
    (at,) = np.flatnonzero(view.stars.hip == 80763)
    assert view.stars.x[at] * plan.camera.frame_width_px == pytest.approx(x * 6000, abs=0.1)
    assert view.stars.y[at] * plan.camera.frame_height_px == pytest.approx(y * 4000, abs=0.1)


def test_without_ground_the_horizon_is_level_and_said_unknown(plan: Plan) -> None:
    view = view_of(plan, plan.lenses[1], None)
    assert not view.ground_known
    stand = plan.lenses[1].stand
    frame = Frame(plan.camera, plan.lenses[1].lens, stand.pitch_deg, stand.bearing_deg)
    _, level = frame.place(stand.bearing_deg, 0.0)
    assert np.interp(0.5, view.ridge[:, 0], view.ridge[:, 1]) == pytest.approx(level, abs=1e-3)


def test_a_lens_without_stand_has_no_view(plan: Plan, elevation: Elevation) -> None:
    gone = dataclasses.replace(plan.lenses[0], stand=None)
    less = dataclasses.replace(plan, lenses=(gone, *plan.lenses[1:]))
    assert len(views(less, elevation)) == 3
    with pytest.raises(ValueError, match="Works"):
        view_of(less, gone, elevation)


def test_the_band_is_bright_south_of_the_plane_and_dark_along_it() -> None:
    l_deg, b_deg = np.array([2.0, 0.0, 0.0, 180.0, 0.0]), np.array([-3.2, 0.0, 60.0, 0.0, 80.0])
    light = brightness(l_deg, b_deg)
    assert light[0] > 3.0 * light[1]
    assert light[0] > 5.0 * light[3] > 0.0
    assert light[3] > light[2] > 0.0
    assert smooth_map().max() == 1.0
    # The map closes at l = 0 and 360.
    np.testing.assert_allclose(smooth_map()[0], smooth_map()[-1], rtol=1e-9)


def test_the_moons_lit_side_faces_the_sun(plan: Plan) -> None:
    # 2027-06-08 02:00 UTC: a young Moon in the west-north-west, the Sun below and north of it.
    stand = dataclasses.replace(
        plan.lenses[0].stand, time=dt.datetime(2027, 6, 8, 2, 0, tzinfo=dt.UTC)
    )
    az, alt = direction(
        Target.body("moon"), lat=stand.lat, lon=stand.lon, height_m=500.0, times=[stand.time]
    )
    frame = Frame(plan.camera, Lens(50.0), float(alt[0]), float(az[0]))
    moon = moon_disc(frame, stand, 500.0)
    assert moon is not None
    assert (moon.x, moon.y) == pytest.approx((0.5, 0.5), abs=1e-6)
    assert 0.05 < moon.lit < 0.25
    assert -90.0 < moon.bright_side_deg < 0.0
    # Half a degree across, 85 mm on 24 mm: f tan(0.26 deg) / 24 mm.
    assert moon.radius == pytest.approx(50.0 * np.tan(np.radians(0.26)) / 24.0, rel=0.08)


def test_moon_and_twilight_fade_the_milky_way(plan: Plan) -> None:
    stand = plan.lenses[0].stand
    assert sky_adds_mag(plan, stand, 500.0) == pytest.approx(0.0, abs=0.05)
    # 13 June 2027, 04:30 UTC: a Moon seven tenths lit in the west.
    moonlit = dataclasses.replace(stand, time=dt.datetime(2027, 6, 13, 4, 30, tzinfo=dt.UTC))
    light = moonlight_at(
        plan.target, lat=stand.lat, lon=stand.lon, height_m=500.0, times=[moonlit.time]
    )
    added = sky_adds_mag(plan, moonlit, 500.0)
    assert 1.0 < float(light.brightening_mag[0]) <= added < float(light.brightening_mag[0]) + 0.05
    # Full daylight has no model, and no Milky Way.
    noon = dataclasses.replace(stand, time=dt.datetime(2027, 6, 13, 17, 0, tzinfo=dt.UTC))
    assert sky_adds_mag(plan, noon, 500.0) == 8.0
