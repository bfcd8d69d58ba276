"""Small things of the sky against Skyfield's own observer and spherical trigonometry."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from skyfield.api import Star, wgs84

from backbearing.alignment.stand.scene import Scene
from backbearing.alignment.stand.settled_stands import settle
from backbearing.alignment.view.bodies import moon_disc
from backbearing.camera.bodies_and_lenses import Camera, Lens
from backbearing.camera.framing import Frame
from backbearing.outing.subject import Framing, Subject
from backbearing.sky.directions import direction
from backbearing.sky.lean import plane_angle_deg
from backbearing.sky.places import ephemeris, timescale
from backbearing.sky.targets import CORE, Target

START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


def at_random(seed: int, count: int) -> list[tuple[float, float, dt.datetime]]:
    rng = np.random.default_rng(seed)
    return [
        (
            rng.uniform(-65, 65),
            rng.uniform(-180, 180),
            START + dt.timedelta(days=rng.uniform(0, 900)),
        )
        for _ in range(count)
    ]


def test_the_previews_moon_is_that_of_the_stand() -> None:
    """Size within 0.2 % of the topocentric one (radius 1737.4 km), limb within 0.5 degree.

    By Skyfield's observer on WGS84, without air; the camera points at the Moon, where right and up
    of the frame are those of the sky.
    """
    kernel, camera, lens, tried = ephemeris(), Camera(), Lens(200.0), 0
    for lat, lon, time in at_random(40, 200):
        there = (kernel["earth"] + wgs84.latlon(lat, lon, elevation_m=500.0)).at(
            timescale().from_datetime(time)
        )
        seen = there.observe(kernel["moon"]).apparent()
        moon_alt, moon_az, distance = seen.altaz()
        if moon_alt.degrees < 10.0:
            continue
        tried += 1
        sun_alt, sun_az, _ = there.observe(kernel["sun"]).apparent().altaz()
        stand: Any = SimpleNamespace(lat=lat, lon=lon, time=time)
        here = direction(Target.body("moon"), lat=lat, lon=lon, height_m=500.0, times=[time])
        frame = Frame(camera, lens, float(here[1][0]), float(here[0][0]))
        disc = moon_disc(frame, stand, 500.0)
        assert disc is not None
        radius_mm = 200.0 * np.tan(np.arcsin(1737.4 / distance.km))
        assert disc.radius * camera.frame_height_mm == pytest.approx(radius_mm, rel=2e-3)
        turn = sun_az.radians - moon_az.radians
        right = np.cos(sun_alt.radians) * np.sin(turn)
        up = np.sin(sun_alt.radians) * np.cos(moon_alt.radians)
        up -= np.cos(sun_alt.radians) * np.sin(moon_alt.radians) * np.cos(turn)
        off = disc.bright_side_deg - np.degrees(np.arctan2(up, right))
        # Close to new and to full Moon the limb has hardly a side.
        elongation = np.degrees(np.arcsin(np.hypot(right, up)))
        allowed = 0.5 if elongation > 5.0 else 1.5
        assert abs((off + 180.0) % 360.0 - 180.0) < allowed
        phase = 0.5 * (
            1.0 - np.cos(there.observe(kernel["sun"]).apparent().separation_from(seen).radians)
        )
        # The Sun is not at infinity: 0.15 degree of phase angle at most.
        assert disc.lit == pytest.approx(phase, abs=0.002)
    assert tried >= 40


def test_the_nearest_star_has_its_parallax() -> None:
    """What parallax adds is within 0.03 arcsecond of Skyfield's with 754.8 mas (van Leeuwen)."""
    rigil = Target.star("Rigil Kentaurus")
    assert rigil.ra_deg is not None
    far = replace(rigil, parallax_mas=0.0)
    place = ephemeris()["earth"] + wgs84.latlon(-31.0, 149.0, elevation_m=400.0)
    largest = 0.0
    for month in range(12):
        time = dt.datetime(2027, month + 1, 10, 4, tzinfo=dt.UTC)
        here, theirs = [], []
        for one, parallax_mas in ((rigil, 754.8), (far, 0.0)):
            azimuth, altitude = direction(
                one, lat=-31.0, lon=149.0, height_m=400.0, times=[time], refraction=False
            )
            here.append((azimuth[0], altitude[0]))
            star = Star(
                ra_hours=rigil.ra_deg / 15.0, dec_degrees=rigil.dec_deg,
                ra_mas_per_year=rigil.ra_cos_dec_mas_yr, dec_mas_per_year=rigil.dec_mas_yr,
                parallax_mas=parallax_mas,
            )  # fmt: skip
            seen = place.at(timescale().from_datetime(time)).observe(star).apparent().altaz()
            theirs.append((seen[1].degrees, seen[0].degrees))
        ours, other = (
            3600.0 * np.array([(a[0] - b[0]) * np.cos(np.radians(a[1])), a[1] - b[1]])
            for a, b in (here, theirs)
        )
        assert ours == pytest.approx(other, abs=0.03)
        largest = max(largest, float(np.hypot(*ours)))
    assert 0.65 < largest < 0.76


@pytest.mark.parametrize("lat", [-29.0, -20.0, -38.0, 10.0, 45.0])
def test_the_planes_angle_is_that_of_the_target_itself(lat: float) -> None:
    """Rising longitude runs at right angles to the way to the galactic pole (192.859, 27.128).

    In the horizontal frame, without air; aberration turns the two by 0.012 degree at most. Near the
    zenith the end of a step of 0.02 degree was off by its half times the altitude's tangent.
    """
    pole = Target.radec(ra_deg=192.85948, dec_deg=27.12825)
    times = [
        dt.datetime(2027, 6, 6, tzinfo=dt.UTC) + dt.timedelta(minutes=7 * i) for i in range(200)
    ]
    here = {"lat": lat, "lon": 20.0, "times": times, "refraction": False}
    (az, alt), (pole_az, pole_alt) = direction(CORE, **here), direction(pole, **here)
    shown = (alt > 2.0) & (alt < 89.7)
    turn, a, b = np.radians(pole_az - az), np.radians(alt), np.radians(pole_alt)
    right = np.cos(b) * np.sin(turn)
    up = np.sin(b) * np.cos(a) - np.cos(b) * np.sin(a) * np.cos(turn)
    # Seen from within, longitude rises to the left of the way to the north pole.
    expected = np.degrees(np.arctan2(right, up)) - 90.0
    off = (plane_angle_deg(CORE, **here) - expected + 180.0) % 360.0 - 180.0
    assert np.abs(off[shown]).max() < 0.02


def test_the_air_at_a_stand_is_that_of_its_own_ground() -> None:
    """A stand lower than its subject has the denser air, and a target a little higher."""
    subject = Subject(lat=36.3726, lon=-84.3602, height_m=6.0, ground_m=900.0)
    time = dt.datetime(2027, 6, 6, 2, 30, tzinfo=dt.UTC)
    drop = 6.0
    scene = Scene(subject, 900.0, CORE, Camera(), Framing(share=0.2, stand_drop_m=drop), None)
    found = settle(scene, Lens(50.0), [time])
    lat, lon = float(found.places.lat[0]), float(found.places.lon[0])
    own, other = (
        float(direction(CORE, lat=lat, lon=lon, height_m=h, times=[time])[1][0])
        for h in (900.0 - drop, 900.0)
    )
    assert float(found.target_altitude_deg[0]) == pytest.approx(own, abs=1e-9)
    assert 1e-6 < own - other < 1e-3
