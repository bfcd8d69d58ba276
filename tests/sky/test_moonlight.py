from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.alignment.view.sky_rotation import SkyTurn
from backbearing.base.errors import SkyError
from backbearing.sky import CORE, Target, dark_windows, direction, light_side, moonlight_at
from backbearing.sky.band import band_directions, band_share_up
from backbearing.sky.glow import twilight_brightening_mag, twilight_nl
from backbearing.sky.moonlight import Moonlight
from backbearing.sky.targets import MOON

VALLEY = {"lat": 36.3, "lon": -84.2, "height_m": 400.0}
MONTH = np.datetime64("2027-06-01T00:00") + np.arange(30 * 48) * np.timedelta64(30, "m")


def test_no_moonlight_with_the_moon_down_and_none_known_with_the_target_down() -> None:
    light = moonlight_at(CORE, **VALLEY, times=MONTH)
    _, core = direction(CORE, **VALLEY, times=MONTH)
    down = light.altitude_deg <= -0.35
    assert (light.brightening_mag[down & (core > 0.0)] == 0.0).all()
    assert (light.ground_lux[down] == 0.0).all()
    assert np.isnan(light.brightening_mag[core <= 0.0]).all()
    assert (light.brightening_mag[(light.altitude_deg > 0.0) & (core > 0.0)] > 0.0).all()


def test_on_the_moons_disc_nothing_is_given() -> None:
    light = moonlight_at(MOON, **VALLEY, times=MONTH)
    assert np.isnan(light.brightening_mag[light.altitude_deg > 0.0]).all()


def test_a_thin_moon_far_away_may_be_welcome_and_a_full_one_is_not() -> None:
    light = moonlight_at(CORE, **VALLEY, times=MONTH)
    assert light.welcome.any()
    assert (light.brightening_mag[light.welcome] <= 0.2).all()
    assert light.lit[light.welcome & (light.altitude_deg > 3.0)].max() < 0.6


@pytest.mark.parametrize(
    ("moon", "altitude", "says"),
    [
        (180.0, 20.0, "back light"),
        (215.0, 20.0, "back light from the right"),
        (239.0, 20.0, "back light from the right"),
        (241.0, 20.0, "side light from the right"),
        (90.0, 20.0, "side light from the left"),
        (61.0, 20.0, "side light from the left"),
        (59.0, 20.0, "front light from the left"),
        (20.0, 20.0, "front light from the left"),
        (355.0, 20.0, "front light"),
        (351.0, 20.0, "front light"),
        (349.0, 20.0, "front light from the right"),
        (171.0, 20.0, "back light"),
        (169.0, 20.0, "back light from the left"),
        (100.0, 59.0, "side light from the left"),
        (100.0, 61.0, "above"),
        (100.0, -0.25, "side light from the left"),
        (100.0, -0.27, "below the horizon"),
        (100.0, -1.0, "below the horizon"),
    ],
)
def test_where_the_light_falls_from(moon: float, altitude: float, says: str) -> None:
    side = light_side(moon_azimuth_deg=moon, moon_altitude_deg=altitude, sight_azimuth_deg=180.0)
    assert str(side) == says


@given(st.floats(0, 360), st.floats(0, 360))
def test_left_and_right_are_mirrored(moon: float, sight: float) -> None:
    one = light_side(moon_azimuth_deg=moon, moon_altitude_deg=10, sight_azimuth_deg=sight)
    other = light_side(moon_azimuth_deg=-moon, moon_altitude_deg=10, sight_azimuth_deg=-sight)
    assert one.kind == other.kind
    assert {one.hand, other.hand} in ({""}, {"left", "right"})


def test_a_moon_that_adds_little_is_accepted_when_asked() -> None:
    first = dt.date(2027, 6, 1)
    strict = dark_windows(**VALLEY, first_night=first, nights=30)
    mild = dark_windows(**VALLEY, first_night=first, nights=30, moon_adds_mag=0.2)
    assert sum(w.minutes for w in mild) > sum(w.minutes for w in strict) + 60
    for window in mild:
        times = np.linspace(window.start.timestamp() + 1, window.end.timestamp() - 1, 9)
        utc = (times * 1e6).astype("int64").astype("datetime64[us]")
        adds = moonlight_at(CORE, **VALLEY, times=utc).brightening_mag
        assert (adds <= 0.2 + 1e-3).all()
    with pytest.raises(SkyError, match="moon_adds_mag"):
        dark_windows(**VALLEY, first_night=first, moon_adds_mag=-0.1)


def test_glow_fades_with_the_sun() -> None:
    evening = np.datetime64("2027-07-10T01:30") + np.arange(12) * np.timedelta64(10, "m")
    glow = twilight_brightening_mag(CORE, **VALLEY, times=evening)
    known = glow[np.isfinite(glow)]
    assert known.size >= 10
    assert (np.diff(known) < 0.0).all()


def test_band_points_lie_where_targets_lie() -> None:
    azimuth, altitude = band_directions(**VALLEY, times=MONTH[:3])
    for i, l_deg in ((0, -30.0), (30, 0.0), (45, 15.0)):
        az, alt = direction(Target.galactic(l_deg=l_deg, b_deg=0.0), **VALLEY, times=MONTH[:3])
        assert altitude[i] == pytest.approx(alt, abs=0.015)
        assert np.sin(np.radians(azimuth[i] - az)) == pytest.approx(0.0, abs=5e-4)


class Wall:
    def __init__(self, level: float) -> None:
        self.level = level

    def altitude_at(self, azimuth_deg: object) -> np.ndarray:
        return np.full(np.shape(azimuth_deg), self.level)


def test_share_of_the_band_falls_as_the_skyline_rises() -> None:
    night = MONTH[:96]
    shares = [
        band_share_up(**VALLEY, times=night, horizon=Wall(level)) for level in (0.0, 10.0, 30.0)
    ]
    assert (shares[0] >= shares[1]).all()
    assert (shares[1] >= shares[2]).all()
    assert shares[0].max() > 0.9
    assert shares[2].min() == 0.0
    known = band_share_up(**VALLEY, times=night, horizon=Wall(np.nan))
    assert np.isnan(known).any()
    assert (known[np.isfinite(known)] == 0.0).all()


def test_stars_by_name_in_any_case_and_near_misses() -> None:
    assert Target.star("  rigil   KENTAURUS ").name == "Rigil Kentaurus"
    with pytest.raises(SkyError, match="did you mean Antares"):
        Target.star("Antaris")
    with pytest.raises(SkyError, match="the stars known are"):
        Target.star("qqqq")


def test_one_extinction_dims_moonlight_glow_and_the_stars_of_a_picture() -> None:
    import inspect

    from backbearing.alignment.view.frame_stars import stars_in
    from backbearing.sky.glow import twilight_nl
    from backbearing.sky.moonlight import dark_sky_nl, dimming_mag, moonlight_nl

    for function in (
        *(moonlight_nl, dark_sky_nl, moonlight_at, dimming_mag),
        *(twilight_nl, twilight_brightening_mag, stars_in),
    ):
        assert inspect.signature(function).parameters["extinction_mag"].default == 0.172


def test_the_air_dims_by_its_path_and_not_below_the_horizontal() -> None:
    from backbearing.sky.moonlight import dimming_mag

    # By hand: 1 / sqrt(1 - 0.96 sin^2 60) = 1.88982, and 5 at the horizontal.
    found = dimming_mag([90.0, 30.0, 0.0, -20.0], extinction_mag=0.2)
    assert found == pytest.approx([0.0, 0.177964, 0.8, 0.8], abs=1e-6)
    assert np.isnan(dimming_mag(np.nan))


def test_over_falling_land_the_sky_of_the_horizontal_is_taken() -> None:
    place = {**VALLEY, "times": MONTH}
    known = moonlight_at(CORE, **place)
    low = moonlight_at(CORE, **place, low_skyline=True)
    _, core = direction(CORE, **place)
    up = core > 0.0
    assert (low.brightening_mag[up] == known.brightening_mag[up]).all()
    assert np.isfinite(low.brightening_mag).all()
    glow = twilight_brightening_mag(CORE, **place, low_skyline=True)
    assert np.isfinite(glow[~up & np.isfinite(known.altitude_deg)]).any()
    assert np.array_equal(glow[up], twilight_brightening_mag(CORE, **place)[up], equal_nan=True)


def shining(*, brightening_mag: float, face_lux: float) -> Moonlight:
    one = np.array([30.0])
    return Moonlight(
        azimuth_deg=one, altitude_deg=one, phase_angle_deg=one, lit=one, separation_deg=one,
        brightening_mag=np.array([brightening_mag]), sky_mag=one, ground_lux=one,
        face_lux=np.array([face_lux]),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("brightening_mag", "face_lux", "welcome"),
    [(0.19, 0.0011, True), (0.21, 0.0011, False), (0.19, 0.0009, False), (np.nan, 1.0, False)],
)
def test_welcome_is_more_than_starlight_and_at_most_a_fifth_of_a_magnitude(
    brightening_mag: float, face_lux: float, *, welcome: bool
) -> None:
    light = shining(brightening_mag=brightening_mag, face_lux=face_lux)
    assert light.welcome.tolist() == [welcome]


@pytest.mark.parametrize(
    ("over_ridge", "kind"), [(-0.25, "back"), (-0.27, "behind the ridge"), (np.nan, "back")]
)
def test_a_moon_whose_limb_shows_over_the_ridge_still_shines(over_ridge: float, kind: str) -> None:
    side = light_side(
        moon_azimuth_deg=180.0, moon_altitude_deg=20.0, sight_azimuth_deg=180.0,
        moon_over_ridge_deg=over_ridge,
    )  # fmt: skip
    assert side.kind == kind


@pytest.mark.parametrize(("apart_deg", "known"), [(0.25, False), (0.29, False), (0.31, True)])
def test_within_three_tenths_of_a_degree_of_the_moon_nothing_is_given(
    apart_deg: float, *, known: bool
) -> None:
    time = dt.datetime(2027, 6, 16, 4, 0, tzinfo=dt.UTC)
    azimuth, altitude = (float(v[0]) for v in direction(MOON, **VALLEY, times=[time]))
    assert altitude > 20.0
    there = SkyTurn.at(**VALLEY, time=time).icrs(
        np.array([azimuth]), np.array([altitude + apart_deg])
    )[:, 0]
    beside = Target.radec(
        ra_deg=float(np.degrees(np.arctan2(there[1], there[0])) % 360.0),
        dec_deg=float(np.degrees(np.arcsin(there[2]))),
    )
    light = moonlight_at(beside, **VALLEY, times=[time])
    assert light.separation_deg[0] == pytest.approx(apart_deg, abs=0.003)
    assert bool(np.isfinite(light.brightening_mag[0])) is known


def test_twilight_is_not_given_with_the_sun_less_than_four_degrees_down() -> None:
    found = twilight_nl(
        sun_altitude_deg=[-3.9, -4.1, -18.0], separation_deg=90.0, zenith_distance_deg=45.0
    )
    assert np.isfinite(found).tolist() == [False, True, True]


def test_the_side_is_counted_from_the_sight_line() -> None:
    side = light_side(moon_azimuth_deg=20.0, moon_altitude_deg=12.0, sight_azimuth_deg=310.0)
    assert (side.kind, side.hand) == ("side", "right")
    assert (side.turn_deg, side.altitude_deg) == (70.0, 12.0)
    behind = light_side(
        moon_azimuth_deg=310.0, moon_altitude_deg=12.0, sight_azimuth_deg=310.0,
        moon_over_ridge_deg=-1.0,
    )  # fmt: skip
    assert str(behind) == "behind the ridge"


def test_a_rising_moon_shines_with_the_part_of_its_disc_that_is_up() -> None:
    # From the first light to the whole the Moon climbs by its own width, 0.52 degrees; at the
    # horizontal the air's path hardly changes on so short a way.
    seconds = np.arange(0, 7_200, 5)
    times = np.datetime64("2027-06-20T01:00") + seconds * np.timedelta64(1, "s")
    lux = moonlight_at(CORE, **VALLEY, times=times).face_lux
    first = int(np.argmax(lux > 0.0))
    assert first > 0
    whole = lux[first + 72]  # six minutes later
    half = int(np.argmax(lux > 0.5 * whole))
    last = int(np.argmax(lux > 0.99 * whole))
    _, altitude = direction(MOON, **VALLEY, times=times, refraction=False)
    climbed = altitude[[half, last]] - altitude[first]
    assert climbed == pytest.approx([0.26, 0.52], abs=0.03)
