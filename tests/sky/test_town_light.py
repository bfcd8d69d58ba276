"""A town's light on the sky: against a plain march of our own, and in its parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from backbearing.sky.natural_sky import natural_brightening_mag, natural_sky_cd_m2
from backbearing.sky.town_light import (
    SiteAir,
    cd_m2_a_lumen,
    column_km,
    emission_per_sr,
    haze_per_sr,
    molecules_per_sr,
)
from backbearing.sky.town_table import town_table

EARTH_KM = 6371.0


def over_the_sphere(per_sr):
    """Sum of a function of the angle from an axis over all directions."""
    angle = np.linspace(0.0, 180.0, 40_001)
    per_angle = per_sr(angle) * 2.0 * np.pi * np.sin(np.radians(angle))
    return float(np.trapezoid(per_angle, np.radians(angle)))


def test_what_is_scattered_goes_somewhere():
    assert over_the_sphere(molecules_per_sr) == pytest.approx(1.0, abs=1e-6)
    # The haze's three pieces are a fit to a table; they add up to one within some per cent.
    assert over_the_sphere(haze_per_sr) == pytest.approx(1.0, abs=0.06)
    for joint in (10.0, 124.0):
        low, high = haze_per_sr([joint - 1e-6, joint + 1e-6])
        assert low == pytest.approx(high, rel=0.03)


def test_a_town_sends_up_what_its_ground_gives_back_and_what_its_lamps_spill():
    # 0.15 of the 0.85 that goes down, and 0.15 straight up.
    up = over_the_sphere(lambda z: np.where(z <= 90.0, emission_per_sr(z), 0.0))
    assert up == pytest.approx(0.15 * 0.85 + 0.15, rel=2e-3)


@pytest.mark.parametrize("up", [0.0, 0.05, 0.5, 1.0])
@pytest.mark.parametrize("scale", [1.5, 8.2])
def test_columns_are_those_of_a_plain_sum(up, scale):
    t = np.linspace(0.0, 150.0, 60_001)
    height = np.sqrt((EARTH_KM + t * up) ** 2 + t * t * (1.0 - up * up)) - EARTH_KM
    plain = np.trapezoid(np.exp(-height / scale), t)
    assert float(column_km(150.0, up, scale)) == pytest.approx(plain, rel=3e-3)


def marched(distance_km, altitude, off, molecules, haze):
    """The model as it is told in words: straight lines, small steps, depths summed on the way.

    ``molecules`` and ``haze`` are extinction a kilometre at the ground and the scale height.
    Shares nothing with the code that is tried: other axes (the town's own zenith is an axis),
    other steps, no closed form.
    """
    chi = distance_km / EARTH_KM
    eye = np.array([-EARTH_KM * math.sin(chi), 0.0, EARTH_KM * math.cos(chi)])
    town = np.array([0.0, 0.0, EARTH_KM])
    zenith = eye / EARTH_KM
    ahead = np.array([math.cos(chi), 0.0, math.sin(chi)])
    aside = np.array([0.0, 1.0, 0.0])
    h, b = math.radians(altitude), math.radians(off)
    sight = math.sin(h) * zenith + math.cos(h) * (math.cos(b) * ahead + math.sin(b) * aside)

    def density(points, kind):
        height = np.linalg.norm(points, axis=-1) - EARTH_KM
        return kind[0] * np.exp(-height / kind[1])

    def depth(start, end, kind):
        share = (np.arange(100) + 0.5) / 100.0
        way = start + share[:, None, None] * (end - start)
        return density(way, kind).mean(axis=0) * np.linalg.norm(end - start, axis=-1)

    u = np.concatenate([np.arange(0.015, 60.0, 0.03), np.arange(60.15, 400.0, 0.3)])
    step = np.where(u < 60.0, 0.03, 0.3)
    lit = eye + u[:, None] * sight
    from_town = lit - town
    s = np.linalg.norm(from_town, axis=1)
    cos_z = from_town[:, 2] / s
    z = np.arccos(np.clip(cos_z, -1.0, 1.0))
    up = (2.0 * 0.15 * 0.85 * cos_z + 0.554 * 0.15 * z**4) / (2.0 * math.pi)
    turn = np.degrees(np.arccos(np.clip(-(from_town @ sight) / s, -1.0, 1.0)))
    there = [depth(town, lit, kind) for kind in (molecules, haze)]
    here = [depth(eye, lit, kind) for kind in (molecules, haze)]
    albedo = 0.943
    by_haze = np.where(
        turn < 10.0,
        7.5 * np.exp(-0.1249 * turn**2 / (1.0 + 0.04996 * turn**2)),
        np.where(
            turn < 124.0,
            1.88 * np.exp(-0.07226 * turn + 0.0002406 * turn**2),
            0.025 + 0.015 * np.sin(np.radians(2.25 * turn - 369.0)),
        ),
    )
    by_air = 3.0 / (16.0 * math.pi) * (1.0 + np.cos(np.radians(turn)) ** 2)
    scattered = density(lit, molecules) * by_air + albedo * density(lit, haze) * by_haze
    twice = 1.0 + albedo * there[1] + there[0] / 3.0
    light = up / s**2 * np.exp(-sum(there) - sum(here)) * twice * scattered
    return 1e-6 * float(np.sum(np.where(cos_z >= 0.0, light * step, 0.0)))


@pytest.mark.parametrize(
    ("distance_km", "altitude", "off"),
    [(8.0, 6.0, 0.0), (30.0, 12.0, 20.0), (30.0, 90.0, 0.0), (80.0, 6.0, 90.0)],
)
def test_light_is_that_of_a_plain_march(distance_km, altitude, off):
    air = SiteAir.of(height_m=400.0)
    # A clear night at 400 m: 0.1066 e^(-400/8200) and 0.1 e^(-400/1500) magnitudes at the zenith.
    zenith = 0.1066 * math.exp(-400.0 / 8200.0), 0.1 * math.exp(-400.0 / 1500.0)
    molecules, haze = ((m / 1.0857 / h, h) for m, h in zip(zenith, (8.2, 1.5), strict=True))
    found = float(
        cd_m2_a_lumen(distance_m=1000.0 * distance_km, altitude_deg=altitude, off_deg=off, air=air)
    )
    assert found == pytest.approx(marched(distance_km, altitude, off, molecules, haze), rel=0.015)


def test_the_table_says_what_the_integral_does():
    draw = np.random.default_rng(7)
    d = np.exp(draw.uniform(np.log(1e3), np.log(2e5), 600))
    h = np.exp(draw.uniform(np.log(3.0), np.log(90.0), 600))
    off = draw.uniform(-180.0, 180.0, 600)
    air = SiteAir.of(height_m=900.0)
    exact = cd_m2_a_lumen(distance_m=d, altitude_deg=h, off_deg=off, air=air)
    towards = cd_m2_a_lumen(distance_m=d, altitude_deg=h, off_deg=0.0, air=air)
    found = town_table(air).cd_m2_a_lumen(distance_m=d, altitude_deg=h, off_deg=off)
    # Where next to nothing of a far town is left the spline may be off by more of that nothing.
    assert np.max(np.abs(found - exact) / np.maximum(exact, 0.01 * towards)) < 0.03


def test_the_table_knows_where_it_ends():
    table = town_table(SiteAir.of(height_m=0.0))
    light = table.cd_m2_a_lumen(
        distance_m=[20e3, 20e3, 201e3, np.nan], altitude_deg=[2.9, 91.0, 10.0, 10.0], off_deg=0.0
    )
    assert np.isnan(light[[0, 1, 3]]).all()
    assert light[2] == 0.0


def test_light_is_brightest_low_over_the_town_and_even_about_it():
    table = town_table(SiteAir.of(height_m=300.0))
    along = table.cd_m2_a_lumen(
        distance_m=25e3, altitude_deg=[5.0, 10.0, 20.0, 45.0, 90.0], off_deg=0.0
    )
    assert (np.diff(along) < 0.0).all()
    round_about = table.cd_m2_a_lumen(
        distance_m=25e3, altitude_deg=10.0, off_deg=[0.0, 20.0, 60.0, 120.0]
    )
    assert (np.diff(round_about) < 0.0).all()
    left, right = table.cd_m2_a_lumen(distance_m=25e3, altitude_deg=10.0, off_deg=[-40.0, 320.0])
    assert left == right


def test_more_haze_makes_low_sky_over_a_near_town_brighter():
    bright, clear = (
        float(
            cd_m2_a_lumen(
                distance_m=8e3,
                altitude_deg=30.0,
                off_deg=0.0,
                air=SiteAir.of(height_m=0.0, aerosol_mag=haze),
            )
        )
        for haze in (0.3, 0.1)
    )
    assert bright > 1.2 * clear


def test_the_natural_sky_brightens_towards_the_horizon_and_less_in_haze():
    # By hand at 30 degrees: X = (1 - 0.96 x 0.75)^-0.5 = 1.8898;
    # 2.5 log10(0.4 + 0.6 X) = 0.4640, less 0.2 (X - 1) = 0.1780.
    assert float(natural_brightening_mag(30.0, extinction_mag=0.2)) == pytest.approx(
        0.286, abs=1e-3
    )
    clear, hazy = natural_brightening_mag(6.0, extinction_mag=[0.15, 0.4])
    assert clear > hazy
    assert float(natural_sky_cd_m2(90.0, extinction_mag=0.3)) == pytest.approx(1.74e-4)
    assert np.isnan(natural_brightening_mag(-1.0, extinction_mag=0.2))
