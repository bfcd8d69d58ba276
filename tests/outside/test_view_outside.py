"""The preview's stars against independent libraries: Astropy for places and projection."""

from __future__ import annotations

import datetime as dt
import math
import warnings
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.view.bodies import planet_magnitude
from backbearing.alignment.view.frame_stars import star_table
from backbearing.alignment.view.lens_views import views
from backbearing.alignment.view.milky_way import brightness
from backbearing.sky.stars import STARS

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.terrain import Elevation


@pytest.fixture(scope="module")
def quiet_iers():
    from astropy.utils import iers

    before = iers.conf.auto_max_age, iers.conf.auto_download
    iers.conf.auto_max_age, iers.conf.auto_download = None, False
    yield
    iers.conf.auto_max_age, iers.conf.auto_download = before


@pytest.mark.slow
@pytest.mark.usefixtures("quiet_iers")
@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_stars_of_a_frame_agree_with_astropys_wcs(
    plan: Plan, elevation: Elevation, number: int
) -> None:
    # Source: astropy.wcs (WCSLIB), TAN of FITS WCS paper II. Each frame is projected from the
    # stars' own azimuth and altitude, so places come from Astropy's own reduction below.
    from astropy.wcs import WCS

    view, one = views(plan, elevation)[number], plan.lenses[number]
    stand, camera = one.stand, plan.camera
    assert len(view.stars.x) >= 20
    azimuth, altitude = _frame_directions(view, plan, number)
    pitch_mm = camera.frame_width_mm / camera.frame_width_px
    per_deg = math.radians(one.lens.focal_length_mm) / pitch_mm
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval = [-stand.bearing_deg % 360.0, stand.pitch_deg]
    wcs.wcs.crpix = [0.0, 0.0]
    wcs.wcs.cdelt = [-1.0 / per_deg, 1.0 / per_deg]
    px, py = wcs.all_world2pix(-azimuth % 360.0, altitude, 0)
    x = (view.stars.x - 0.5) * camera.frame_width_px
    y = (view.stars.y - 0.5) * camera.frame_height_mm / pitch_mm
    np.testing.assert_allclose(x, px + 1.0, atol=0.1)
    np.testing.assert_allclose(y, py + 1.0, atol=0.1)


def _frame_directions(view, plan: Plan, number: int):
    """Azimuth and apparent altitude of the frame's stars by this package's one-star reduction."""
    from backbearing.sky import Target, direction

    stand = plan.lenses[number].stand
    hip, vectors, _, _ = star_table()
    place = {h: i for i, h in enumerate(hip.tolist())}
    named = {star.hip: star.name for star in STARS.values()}
    found = []
    for h in view.stars.hip.tolist():
        v = vectors[:, place[h]]
        target = (
            Target.star(named[h])
            if h in named
            else Target.radec(
                ra_deg=float(np.degrees(np.arctan2(v[1], v[0]))) % 360.0,
                dec_deg=float(np.degrees(np.arcsin(v[2]))),
            )
        )
        az, alt = direction(
            target,
            lat=stand.lat,
            lon=stand.lon,
            height_m=stand.ground_m,
            times=[stand.time],
        )
        found.append((float(az[0]), float(alt[0])))
    return np.array(found).T


@pytest.mark.usefixtures("quiet_iers")
def test_star_directions_agree_with_astropy(plan: Plan) -> None:
    # Source: Astropy's AltAz (ERFA apco13), no refraction; 0.01 degree asked of the pictures,
    # 0.001 held. Stars without a known proper motion stand at J2000 in both.
    import astropy.units as u
    from astropy.coordinates import AltAz, EarthLocation, SkyCoord
    from astropy.time import Time

    from backbearing.alignment.view.sky_rotation import SkyTurn
    from backbearing.sky.refraction import true_altitude_deg

    stand = plan.lenses[0].stand
    turn = SkyTurn.at(lat=stand.lat, lon=stand.lon, height_m=500.0, time=stand.time)
    _, vectors, _, _ = star_table()
    some = vectors[:, ::100]
    azimuth, altitude = turn.horizontal(some)
    with warnings.catch_warnings():
        # Orientation beyond Astropy's tables moves a star by some hundredths of an arcsecond.
        warnings.simplefilter("ignore")
        where = EarthLocation.from_geodetic(stand.lon * u.deg, stand.lat * u.deg, 500.0 * u.m)
        when = AltAz(obstime=Time(stand.time.replace(tzinfo=None), scale="utc"), location=where)
        sky = SkyCoord(
            ra=np.degrees(np.arctan2(some[1], some[0])) % 360.0 * u.deg,
            dec=np.degrees(np.arcsin(some[2])) * u.deg,
        ).transform_to(when)
    np.testing.assert_allclose(true_altitude_deg(altitude, turn.air_factor), sky.alt.deg, atol=1e-3)
    off = (azimuth - sky.az.deg + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(off * np.cos(np.radians(sky.alt.deg)), 0.0, atol=1e-3)


def test_the_star_table_agrees_with_another_list_of_the_same_catalogue() -> None:
    # Source: bright stars of Hipparcos (ESA 1997) as PyEphem (MIT) carries them, in sky/stars.py.
    hip, vectors, mag, _ = star_table()
    place = {h: i for i, h in enumerate(hip.tolist())}
    apart, dimmer = [], []
    for star in STARS.values():
        ra, dec = math.radians(star.ra_deg), math.radians(star.dec_deg)
        v = np.array([math.cos(dec) * math.cos(ra), math.cos(dec) * math.sin(ra), math.sin(dec)])
        i = place[star.hip]
        apart.append(math.degrees(math.acos(min(1.0, float(v @ vectors[:, i])))))
        dimmer.append(float(mag[i]) - star.magnitude)
    assert len(apart) > 70
    assert max(apart) < 0.001
    assert np.abs(dimmer).max() <= 0.15


@pytest.mark.parametrize("day", ["2026-01-10", "2027-06-06", "2028-02-20", "2029-05-01"])
@pytest.mark.parametrize("planet", ["Mercury", "Venus", "Mars", "Jupiter", "Saturn"])
def test_planets_are_as_bright_as_ephem_says(planet: str, day: str) -> None:
    # Source: ephem 4.2.1, by formulas older than Mallama and Hilton's; a quarter magnitude.
    import ephem

    when = dt.datetime.fromisoformat(day)
    listed = getattr(ephem, planet)(when).mag
    found = planet_magnitude(planet.lower(), when.replace(tzinfo=dt.UTC))
    assert found == pytest.approx(listed, abs=0.25)


@pytest.mark.parametrize(
    ("l_deg", "b_deg", "within_deg", "sign"),
    [
        (280.4652, -32.8884, 0.5, 1.0),  # Large Magellanic Cloud, SIMBAD
        (302.8084, -44.3277, 0.5, 1.0),  # Small Magellanic Cloud, SIMBAD
        (301.89, -0.89, 1.0, -1.0),  # Coalsack, 12h42m00s -63d44m36s (glyphweb.com)
    ],
)
def test_clouds_of_the_band_stand_where_catalogues_have_them(
    l_deg: float, b_deg: float, within_deg: float, sign: float
) -> None:
    off = np.arange(-3.0, 3.01, 0.1)
    up, along = np.meshgrid(off, off)
    light = sign * brightness(l_deg + along / math.cos(math.radians(b_deg)), b_deg + up)
    best = np.unravel_index(int(light.argmax()), light.shape)
    assert math.hypot(along[best], up[best]) < within_deg


def test_the_small_sagittarius_cloud_stands_at_m_24() -> None:
    # M 24 or IC 4715: 18h16m56s -18d30m52s, 2 by 1 degrees (lists of the NGC and IC).
    off = np.arange(-2.0, 2.01, 0.1)
    light = brightness(12.6 + off, np.full(off.size, -1.04))
    level = np.interp(off, [-2.0, 2.0], light[[0, -1]])
    assert abs(off[int((light / level).argmax())]) < 0.3
    assert (light / level).max() > 1.5
