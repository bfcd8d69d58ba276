"""Moonlight, twilight and star places against published values, each with its source."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from backbearing.sky import Target, moonlight_at
from backbearing.sky.glow import twilight_nl
from backbearing.sky.moonlight import (
    FULL_MOON_LUX,
    brightening_mag,
    dark_sky_nl,
    luminance_cd_m2,
    magnitude,
    moonlight_nl,
    nanolamberts,
)
from backbearing.sky.stars import STARS

KS = "Krisciunas and Schaefer 1991, PASP 103, 1033"


def test_worked_example_of_scattered_moonlight() -> None:
    """B7.01: KS91, worked example in the docstring of specsim 1.0.0: 19.855 mag."""
    found = moonlight_nl(
        phase_angle_deg=45,
        separation_deg=50,
        moon_zenith_distance_deg=70,
        target_zenith_distance_deg=20,
        extinction_mag=0.15,
    )
    assert magnitude(found) == pytest.approx(19.855, abs=0.001)


@pytest.mark.parametrize(
    ("z", "zm", "rho", "alpha", "k", "moon_nl", "v_moon", "dark_nl", "total", "change"),
    [
        (45, 30, 60, 0, 0.172, 1650.381, 18.287, 101.824, 18.222, -3.089),  # B7.02
        (45, 30, 60, 60, 0.172, 373.98, 19.899, 101.824, 19.638, -1.674),  # B7.04
        (45, 30, 60, 90, 0.172, 150.179, 20.89, 101.824, 20.328, -0.984),  # B7.05
        (45, 30, 60, 120, 0.172, 43.432, 22.237, 101.824, 20.926, -0.386),  # B7.06
        (65, 80, 90, 90, 0.2, 108.703, 21.241, 136.733, 20.356, -0.635),  # B7.07
        (45, 45, 90, 90, 0.25, 131.933, 21.03, 99.033, 20.422, -0.919),  # B7.08
    ],
)
def test_sky_brightened_by_the_moon(
    z: float, zm: float, rho: float, alpha: float, k: float,
    moon_nl: float, v_moon: float, dark_nl: float, total: float, change: float,
) -> None:  # fmt: skip
    """B7.02 to B7.08: KS91 eq. 2, 3, 15, 20, 21 as specsim 1.0.0 evaluates them; 0.005 mag."""
    moon = moonlight_nl(
        phase_angle_deg=alpha,
        separation_deg=rho,
        moon_zenith_distance_deg=zm,
        target_zenith_distance_deg=z,
        extinction_mag=k,
    )
    dark = dark_sky_nl(z, extinction_mag=k, zenith_mag=21.6)
    assert moon == pytest.approx(moon_nl, rel=1e-5)
    assert dark == pytest.approx(dark_nl, rel=1e-5)
    assert magnitude(moon) == pytest.approx(v_moon, abs=0.005)
    assert magnitude(moon + dark) == pytest.approx(total, abs=0.005)
    assert -brightening_mag(moon, dark) == pytest.approx(change, abs=0.005)


def test_magnitudes_to_nanolamberts_and_candela() -> None:
    """B7.10: Garstang 1989; B7.11: the sky meters' 10.8e4 x 10^(-0.4 m) cd/m2."""
    assert nanolamberts([21.587, 22.0]) == pytest.approx([79.01, 54.01], abs=0.02)
    assert magnitude(nanolamberts(20.3)) == pytest.approx(20.3, abs=1e-12)
    assert luminance_cd_m2([22.0, 21.6]) * 1e6 == pytest.approx([171.2, 247.4], abs=0.2)


@pytest.mark.parametrize(
    ("rho", "haze"),
    [
        (2.0, 15_500_000.0),  # 6.2e7 / 4
        (5.0, 2_480_000.0),  # 6.2e7 / 25
        (9.9, 632_588.5),  # 6.2e7 / 98.01
        (10.1, 789_770.0),  # 10^(6.15 - 0.2525); the two do not meet at ten degrees
    ],
)
def test_near_the_moon_the_haze_scatters_by_the_inverse_square(rho: float, haze: float) -> None:
    """KS91 eq. 19, 6.2e7 rho^-2 within ten degrees, as skycalc's lunskybright quotes it.

    The Moon is full and at the zenith, the target beside it; k is 0.172 and both air masses are
    those of eq. 3: 1 / sqrt(1 - 0.96 sin^2 Z).
    """
    x = 1.0 / np.sqrt(1.0 - 0.96 * np.sin(np.radians(rho)) ** 2)
    light = 10.0 ** (-0.4 * 3.84) * 10.0 ** (-0.4 * 0.172) * (1.0 - 10.0 ** (-0.4 * 0.172 * x))
    rayleigh = 229_086.77 * (1.06 + np.cos(np.radians(rho)) ** 2)  # 10^5.36
    found = moonlight_nl(
        phase_angle_deg=0.0,
        separation_deg=rho,
        moon_zenith_distance_deg=0.0,
        target_zenith_distance_deg=rho,
    )
    assert found == pytest.approx((rayleigh + haze) * light, rel=1e-5)


def test_full_moon_zenith_against_skycalc() -> None:
    """B7.13: ESO SKYCALC 1.4.3: 18.01 at the zenith, full Moon 45 degrees up; 0.3 mag."""
    moon = moonlight_nl(
        phase_angle_deg=0,
        separation_deg=45,
        moon_zenith_distance_deg=45,
        target_zenith_distance_deg=0,
    )
    assert magnitude(moon + nanolamberts(21.6)) == pytest.approx(18.01, abs=0.3)


def test_full_moon_on_the_ground() -> None:
    """0.05 to 0.1 lux, 0.32 at most (C. C. M. Kyba and others 2017, Astron. Geophys. 58, 1.31)."""
    assert 0.2 < FULL_MOON_LUX < 0.4
    day = np.datetime64("2027-01-01T00:00") + np.arange(4380) * np.timedelta64(2, "h")
    light = moonlight_at(Target.radec(ra_deg=0, dec_deg=89), lat=36, lon=-84, times=day)
    assert 0.15 < light.ground_lux.max() < 0.3


def test_phase_against_the_almanac() -> None:
    """Full Moon of 22 January 2027 12:17 UT (ephem 4.2.1)."""
    when = dt.datetime(2027, 1, 22, 12, 17, tzinfo=dt.UTC)
    light = moonlight_at(Target.radec(ra_deg=0, dec_deg=0), lat=0, lon=0, times=when)
    assert light.lit > 0.999
    # Greatest within some hours of opposition: the Moon's latitude shifts it.
    hours = np.datetime64("2027-01-22T12:17") + np.arange(-48, 49) * np.timedelta64(1, "h")
    lit = moonlight_at(Target.radec(ra_deg=0, dec_deg=0), lat=0, lon=0, times=hours).lit
    assert abs(int(np.argmax(lit)) - 48) <= 3


@pytest.mark.parametrize("sun_zenith_deg", [96, 98, 100, 102, 104, 106])
def test_twilight_at_the_zenith_against_paranal(sun_zenith_deg: float) -> None:
    """Patat and others 2006, A&A 455, 385: V = 11.84 + 1.518 x - 0.057 x^2, x = z - 95.

    Table 1, as public programs quote it: from 95 to 105 degrees, with the night sky in it.
    """
    x = sun_zenith_deg - 95.0
    measured = 11.84 + 1.518 * x - 0.057 * x * x
    glow = twilight_nl(
        sun_altitude_deg=90.0 - sun_zenith_deg,
        separation_deg=sun_zenith_deg,
        zenith_distance_deg=0.0,
    )
    assert magnitude(glow + nanolamberts(21.6)) == pytest.approx(measured, abs=0.7)


def test_twilight_by_the_printed_program() -> None:
    """VISLIMIT.BAS (B. E. Schaefer, Sky & Telescope, May 1998), worked by hand, k = 0.2.

    Lines 2280 and 2290, 1.11e-15 of line 260, air mass of line 2070. Zenith: 10^-10.724 x 1.25
    x 0.168236 / 1.11e-15. At Z = 80 degrees the air mass is 5.6386: 10^-10.279556 x 1.25 x
    0.646073 / 1.11e-15.
    """
    asked = {"sun_altitude_deg": -10.0, "separation_deg": 80.0, "extinction_mag": 0.2}
    found = twilight_nl(zenith_distance_deg=[0.0, 80.0], **asked)
    assert found == pytest.approx([3576.898, 38_221.964], rel=1e-5)


def test_astronomical_twilight_ends_at_18_degrees() -> None:
    """USNO: with the Sun at -18 degrees its light is fainter than that of the stars."""
    glow = twilight_nl(sun_altitude_deg=-18.0, separation_deg=90.0, zenith_distance_deg=45.0)
    assert brightening_mag(glow, dark_sky_nl(45.0)) < 0.05


# ICRS at J2000 by the new reduction of Hipparcos (F. van Leeuwen 2007, CDS I/311, hip2.dat).
PLACES = {
    "Sirius": ((6, 45, 8.917), (-16, 42, 58.02)),
    "Vega": ((18, 36, 56.336), (38, 47, 1.28)),
    "Antares": ((16, 29, 24.460), (-26, 25, 55.21)),
    "Spica": ((13, 25, 11.579), (-11, 9, 40.75)),
    "Betelgeuse": ((5, 55, 10.305), (7, 24, 25.43)),
    "Fomalhaut": ((22, 57, 39.046), (-29, 37, 20.05)),
    "Shaula": ((17, 33, 36.520), (-37, 6, 13.76)),
    "Polaris": ((2, 31, 49.095), (89, 15, 50.79)),
}


@pytest.mark.parametrize("name", PLACES)
def test_star_places(name: str) -> None:
    (hours, minutes, seconds), (degrees, arcmin, arcsec) = PLACES[name]
    ra = 15.0 * (hours + minutes / 60 + seconds / 3600)
    dec = np.copysign(abs(degrees) + arcmin / 60 + arcsec / 3600, degrees)
    star = Target.star(name)
    assert star.ra_deg is not None
    assert star.dec_deg is not None
    across = (star.ra_deg - ra) * np.cos(np.radians(dec))
    assert np.hypot(across, star.dec_deg - dec) * 3600.0 < 0.3


# CDS I/311, hip2.dat: right ascension and declination in radians at 1991.25, proper motions in
# milliarcseconds a year.
NEW_REDUCTION = {
    "Sargas": (4.6134233893, -0.7504535374, 5.54, -3.12),
    "Dschubba": (4.1902454992, -0.3948217575, -10.21, -35.41),
    "Larawag": (4.4077013945, -0.5985189437, -614.85, -255.98),
}


@pytest.mark.parametrize("name", NEW_REDUCTION)
def test_stars_of_the_new_reduction(name: str) -> None:
    ra, dec, east_mas, north_mas = NEW_REDUCTION[name]
    star = STARS[name.casefold()]
    assert (star.ra_cos_dec_mas_yr, star.dec_mas_yr) == (east_mas, north_mas)
    to_2000 = 8.75 / 3.6e6
    across = (star.ra_deg - np.degrees(ra)) * np.cos(dec) - east_mas * to_2000
    up = star.dec_deg - np.degrees(dec) - north_mas * to_2000
    assert np.hypot(across, up) * 3600.0 < 0.03


def test_star_numbers_against_skyfields_list() -> None:
    """Hipparcos numbers by name, `skyfield.named_stars` (Skyfield 1.55)."""
    from skyfield.named_stars import named_star_dict

    shared = {s.name: s.hip for s in STARS.values() if s.name in named_star_dict}
    assert len(shared) > 60
    # Skyfield's "Gienah" is Epsilon Cygni, the IAU's Gamma Corvi; neither stands here.
    assert shared == {name: named_star_dict[name] for name in shared}


def test_a_fast_star_against_ephem() -> None:
    """Arcturus moves 2.3 arcseconds a year: ephem 4.2.1's own place of date in 2030.

    Within 5 arcseconds, for the two predict the Earth's rotation differently (0.2 s); without
    its motion the star would be 69 off.
    """
    import ephem

    from backbearing.sky import direction

    there = ephem.Observer()
    there.lat, there.lon, there.elevation, there.pressure = "36", "-84", 0, 0
    there.date = "2030/4/20 05:00:00"
    star = ephem.star("Arcturus")
    star.compute(there)
    az, alt = direction(
        Target.star("arcturus"),
        lat=36,
        lon=-84,
        times=dt.datetime(2030, 4, 20, 5, tzinfo=dt.UTC),
        refraction=False,
    )
    off = (np.degrees(float(star.az)) - az) * np.cos(np.radians(alt))
    assert np.hypot(off, np.degrees(float(star.alt)) - alt) * 3600.0 < 5.0
