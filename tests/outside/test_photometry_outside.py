"""Lamps, skies and air against published values and worked relations, each with its source."""

from __future__ import annotations

import math

import numpy as np
import pytest

from backbearing.camera.photometry import (
    SURFACES,
    cone_sr,
    illuminance_lux,
    intensity_cd,
    luminance_of_face_cd_m2,
    lux_for_luminance,
    matt_intensity_cd,
)
from backbearing.sky.extinction import (
    dimming,
    extinction_mag,
    kasten_young_air_mass,
)
from backbearing.sky.luminance import magnitude_of_cd_m2
from backbearing.sky.moonlight import luminance_cd_m2
from backbearing.sky.twilight_ground import twilight_lux


def test_magnitudes_and_luminance() -> None:
    """22.00 is 0.171168 mcd/m2 and 21.00 is 0.429957, as light-pollution maps print them."""
    assert luminance_cd_m2(22.0) * 1e3 == pytest.approx(0.171168, abs=1e-6)
    assert magnitude_of_cd_m2(0.000171168) == pytest.approx(22.0, abs=1e-4)
    assert luminance_cd_m2(21.0) * 1e3 == pytest.approx(0.429957, abs=2e-6)


def test_a_lamp_that_shines_all_round() -> None:
    """One candela all round is 4 pi = 12.566 lm (the SI's lumen, cd sr)."""
    assert intensity_cd(lumens=12.566, beam_deg=360.0) == pytest.approx(1.0, abs=1e-4)
    assert cone_sr(180.0) == pytest.approx(2.0 * math.pi, rel=1e-12)


def test_the_solid_angle_of_a_narrow_beam() -> None:
    """A steradian is a cone of 65.54 degrees (the definition's usual figure)."""
    assert cone_sr(65.541) == pytest.approx(1.0, abs=1e-4)
    # A narrow cone is a flat disc: pi r^2, by the series to better than 1e-6.
    assert cone_sr(0.2) == pytest.approx(math.pi * math.radians(0.1) ** 2, rel=1e-6)


def test_the_inverse_square_and_the_cosine() -> None:
    """100 cd at 2 m give 25 lux, and half of it at 60 degrees (the schoolbook example)."""
    assert illuminance_lux(intensity=100.0, distance_m=2.0) == pytest.approx(25.0)
    tilted = illuminance_lux(intensity=100.0, distance_m=2.0, angle_deg=60.0)
    assert tilted == pytest.approx(12.5)
    assert illuminance_lux(intensity=100.0, distance_m=2.0, angle_deg=120.0) == 0.0


def test_a_white_sheet_in_the_sun_of_a_lamp() -> None:
    """A perfect diffuser under pi lux has 1 cd/m2; 1 foot-lambert is 3.426 cd/m2 (10.764 lux)."""
    assert luminance_of_face_cd_m2(lux=math.pi, reflectance=1.0) == pytest.approx(1.0)
    assert luminance_of_face_cd_m2(lux=10.764, reflectance=1.0) == pytest.approx(3.426, abs=0.001)
    assert lux_for_luminance(cd_m2=1.0, reflectance=0.18) == pytest.approx(math.pi / 0.18)


def test_a_matt_sheet_gives_off_all_its_lumens() -> None:
    """I cos(a) over the half space comes to pi I: counted here ring by ring."""
    peak = matt_intensity_cd(100.0)
    angle = np.radians(np.arange(0.05, 90.0, 0.1))
    rings = peak * np.cos(angle) * 2.0 * math.pi * np.sin(angle) * math.radians(0.1)
    assert rings.sum() == pytest.approx(100.0, rel=1e-5)


@pytest.mark.parametrize(
    ("sun_deg", "lux", "within"),
    [
        # Seidelmann 1992 (Explanatory Supplement) and handbooks: end of civil, nautical and
        # astronomical twilight; sunset some 400 lux in common tables (453 in one).
        (-6.0, 3.4, 0.05),
        (-12.0, 0.008, 0.0005),
        (-18.0, 0.00065, 0.0001),
        (-0.83, 453.0, 25.0),
    ],
)
def test_twilight_on_the_ground(sun_deg: float, lux: float, within: float) -> None:
    assert twilight_lux(sun_deg) == pytest.approx(lux, abs=within)


def test_twilight_fades_without_a_jump() -> None:
    altitude = np.arange(-18.0, 4.99, 0.01)
    lux = twilight_lux(altitude)
    assert (np.diff(lux) > -0.012 * lux[:-1]).all()
    assert (np.abs(np.diff(np.log10(lux))) < 0.02).all()
    assert np.isnan(twilight_lux([-18.01, 5.01])).all()


@pytest.mark.parametrize(
    ("altitude_deg", "mass"),
    # Kasten and Young 1989, their table and the values quoted from it: 38 at the horizon.
    [(90.0, 1.000), (30.0, 1.994), (10.0, 5.58), (5.0, 10.31), (0.0, 37.92)],
)
def test_the_path_through_the_air(altitude_deg: float, mass: float) -> None:
    assert kasten_young_air_mass(altitude_deg) == pytest.approx(mass, rel=0.003)


def test_a_flat_atmosphere_far_from_the_horizon() -> None:
    altitude = np.array([80.0, 60.0, 40.0])
    assert kasten_young_air_mass(altitude) == pytest.approx(
        1.0 / np.sin(np.radians(altitude)), rel=0.002
    )


def test_the_air_of_known_sites() -> None:
    """V 0.113 on Mauna Kea at 4,200 m (Krisciunas et al. 1987, from memory); 0.28 at sea level and
    510 nm (Green 1992, from memory)."""
    assert extinction_mag(height_m=4200.0) == pytest.approx(0.113, abs=0.02)
    assert 0.2 < extinction_mag(height_m=0.0) < 0.3
    at_510 = extinction_mag(height_m=0.0, wavelength_um=0.51)
    assert at_510 == pytest.approx(0.28, abs=0.03)
    # Clear-sky molecules alone at sea level in V, by any table of the optics of air: 0.1 mag.
    assert extinction_mag(height_m=0.0, aerosol_mag=0.0) - 0.031 == pytest.approx(0.107, abs=0.005)


def test_blue_is_lost_before_green() -> None:
    low = dimming([90.0, 20.0, 6.0], height_m=300.0)
    assert (np.diff(low.redder_mag) > 0.0).all()
    assert low.below_zenith_mag[0] == pytest.approx(0.0, abs=1e-3)
    assert np.isnan(dimming(-0.5).lost_mag)
    hazy = dimming(6.0, height_m=300.0, aerosol_mag=0.3)
    assert hazy.lost_mag > low.lost_mag[2]
    # More haze is greyer haze for each magnitude lost.
    assert hazy.redder_mag / hazy.lost_mag < low.redder_mag[2] / low.lost_mag[2]


def test_the_tables_reflectances_lie_in_their_ranges() -> None:
    for one in SURFACES.values():
        assert 0.0 < one.low < one.reflectance < one.high < 1.0
        assert one.reflectance == pytest.approx(math.sqrt(one.low * one.high), abs=0.03)
