from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.base.errors import SkyError
from backbearing.sky import CORE, Target, direction, earth, lean_deg, places
from backbearing.sky.lean import plane_angle_deg
from backbearing.sky.targets import SUN

if TYPE_CHECKING:
    from numpy.typing import NDArray

WHEN = np.datetime64("2027-06-13T04:00")
HERE: dict[str, Any] = {"lat": 36.3, "lon": -84.2, "height_m": 400.0}


def test_shapes_broadcast_and_agree_with_single_calls() -> None:
    lat = np.array([[-40.0], [0.0], [55.0]])
    lon = np.array([[10.0], [-80.0], [179.0]])
    height = np.array([[0.0], [100.0], [2000.0]])
    times = WHEN + np.arange(4) * np.timedelta64(1, "h")
    az, alt = direction(CORE, lat=lat, lon=lon, height_m=height, times=times)
    assert az.shape == alt.shape == (3, 4)
    assert az.dtype == np.float64
    for i in range(3):
        for j in range(4):
            one = direction(
                CORE,
                lat=float(lat[i, 0]),
                lon=float(lon[i, 0]),
                height_m=float(height[i, 0]),
                times=times[j],
            )
            assert (float(one[0]), float(one[1])) == pytest.approx((az[i, j], alt[i, j]), abs=1e-9)


def test_scalars_give_arrays_without_shape() -> None:
    az, alt = direction(CORE, **HERE, times=datetime(2027, 6, 13, 4, tzinfo=UTC))
    assert az.shape == alt.shape == ()
    assert 0.0 <= float(az) < 360.0


def test_chunks_leave_no_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    times = WHEN + np.arange(2000) * np.timedelta64(60, "s")
    whole = direction(CORE, **HERE, times=times)
    monkeypatch.setattr("backbearing.sky.directions._CHUNK", 700)
    np.testing.assert_allclose(direction(CORE, **HERE, times=times), whole, atol=1e-8)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["core", "sun", "moon", "mercury", "venus", "saturn"])
def test_interpolation_against_the_full_reduction(name: str) -> None:
    target = CORE if name == "core" else Target.body(name)
    tt_mjd = np.random.default_rng(5).uniform(60_310.0, 63_500.0, 300)  # 2024 to 2032
    full = places.full_reduction(target, tt_mjd)
    error = _arcseconds_apart(places.apparent_place(target, tt_mjd), full)
    away = _arcseconds_apart(places.apparent_place(SUN, tt_mjd), full) > 3.0 * 3600.0
    if name != "sun":
        error = error[away]
    assert error.size > 200
    assert error.max() < (0.01 if name in {"moon", "mercury"} else 0.001)


def test_beside_the_sun_the_interpolation_is_as_rough_as_stated() -> None:
    target = Target.radec(ra_deg=0.0, dec_deg=0.2)
    tt_mjd = np.arange(60_385.0, 60_393.0, 0.13)  # the Sun passes in March 2024
    full = places.full_reduction(target, tt_mjd)
    error = _arcseconds_apart(places.apparent_place(target, tt_mjd), full)
    from_sun = _arcseconds_apart(places.apparent_place(SUN, tt_mjd), full) / 3600.0
    assert error.max() < 7.0
    assert error[from_sun > 1.0].max() < 0.3
    assert error[from_sun > 3.0].max() < 0.01


def _arcseconds_apart(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    a, b = a / np.linalg.norm(a, axis=0), b / np.linalg.norm(b, axis=0)
    half = np.linalg.norm(a - b, axis=0) / 2.0
    return np.asarray(2.0 * np.arcsin(np.clip(half, 0.0, 1.0)) / earth.ARCSECOND)


def test_dense_and_sparse_paths_agree() -> None:
    times = WHEN + np.arange(6000) * np.timedelta64(60, "s")
    dense = places.apparent_place(CORE, earth.turn(times).tt_mjd)
    sparse = places.apparent_place(CORE, earth.turn(times[::997]).tt_mjd)
    assert np.abs(dense[:, ::997] - sparse).max() / earth.ARCSECOND < 0.0005


def test_refraction_lifts_by_the_air_given() -> None:
    _, bare = direction(CORE, **HERE, times=WHEN, refraction=False)
    _, standard = direction(CORE, **HERE, times=WHEN)
    _, thin = direction(CORE, **HERE, times=WHEN, pressure_hpa=500.0, temperature_c=0.0)
    assert bare < thin < standard
    _, none = direction(CORE, **HERE, times=WHEN, pressure_hpa=0.0)
    assert float(none) == pytest.approx(float(bare), abs=1e-10)


def test_altitude_has_no_jump_below_the_horizontal() -> None:
    times = np.datetime64("2027-06-12T20:00") + np.arange(0, 36_000, 5) * np.timedelta64(1, "s")
    _, alt = direction(CORE, **HERE, times=times)
    crossing = (alt > -4.0) & (alt < 2.0)
    assert crossing.sum() > 100
    assert np.abs(np.diff(alt[crossing])).max() < 0.03


def test_lean_is_the_plane_folded_upright() -> None:
    times = WHEN + np.arange(24) * np.timedelta64(1, "h")
    plane = plane_angle_deg(CORE, **HERE, times=times)
    lean = lean_deg(CORE, **HERE, times=times)
    assert ((lean > -90.0) & (lean <= 90.0)).all()
    np.testing.assert_allclose(np.sin(np.radians(plane - lean)), 0.0, atol=1e-9)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"lat": 117.0}, "latitude 117 lies outside -90 to 90; lat and lon may be swapped"),
        ({"lon": 400.0}, "longitude 400"),
        ({"times": np.datetime64("1890-01-01")}, "1890-01-01 lies outside the ephemeris DE421"),
        ({"times": np.datetime64("2060-01-01")}, "choose a date from 1899-08-05 to 2053-10-01"),
        ({"times": datetime(2027, 1, 1)}, "no time zone"),  # noqa: DTZ001
    ],
)
def test_bad_questions_get_one_sentence(change: dict[str, Any], says: str) -> None:
    asked: dict[str, Any] = {**HERE, "times": WHEN, **change}
    with pytest.raises(SkyError, match=says):
        direction(CORE, **asked)


def test_the_span_is_usable_to_its_ends() -> None:
    ends = np.array(["1899-08-04", "2053-10-03"], dtype="datetime64[us]")
    for target in (CORE, Target.body("moon")):
        az, alt = direction(target, lat=10.0, lon=20.0, times=ends)
        assert np.isfinite(az).all()
        assert np.isfinite(alt).all()


def test_lean_refuses_what_has_none() -> None:
    with pytest.raises(SkyError, match="fixed target"):
        lean_deg(Target.body("moon"), **HERE, times=WHEN)
    with pytest.raises(SkyError, match="galactic pole"):
        lean_deg(Target.galactic(l_deg=0.0, b_deg=90.0), **HERE, times=WHEN)


def test_orientation_says_how_well_it_is_known() -> None:
    from datetime import date

    assert "measured" in earth.orientation_note(date(2020, 1, 1))
    assert "held after the last prediction" in earth.orientation_note(date(2050, 1, 1))


def test_leap_seconds_step_at_midnight() -> None:
    steps = earth.orientation().tt_minus_utc_s(
        np.array([41_316.0, 41_317.0, 57_753.99999, 57_754.0, 61_000.0])
    )
    np.testing.assert_allclose(steps, [42.184, 42.184, 68.184, 69.184, 69.184])


def test_without_the_newer_table_the_older_one_serves(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(earth, "_TABLES", earth._TABLES[1:])
    older = earth.orientation.__wrapped__()
    newer = earth.orientation()
    assert "skyfield_data" in older.source
    mjd = np.arange(45_000.0, older.last_measured_mjd)
    apart = np.interp(mjd, older.mjd, older.delta_t_s) - np.interp(mjd, newer.mjd, newer.delta_t_s)
    assert np.abs(apart).max() < 0.001


def test_no_table_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(earth, "_TABLES", ())
    with pytest.raises(SkyError, match="install skyfield-data"):
        earth.orientation.__wrapped__()


def test_no_instants_no_directions() -> None:
    az, alt = direction(CORE, **HERE, times=np.array([], dtype="datetime64[us]"))
    assert az.shape == alt.shape == (0,)
