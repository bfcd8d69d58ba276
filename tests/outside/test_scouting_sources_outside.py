"""Scouting's readers and Walker's law against published figures and independent libraries.

Sources stand beside each check.
"""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from backbearing.base.geodesy import earth_xyz_m, metres_per_degree
from backbearing.base.osm_lengths import length_m
from backbearing.scouting.site.town_glow import walker_brightening
from backbearing.sky.natural_sky import NATURAL_MAG, NATURAL_MCD_M2
from backbearing.tables.shapes import mean_widths_m

# IAU and CIE, Guidelines for minimizing urban sky glow near astronomical observatories, CIE
# publication 1 (1980): people in a town that brighten the sky by a tenth, 45 degrees up towards
# it, at so many kilometres. Values from memory, rounded there to three figures; the tenth at
# 45 degrees is the IAU's limit of 1979 (iauarchive.eso.org, ann25010).
GUIDELINE = ((3_160, 10), (31_250, 25), (177_000, 50), (1_000_000, 100), (5_660_000, 200))


@pytest.mark.parametrize(("people", "kilometres"), GUIDELINE)
def test_walkers_law_gives_the_guidelines_tenth(people, kilometres):
    found = walker_brightening(population=people, distance_m=kilometres * 1000.0)
    assert float(found) == pytest.approx(0.1, rel=2e-3)


def test_walkers_law_gives_the_published_worked_example():
    # Often-quoted worked example: Tucson with 530,000 people, 60 km from Kitt Peak, brightens
    # the sky there 45 degrees up by 19 per cent. From memory.
    found = walker_brightening(population=530_000, distance_m=60_000.0)
    assert round(float(found), 2) == 0.19


def test_walkers_law_in_its_logarithmic_form():
    # Walker, PASP 89, 405 (1977): a straight line of slope -2.5 in log distance, as it is quoted.
    near, far = walker_brightening(population=1e5, distance_m=np.array([10e3, 100e3]))
    assert np.log10(near / far) == pytest.approx(2.5)


def test_the_natural_sky_in_two_units_is_one_sky():
    # Luminance from magnitudes: 10.8e4 x 10^(-0.4 m) cd/m2, the conversion of sky meters
    # (lightpollution.pk.edu.pl, Used units; Garstang 1989 gives the same in nanolamberts).
    # Falchi 2016 says 1.7e-4 cd/m2 for 22 mag/arcsec2; its 0.174 mcd/m2 is by another spectrum.
    assert pytest.approx(NATURAL_MCD_M2, rel=0.03) == 10.8e7 * 10.0 ** (-0.4 * NATURAL_MAG)


# OpenStreetMap wiki, Map features/Units and Key:height: a bare number is metres, a unit follows
# a space, feet and inches are 7'4" and 16'3"; the latter and 0.6 mi also on Key:length.
WIKI = (
    ("4", 4.0),
    ("4.5", 4.5),
    ("4 m", 4.0),
    ("1.5 km", 1500.0),
    ("3 mi", 4828.032),
    ("0.6 mi", 965.6064),
    ("2 nmi", 3704.0),
    ("16'", 4.8768),
    ("7'4\"", 2.2352),
    ("16'3\"", 4.953),
)


@pytest.mark.parametrize(("text", "metres"), WIKI)
def test_lengths_as_the_wiki_writes_them(text, metres):
    assert length_m(text) == pytest.approx(metres, rel=1e-9)


@pytest.mark.parametrize("lat", [-89.0, -45.0, 0.0, 36.37, 60.0])
def test_metres_to_a_degree_by_an_independent_geodesic(lat):
    geod = Geod(ellps="WGS84")
    step = 1e-4
    east, north = metres_per_degree(np.array([lat]))
    assert geod.inv(7.0, lat, 7.0 + step, lat)[2] == pytest.approx(east[0] * step, rel=1e-6)
    across = geod.inv(7.0, lat - step / 2.0, 7.0, lat + step / 2.0)[2]
    assert across == pytest.approx(north[0] * step, rel=1e-6)


def test_cartesian_places_by_an_independent_library():
    pymap3d = pytest.importorskip("pymap3d")
    lat, lon = np.array([0.0, 36.37, -90.0, 60.0]), np.array([0.0, -84.36, 12.0, 180.0])
    x, y, z = pymap3d.geodetic2ecef(lat, lon, np.zeros(4))
    assert earth_xyz_m(lat=lat, lon=lon) == pytest.approx(np.column_stack([x, y, z]), abs=1e-3)


@pytest.mark.parametrize(("corners", "metres"), [(4, 40.0 / np.pi), (720, 10.0)])
def test_mean_widths_by_cauchys_formula(corners, metres):
    # Santalo, Integral Geometry and Geometric Probability: a convex outline's mean breadth is its
    # perimeter over pi; a square's 4 s / pi, a circle's its diameter.
    import shapely

    turns = np.radians(np.arange(corners) * 360.0 / corners + 45.0)
    reach = 5.0 * (np.sqrt(2.0) if corners == 4 else 1.0)
    east, north = metres_per_degree(np.array([45.0]))
    ring = np.column_stack(
        [7.0 + reach * np.cos(turns) / east[0], 45.0 + reach * np.sin(turns) / north[0]]
    )
    shapes = np.array([shapely.Polygon(ring)], dtype=object)
    assert mean_widths_m(shapes)[0] == pytest.approx(metres, rel=1e-4)
