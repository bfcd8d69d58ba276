"""Measured heights, shadows and places against handbooks, libraries and first principles.

Worked examples were read on the pages named; the Sun comes from astropy (ERFA) and from PyEphem
(libastro), geodesics from geographiclib, XML attacks are our own.
"""

from __future__ import annotations

import datetime as dt
import math

import ephem
import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, get_sun
from astropy.time import Time
from astropy.utils import iers
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import BackbearingError, MeasureError
from backbearing.measuring import (
    Measured,
    PictureScale,
    Reading,
    Sighting,
    Spot,
    Track,
    combined_places,
    degrees_of_percent,
    drop_by_angle,
    height_by_angles,
    height_by_picture,
    height_by_pole,
    height_by_shadow,
    height_by_sights,
    height_by_staff,
    height_by_step_back,
    height_by_two_shadows,
    place_by_bearings,
    place_from_stand,
    place_of_track,
    sun_altitude_deg,
    taped,
    width_by_picture,
)
from backbearing.measuring.bearings import true_bearing
from backbearing.measuring.places import place_of

FOOT_M = 0.3048


def exact(value: float) -> Reading:
    return Reading(value, 0.0)


def percent(value: float) -> Reading:
    return degrees_of_percent(exact(value))


def test_a_clinometers_manual_on_a_slope() -> None:
    # Manual of a hand clinometer with a percent scale (manualsdump.com 230839, pages 13 and 14):
    # 25 m or 82 ft along ground that rises 9 degrees, 29 per cent to the top and 23 down to the
    # base: 12.8 m, or 42 ft; with a slope of 35 degrees 18 per cent less than on the level.
    found = height_by_angles(exact(25.0), percent(29.0), percent(-23.0), slope_deg=exact(9.0))
    assert found.value_m == pytest.approx(12.8, abs=0.05)
    found = height_by_angles(exact(82.0), percent(29.0), percent(-23.0), slope_deg=exact(9.0))
    assert found.value_m == pytest.approx(42.0, abs=0.15)
    steep = height_by_angles(exact(25.0), percent(29.0), percent(-23.0), slope_deg=exact(35.0))
    assert steep.value_m / 13.0 == pytest.approx(0.82, abs=0.002)


def test_a_twig_by_the_sine_method() -> None:
    # R. Leverett, Height measurement basics (Native Tree Society, 2006): 105 ft along the sight at
    # 47 degrees is 76.8 ft above the eye. The base is put at eye level here.
    found = height_by_sights(exact(105.0), exact(47.0), exact(60.0), exact(0.0))
    assert found.value_m == pytest.approx(76.8, abs=0.05)


def test_a_tree_by_tangent_and_eye_height() -> None:
    # A school's worked example (0685.com, k12 basics 49802): 50 ft away, 17 degrees, whose tangent
    # is taken as 0.31, and the eye 5.5 ft up: 15.5 and 5.5 ft are 21.0 (20.8 there, by a slip).
    base = -math.degrees(math.atan2(5.5, 50.0))
    found = height_by_angles(exact(50.0), exact(17.0), exact(base))
    assert found.value_m == pytest.approx(50.0 * 0.31 + 5.5, abs=0.3)


def test_a_step_back_with_the_base_at_eye_level() -> None:
    # R. Leverett, New measurement method (Native Tree Society, 2007), for a crown point over eye
    # level: H = D tan A tan B / (tan A - tan B), A from the nearer of two places D apart.
    for near, far, step in ((50.0, 35.0, 20.0), (12.0, 9.0, 7.5)):
        a, b = math.tan(math.radians(near)), math.tan(math.radians(far))
        level = exact(0.0)
        found = height_by_step_back(exact(step), (exact(near), level), (exact(far), level))
        assert found.value_m == pytest.approx(step * a * b / (a - b))


def test_percent_in_degrees_and_minutes() -> None:
    # FAO, Topography for freshwater fish culture, section 4.0, table 4 as its examples quote it:
    # degrees, minutes and seconds of 10, 5 and 2 per cent, and 15.84 and 0.87 per cent for 9
    # degrees and 30 minutes.
    for share, d, m, s in ((10.0, 5, 42, 40), (5.0, 2, 51, 40), (2.0, 1, 8, 40), (15.84, 9, 0, 0),
                           (0.87, 0, 30, 0)):  # fmt: skip
        assert percent(share).value == pytest.approx(d + m / 60.0 + s / 3600.0, abs=12.0 / 3600.0)


def test_a_tape_and_half_a_degree_are_worth_what_foresters_say() -> None:
    # Brack and Wood, Forest Mensuration (ANU, 1998), leaning trees: instruments agree within some
    # 2.5 per cent; on a 40 m tree differences of 1 m from two places are acceptable.
    found = height_by_angles(taped(40.0), Reading(44.0, 0.5), Reading(-2.3, 0.5))
    assert 0.015 < found.sigma_m / found.value_m < 0.03
    assert found.sigma_m == pytest.approx(1.0, abs=0.3)


def scene(points: np.ndarray, focal: float, pitch_deg: float) -> list[Spot]:
    """Project points (east, north, up of the lens, metres) by a turned matrix, an own pinhole."""
    pitch = math.radians(pitch_deg)
    turn = np.array([
        [1.0, 0.0, 0.0],
        [0.0, math.cos(pitch), math.sin(pitch)],
        [0.0, -math.sin(pitch), math.cos(pitch)],
    ])  # fmt: skip
    seen = points @ turn.T
    return [Spot(3000.0 + focal * x / y, 2000.0 - focal * z / y) for x, y, z in seen]


def test_a_pinhole_of_ones_own_gives_back_what_stood_before_it() -> None:
    rng = np.random.default_rng(5)
    for _ in range(50):
        focal, pitch = rng.uniform(3000, 9000), rng.uniform(-15.0, 15.0)
        east, north, base = rng.uniform(-6, 6), rng.uniform(25, 60), rng.uniform(-6, 2)
        height, wide = rng.uniform(2, 8), rng.uniform(1, 6)
        away = math.hypot(east, north)
        # Across the line of sight to the middle.
        side = np.array([north, -east, 0.0]) * wide / 2.0 / away
        foot = np.array([east, north, base])
        head = np.array([east, north, base + height])
        left, right = foot - side, foot + side
        near = np.array([1.5, 18.0, base])
        raised = near + np.array([0.0, 0.0, 1.8])
        spots = scene(np.array([head, foot, left, right, raised, near]), focal, pitch)
        scale = PictureScale(6000, 4000, exact(focal), exact(pitch), spot_sigma_px=0.0)
        if not all(0 <= s.column_px <= 6000 and 0 <= s.row_px <= 4000 for s in spots):
            continue
        found = height_by_picture(scale, exact(away), spots[0], spots[1])
        assert found.value_m == pytest.approx(height, rel=1e-9)
        across = width_by_picture(scale, exact(away), spots[2], spots[3])
        assert across.value_m == pytest.approx(wide, rel=1e-9)
        by_staff = height_by_staff(
            scale, exact(1.8), (spots[0], spots[1]), (spots[4], spots[5]),
            distances_m=(exact(away), exact(math.hypot(1.5, 18.0))),
        )  # fmt: skip
        assert by_staff.value_m == pytest.approx(height, rel=1e-9)


def test_clinometer_ways_give_back_what_stands_in_a_field() -> None:
    # Angles to points at known heights and distances, from the arc tangent alone.
    rng = np.random.default_rng(6)

    def angle(up: float, away: float) -> Reading:
        return exact(math.degrees(math.atan2(up, away)))

    for _ in range(100):
        away, step, base = rng.uniform(5, 80), rng.uniform(3, 40), rng.uniform(-5, 5)
        height, pole = rng.uniform(1, 40), rng.uniform(1, 5)
        top = base + height
        near = angle(top, away), angle(base, away)
        lift = rng.uniform(-3, 3)  # The eye may stand higher or lower at the far place.
        far = angle(top - lift, away + step), angle(base - lift, away + step)
        assert height_by_angles(exact(away), *near).value_m == pytest.approx(height)
        along = math.hypot(away, base)
        assert height_by_angles(exact(along), *near, tape="sight").value_m == pytest.approx(height)
        held = height_by_pole(exact(pole), near[0], angle(base + pole, away), near[1])
        assert held.value_m == pytest.approx(height)
        if step > 0.1 * away:
            assert height_by_step_back(exact(step), near, far).value_m == pytest.approx(height)
        drop = drop_by_angle(exact(away), near[1], exact(1.6)).value_m
        # Curvature less refraction, (1 - k) D^2 / 2R with k = 0.13 and R = 6371 km, is below a mm.
        curve = 0.87 * away**2 / (2.0 * 6_371_000.0)
        assert drop == pytest.approx(1.6 + base + curve, abs=1e-5)


SHADOWS = [
    (36.37, -84.36, 400.0, dt.datetime(2027, 6, 21, 21, 0, tzinfo=dt.UTC)),
    (-31.27, 149.06, 1100.0, dt.datetime(2027, 1, 10, 6, 30, tzinfo=dt.UTC)),
    (65.0, 25.0, 10.0, dt.datetime(2027, 3, 20, 9, 0, tzinfo=dt.UTC)),
]


@pytest.mark.parametrize(("lat", "lon", "height_m", "when"), SHADOWS)
def test_the_suns_altitude_against_two_libraries(
    lat: float, lon: float, height_m: float, when: dt.datetime
) -> None:
    altitude, azimuth = sun_altitude_deg(lat=lat, lon=lon, when=when, height_m=height_m)
    place = EarthLocation.from_geodetic(lon * u.deg, lat * u.deg, height_m * u.m)
    # Standard air of 1976 at that height, by its published law.
    kelvin = 288.15 - 0.0065 * height_m
    pressure = 1013.25 * (kelvin / 288.15) ** 5.2559
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        frame = AltAz(
            obstime=Time(when), location=place, pressure=pressure * u.hPa,
            temperature=(kelvin - 273.15) * u.deg_C, relative_humidity=0.5, obswl=0.55 * u.um,
        )  # fmt: skip
        seen = get_sun(Time(when)).transform_to(frame)
    assert altitude == pytest.approx(seen.alt.deg, abs=0.01)
    assert azimuth == pytest.approx(seen.az.deg, abs=0.01)
    here = ephem.Observer()
    here.lat, here.lon, here.elevation = str(lat), str(lon), height_m
    here.pressure, here.temp = pressure, kelvin - 273.15
    here.date = when.replace(tzinfo=None)
    sun = ephem.Sun(here)
    assert altitude == pytest.approx(math.degrees(sun.alt), abs=0.01)


@pytest.mark.parametrize(("lat", "lon", "height_m", "when"), SHADOWS)
def test_a_shadow_cast_by_astropys_sun(
    lat: float, lon: float, height_m: float, when: dt.datetime
) -> None:
    del height_m
    here = ephem.Observer()
    here.lat, here.lon, here.date = str(lat), str(lon), when.replace(tzinfo=None)
    here.pressure, here.temp = 1013.25, 15.0
    sun = float(ephem.Sun(here).alt)
    for slope, height in ((0.0, 6.0), (5.0, 6.0), (-5.0, 12.0)):
        # Where a ray over the top meets the sloping ground: level x with x tan g = H - x tan h.
        ground = math.radians(slope)
        level = height / (math.tan(sun) + math.tan(ground))
        shadow = level / math.cos(ground)
        found = height_by_shadow(exact(shadow), lat=lat, lon=lon, when=when, slope_deg=exact(slope))
        assert found.value_m == pytest.approx(height, rel=0.001)


def test_two_shadows_are_similar_triangles() -> None:
    # A staff of 1.73 m with a shadow of 10 beside a shadow of 40 (a scouting handbook's example,
    # scoutlibrary.in, height estimation): 6.92.
    found = height_by_two_shadows(exact(40.0), exact(1.73), exact(10.0), apart_s=0.0)
    assert found.value_m == pytest.approx(6.92)
    with pytest.raises(MeasureError, match="12 times as long as the staff"):
        height_by_two_shadows(exact(40.0), exact(1.0), exact(12.0))


def test_bearings_and_stands_by_geographiclib() -> None:
    rng = np.random.default_rng(8)
    for _ in range(40):
        lat, lon = rng.uniform(-70, 70), rng.uniform(-180, 180)
        points = []
        for turn in rng.uniform(0, 360) + np.array([0.0, 70.0, 160.0]):
            end = Geodesic.WGS84.Direct(lat, lon, turn, rng.uniform(200, 4000))
            points.append((end["lat2"], end["lon2"]))
        sightings = []
        for p_lat, p_lon in points:
            line = Geodesic.WGS84.Inverse(p_lat, p_lon, lat, lon)
            sightings.append(Sighting(p_lat, p_lon, Reading(line["azi1"], 1.0)))
            found = place_from_stand(
                lat=p_lat, lon=p_lon, stand_sigma_m=1.0, bearing_deg=Reading(line["azi1"], 1.0),
                distance_m=Reading(line["s12"], 1.0),
            )  # fmt: skip
            assert Geodesic.WGS84.Inverse(lat, lon, found.lat, found.lon)["s12"] < 1e-4
        found = place_by_bearings(sightings)
        assert Geodesic.WGS84.Inverse(lat, lon, found.lat, found.lon)["s12"] < 1e-3


def test_an_ellipse_is_the_spread_of_drawn_bearings() -> None:
    # Three points, bearings drawn 800 times with their doubt, one error common to all.
    rng = np.random.default_rng(9)
    points = [(36.370, -84.360), (36.370, -84.352), (36.377, -84.349)]
    true = [Geodesic.WGS84.Inverse(*p, 36.374, -84.357)["azi1"] for p in points]
    at = [Sighting(*p, Reading(a, 1.0), 0.0) for p, a in zip(points, true, strict=True)]
    found = place_by_bearings(at, common_sigma_deg=0.5)
    places = []
    for _ in range(800):
        common = rng.normal(0.0, 0.5)
        one = [
            Sighting(*p, Reading(a + common + rng.normal(0.0, 1.0), 1.0), 0.0)
            for p, a in zip(points, true, strict=True)
        ]
        got = place_by_bearings(one, common_sigma_deg=0.5)
        places.append((math.radians(got.lon) * 6_370_000 * math.cos(math.radians(36.374)),
                       math.radians(got.lat) * 6_360_000))  # fmt: skip
    sizes, axes = np.linalg.eigh(np.cov(np.array(places).T))
    assert (found.minor_m, found.major_m) == pytest.approx(np.sqrt(sizes), rel=0.1)
    azimuth = math.degrees(math.atan2(axes[0, 1], axes[1, 1])) % 180.0
    assert abs((found.major_azimuth_deg - azimuth + 90.0) % 180.0 - 90.0) < 6.0


def test_places_are_joined_as_their_ellipses_say() -> None:
    # Two strips across one another: each place tells what the other does not. By hand: with
    # variances 1 and 100 along either axis the joint one is 100/101 along both.
    north = place_of(36.37, -84.36, np.diag([1.0, 100.0]), "one")
    east = place_of(36.37, -84.36, np.diag([100.0, 1.0]), "other")
    found = combined_places([north, east])
    assert (found.major_m, found.minor_m) == pytest.approx((math.sqrt(100.0 / 101.0),) * 2)
    assert "they agree" in found.notes[-1]
    # Drawn 1,000 times with their own ellipses, turned: the joint ellipse is the spread.
    rng = np.random.default_rng(15)
    turn = np.array([[0.8, -0.6], [0.6, 0.8]])
    laws = [turn @ np.diag([4.0, 25.0]) @ turn.T, np.diag([9.0, 1.0])]
    middles = []
    for _ in range(1000):
        drawn = []
        for law in laws:
            off = rng.multivariate_normal([0.0, 0.0], law)
            drawn.append(place_of(off[1] / 110_574.0, off[0] / 111_319.5, law, "drawn"))
        joint = combined_places(drawn)
        middles.append((joint.lon * 111_319.5, joint.lat * 110_574.0))
    said = np.linalg.inv(sum(np.linalg.inv(law) for law in laws))
    assert np.cov(np.array(middles).T) == pytest.approx(said, rel=0.15, abs=0.15)


def test_places_that_lie_apart_are_sent_back() -> None:
    here = place_of(36.37, -84.36, np.diag([4.0, 4.0]), "one")
    there = Geodesic.WGS84.Direct(36.37, -84.36, 90.0, 20.0)
    far = place_of(there["lat2"], there["lon2"], np.diag([4.0, 4.0]), "other")
    found = combined_places([here, far])
    assert "up to 20.0 m apart: measure again" in found.notes[-1]
    # Chi-square is 20^2 / 8 = 50 for two: widened five times.
    assert found.sigma_m == pytest.approx(5.0 * math.sqrt(2.0))
    assert combined_places([here]) is here
    with pytest.raises(MeasureError, match="without doubt"):
        combined_places([here, place_of(36.37, -84.36, np.zeros((2, 2)), "an oath")])


def test_a_compass_bearing_has_the_models_declination() -> None:
    # WMM2025's own test values (2025.0, 0 m, 80 N 0 E: 1.28 degrees; 0 N 120 E: -0.16) are in the
    # tests of the declination; here only that it is added, and that its doubt is handed on.
    bearing, common = true_bearing(359.5, lat=0.0, lon=120.0, when=dt.date(2025, 1, 1))
    assert bearing.value == pytest.approx(359.5 - 0.16, abs=0.02)
    assert common == pytest.approx(math.hypot(0.26, 5417.0 / 39_650.0), abs=0.01)
    with pytest.raises(MeasureError, match="use true bearings"):
        true_bearing(10.0, lat=0.0, lon=120.0, when=dt.date(2040, 1, 1))
    # The south magnetic pole of 2025 lies near 64 S 136 E (NOAA, wandering of the poles).
    with pytest.raises(MeasureError, match=r"useless.*give true bearings"):
        true_bearing(10.0, lat=-63.9, lon=135.9, when=dt.date(2025, 1, 1))


def wandering(rng: np.random.Generator, n: int, hold_s: float, sigma_m: float) -> np.ndarray:
    """Errors (n, 2), one a second, that forget themselves over ``hold_s``: a Gauss-Markov walk."""
    keep = math.exp(-1.0 / hold_s)
    noise = rng.normal(0.0, sigma_m, (n, 2))
    out = noise.copy()
    for i in range(1, n):
        out[i] = keep * out[i - 1] + math.sqrt(1.0 - keep**2) * noise[i]
    return out


def track_of(errors_m: np.ndarray, times_s: np.ndarray | None = None) -> Track:
    lat = 36.37 + errors_m[:, 1] / 110_970.0
    lon = -84.36 + errors_m[:, 0] / 89_760.0
    return Track(lat, lon, np.arange(float(len(lat))) if times_s is None else times_s)


@pytest.mark.parametrize("hold_s", [0.5, 10.0, 30.0])
def test_the_scatters_part_is_the_true_scatter_of_means(hold_s: float) -> None:
    # 300 sittings of ten minutes whose errors are known: how far their means truly lie off.
    rng = np.random.default_rng(10)
    off, said = [], []
    for _ in range(300):
        errors = wandering(rng, 600, hold_s, 2.0)
        found = place_of_track(track_of(errors), floor_sigma_m=0.0)
        off.append((found.lat - 36.37) * 110_970.0)
        said.append(found.sigma_m)
    # Autocorrelations from one track of few independent fixes are rough; the mean of what is said
    # is held to a quarter of the truth.
    assert np.sqrt(np.mean(np.square(said))) == pytest.approx(np.std(off), rel=0.25)


def test_a_thousand_fixes_do_not_make_a_decimetre() -> None:
    rng = np.random.default_rng(12)
    found = place_of_track(track_of(rng.normal(0.0, 1.5, (1000, 2))))
    # Ten minutes and a quarter of an hour share nearly all of their common error.
    assert 2.8 < found.sigma_m < 3.3
    # Five sittings on five days: as five readings, by the square root.
    days = np.concatenate([86_400.0 * day + np.arange(200.0) for day in range(5)])
    found = place_of_track(track_of(rng.normal(0.0, 1.5, (1000, 2)), days))
    assert found.sigma_m == pytest.approx(3.2 / math.sqrt(5.0), rel=0.06)


def test_jumps_are_left_out_and_a_walk_is_refused() -> None:
    rng = np.random.default_rng(13)
    errors = rng.normal(0.0, 1.0, (600, 2))
    errors[::50] += 80.0
    found = place_of_track(track_of(errors))
    assert "12 fixes far from the others left out" in found.notes
    assert abs(found.lat - 36.37) * 110_970.0 < 0.2
    errors[:, 0] += np.linspace(0.0, 300.0, 600)
    with pytest.raises(MeasureError, match="the receiver moved"):
        place_of_track(track_of(errors))
    with pytest.raises(MeasureError, match="3 fixes"):
        place_of_track(track_of(errors[:3]))


def test_a_track_across_the_180th_meridian_and_one_without_times() -> None:
    rng = np.random.default_rng(14)
    noise = rng.normal(0.0, 1e-5, (2, 100))
    lon = (180.0 + noise[1] + 180.0) % 360.0 - 180.0
    found = place_of_track(Track(-16.5 + noise[0], lon, np.full(100, math.nan)))
    assert abs(abs(found.lon) - 180.0) < 1e-4
    assert any("without a time" in note for note in found.notes)


def test_parallel_lines_and_backward_ones_are_refused() -> None:
    def at(lon: float, bearing: float) -> Sighting:
        return Sighting(36.37, lon, Reading(bearing, 2.0))

    with pytest.raises(MeasureError, match="nearly parallel: they cross under 10°"):
        place_by_bearings([at(-84.36, 0.0), at(-84.35, 350.0)])
    with pytest.raises(MeasureError, match="nearly parallel"):
        place_by_bearings([at(-84.36, 10.0), at(-84.35, 190.0)])
    with pytest.raises(MeasureError, match="behind point 1"):
        place_by_bearings([at(-84.36, 225.0), at(-84.35, 315.0)])
    found = place_by_bearings([at(-84.36, 45.0), at(-84.35, 315.0), at(-84.355, 40.0)])
    assert any("take them again" in note for note in found.notes)


NUMBERS = st.floats(-1e6, 1e6) | st.sampled_from([0.0, 90.0, -90.0, 89.999, 1e-9, 45.0])
SIGMAS = st.floats(0.0, 1e3) | st.just(0.0)
READINGS = st.builds(Reading, NUMBERS, SIGMAS)


@given(st.lists(READINGS, min_size=5, max_size=5))
def test_any_readings_give_a_length_or_a_sentence(readings: list[Reading]) -> None:
    a, b, c, d, e = readings
    scale = PictureScale(6000, 4000, Reading(8000.0, 100.0))
    ways = (
        lambda: height_by_angles(a, b, c),
        lambda: height_by_angles(a, b, c, tape="sight"),
        lambda: height_by_angles(a, b, c, slope_deg=d),
        lambda: height_by_sights(a, b, c, d),
        lambda: height_by_pole(a, b, c, d),
        lambda: height_by_step_back(a, (b, c), (d, e)),
        lambda: drop_by_angle(a, b, c, target_m=d),
        lambda: height_by_picture(scale, a, Spot(b.value, c.value), Spot(d.value, e.value)),
        lambda: width_by_picture(scale, a, Spot(b.value, c.value), Spot(d.value, e.value)),
    )
    for way in ways:
        try:
            found = way()
        except BackbearingError as problem:
            said = str(problem)
            assert "\n" not in said
            assert "nan" not in said.replace("nanometre", "")
            continue
        assert isinstance(found, Measured)
        assert math.isfinite(found.value_m)
        assert math.isfinite(found.sigma_m)
        assert found.sigma_m >= 0.0


@given(st.lists(st.tuples(st.floats(-89, 89), st.floats(-180, 180), st.floats(-720, 720)),
                max_size=4))  # fmt: skip
def test_any_bearings_give_a_place_or_a_sentence(rows: list[tuple[float, float, float]]) -> None:
    try:
        found = place_by_bearings([Sighting(a, o, Reading(b, 2.0)) for a, o, b in rows])
    except MeasureError as problem:
        said = str(problem)
    else:
        assert math.isfinite(found.sigma_m)
        assert found.major_m >= found.minor_m
        said = ""
    assert "\n" not in said
