"""How far land shows: against first principles, a printed table, and the summits of the world."""

from __future__ import annotations

import datetime as dt
import math
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
from click.testing import CliRunner
from pyproj import Geod

from backbearing.base.geodesy import altitude_of
from backbearing.cli import group
from backbearing.fetching.reach import (
    LOW_DEG,
    Highest,
    SkylineReach,
    farthest_m,
    highest_land,
    nearest_edge_m,
)
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.reading.sources import HIGHEST_LAND_M
from backbearing.workflows.health import examine
from invented import flat, write_ground, write_outing

if TYPE_CHECKING:
    from pathlib import Path

RADIUS_M = 6_371_008.8


@pytest.mark.parametrize("rise_m", [10.0, 400.0, 2000.0, 8849.0])
@pytest.mark.parametrize("altitude_deg", [0.0, 0.25, 1.0, 5.0])
def test_reach_against_a_ray_that_is_followed_by_circles(
    rise_m: float, altitude_deg: float
) -> None:
    # First principles, without the series: light bends along a circle of R / k, the ground along
    # one of R. Follow the ray in small steps and see where it is so high over the level.
    k = 0.13
    height = 0.0
    angle, along, step = math.radians(altitude_deg), 0.0, 20.0
    while height < rise_m:
        middle = angle + (1.0 - k) / RADIUS_M * step / 2.0
        height += math.tan(middle) * step
        angle += (1.0 - k) / RADIUS_M * step
        along += step
    assert farthest_m(rise_m, altitude_deg) == pytest.approx(along, rel=0.004, abs=40.0)


def test_reach_of_the_horizon_against_a_printed_table() -> None:
    # Distance of the sea horizon, nautical miles, by height of eye in feet, as Table 12 of "The
    # American Practical Navigator" (NGA, Pub. No. 9) has it: 1.169 sqrt(h); from memory. Its
    # refraction is k = 0.165, which its factor gives back: 1.169 nmi at 1 ft.
    k = 1.0 - 2.0 * RADIUS_M * 0.3048 / ((1.169 * 1852.0) ** 2) * 1.0
    assert k == pytest.approx(0.17, abs=0.02)
    for feet, miles in ((10, 3.7), (50, 8.3), (100, 11.7), (400, 23.4), (1000, 37.0)):
        found = farthest_m(feet * 0.3048, 0.0, refraction_k=k) / 1852.0
        assert found == pytest.approx(miles, abs=0.06)


def test_beyond_the_reach_nothing_rises_and_before_it_something_may() -> None:
    reach = SkylineReach(350.0, Highest(2228.0, "as high as that"))
    for altitude in (0.0, LOW_DEG, 4.0):
        edge = reach.distance_m(altitude)
        seen = altitude_of(2228.0 - 350.0, np.array([0.99, 1.0, 1.01]) * edge, reach.refraction_k)
        assert seen[0] > altitude > seen[2]
        assert seen[1] == pytest.approx(altitude, abs=2e-9)
        assert reach.least_rise_m(edge, altitude) == pytest.approx(2228.0 - 350.0, abs=1e-3)
    assert farthest_m(-5.0, 0.0) == farthest_m(0.0, 1.0) == 0.0


SUMMITS = (
    # Latitude, longitude, metres: as maps in common use have them, from memory, rounded.
    (27.99, 86.93, 8849), (35.88, 76.51, 8611), (43.35, 42.44, 5642), (45.83, 6.86, 4806),
    (39.92, 44.30, 5137), (37.05, -3.31, 3479), (31.06, -7.92, 4167), (61.64, 8.31, 2469),
    (67.90, 18.52, 2096), (56.80, -5.00, 1345), (63.07, -151.00, 6190), (60.57, -140.40, 5959),
    (53.11, -119.16, 3954), (46.85, -121.76, 4392), (36.58, -118.29, 4421), (35.76, -82.27, 2037),
    (44.27, -71.30, 1917), (39.12, -106.45, 4401), (19.03, -97.27, 5636), (25.0, -101.0, 3700),
    (-32.65, -70.01, 6961), (-3.07, 37.36, 5895), (-15.95, 35.60, 3002), (-29.47, 29.27, 3482),
    (-8.9, 147.73, 4038), (-4.08, 137.16, 4884), (-36.46, 148.26, 2228), (-43.60, 170.14, 3724),
    (-41.86, 146.03, 1617), (37.75, 14.99, 3357), (42.18, 23.58, 2925), (40.08, 22.35, 2918),
    (64.0, -16.7, 2110), (48.6, 24.5, 2061), (49.18, 20.13, 2655), (-78.5, -85.6, 4892),
    (52.0, 105.0, 3491), (49.81, 86.59, 4506), (4.10, -72.0, 500), (28.27, -16.64, 3715),
    (53.07, -4.08, 1085), (66.0, 60.0, 1895), (58.5, -62.0, 1652), (45.0, -0.5, 200),
    (-18.4, 30.8, 2592), (-20.5, 31.0, 1500), (-22.0, 17.0, 2573), (36.6, 29.5, 3086),
)  # fmt: skip


def test_no_known_summit_stands_higher_within_its_own_reach_than_is_said() -> None:
    geod = Geod(ellps="WGS84")
    lats, lons = np.meshgrid(np.arange(-60.0, 75.0, 1.7), np.arange(-179.0, 180.0, 1.9))
    said = np.array(
        [
            highest_land(lat=lat, lon=lon).height_m
            for lat, lon in zip(lats.flat, lons.flat, strict=True)
        ]
    )
    lats, lons = lats.ravel(), lons.ravel()
    named = said < HIGHEST_LAND_M
    assert 100 < named.sum() < 0.2 * said.size
    for lat, lon, height in SUMMITS:
        _, _, away = geod.inv(
            lons[named], lats[named], np.full(named.sum(), lon), np.full(named.sum(), lat)
        )
        shows = away < farthest_m(float(height), 0.0)
        wrong = shows & (said[named] < height)
        assert not wrong.any(), (lat, lon, height, lats[named][wrong], lons[named][wrong])


def test_the_nearest_edge_against_the_ellipsoid(tmp_path: Path) -> None:
    write_ground(tmp_path / "g.tif", flat, lat=-31.0, lon=138.0, half_m=2000.0)
    ground = Elevation.open(tmp_path / "g.tif")
    geod = Geod(ellps="WGS84")
    south, west, north, east = ground.bounds
    lat, lon = -31.004, 138.011
    ends = ((lon, south), (lon, north), (west, lat), (east, lat))
    edge = min(geod.inv(lon, lat, *end)[2] for end in ends)
    assert nearest_edge_m(ground, lat=lat, lon=lon) == pytest.approx(edge, abs=31.0)
    assert nearest_edge_m(ground, lat=-31.2, lon=138.0) == 0.0


def test_doctor_says_where_the_ground_ends(tmp_path: Path) -> None:
    write_outing(tmp_path, lat=-31.0, lon=138.0, evening=dt.date(2027, 6, 5))
    found = {one.what: one for one in examine(tmp_path / "outing.toml")}
    reach = found["ground's reach"]
    assert (reach.good, reach.care) == (True, True)
    said = re.search(r"ends 3\.0 km from the subject; beyond it land ([\d.]+) m above", reach.found)
    assert said is not None
    # 3 km: s tan 1 degree is 52.4 m, the curve 0.6 m; the raster's edge is within 20 m of there.
    assert float(said.group(1)) == pytest.approx(53.0, abs=0.4)
    assert "tiles" in found["ground tiles"].found
    assert " MB in " in found["ground tiles"].found
    shown = CliRunner().invoke(group, ["doctor", str(tmp_path / "outing.toml")])
    assert "CARE  ground's reach: the raster ends" in shown.output
