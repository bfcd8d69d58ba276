"""The land all round on the desk: against a march of the test's own, and the sky of Astropy."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from pyproj import Geod

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from backbearing.desk.application import Desk

LAT, LON, EYE_M = -31.2, 148.6, 1.6


def ridge(client: TestClient, **changes: Any) -> dict[str, Any]:
    answer = client.get("/api/ridge", params={"changes": json.dumps(changes)})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_the_ridge_is_that_of_a_plain_march(client: TestClient, desk: Desk) -> None:
    """Steps of 5 m over the raster as read; curvature and refraction of 0.13 (textbooks)."""
    found = ridge(client)
    assert found["step_deg"] * len(found["ridge_deg"]) == 360.0
    from backbearing.outing.load import load_outing

    with rasterio.open(load_outing(desk.outing.file).ground.elevation[0]) as raster:
        heights, away = raster.read(1).astype(float), ~raster.transform
        crs = raster.crs
    from pyproj import Transformer

    turned = Transformer.from_crs("EPSG:4326", crs, always_xy=True)

    def height(lon: Any, lat: Any) -> Any:
        x, y = turned.transform(lon, lat)
        col, row = (
            away @ (np.asarray(x), np.asarray(y)) if hasattr(away, "__matmul__") else away * (x, y)
        )
        col, row = np.asarray(col) - 0.5, np.asarray(row) - 0.5
        c, r = np.floor(col).astype(int), np.floor(row).astype(int)
        inside = (c >= 0) & (r >= 0) & (c + 1 < heights.shape[1]) & (r + 1 < heights.shape[0])
        c, r = np.where(inside, c, 0), np.where(inside, r, 0)
        u, v = col - c, row - r
        top = heights[r, c] * (1 - u) + heights[r, c + 1] * u
        low = heights[r + 1, c] * (1 - u) + heights[r + 1, c + 1] * u
        return np.where(inside, top * (1 - v) + low * v, np.nan)

    eye = float(height(np.array([LON]), np.array([LAT]))[0]) + EYE_M
    steps = np.arange(20.0, 12_000.0, 5.0)
    for azimuth in (30.0, 110.0, 135.0, 200.0):
        lon, lat, _ = Geod(ellps="WGS84").fwd(
            np.full(steps.size, LON), np.full(steps.size, LAT), np.full(steps.size, azimuth), steps
        )
        sunk = (1.0 - 0.13) * steps**2 / (2.0 * 6_371_000.0)
        angle = np.degrees(np.arctan2(height(lon, lat) - sunk - eye, steps))
        told = found["ridge_deg"][round(azimuth / found["step_deg"])]
        assert told == pytest.approx(float(np.nanmax(angle)), abs=0.03)


def test_it_follows_the_subject_and_the_night(client: TestClient) -> None:
    here, there = ridge(client), ridge(client, subject={"lat": LAT + 0.01})
    assert here["ridge_deg"] != there["ridge_deg"]
    other = ridge(client, night={"evening": "2027-07-05"})
    assert other["ridge_deg"] == here["ridge_deg"]
    assert other["path"][0][0] != here["path"][0][0]


def test_the_way_is_that_of_the_target(client: TestClient) -> None:
    """Sgr A* at its ICRS place (Reid and Brunthaler 2004), by Astropy without refraction."""
    import astropy.units as u
    from astropy.coordinates import AltAz, EarthLocation, SkyCoord
    from astropy.time import Time
    from astropy.utils import iers

    path = ridge(client)["path"]
    row = path[len(path) // 2]
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        site = EarthLocation(lat=LAT * u.deg, lon=LON * u.deg, height=300.0 * u.m)
        seen = SkyCoord(ra=266.41684 * u.deg, dec=-29.00781 * u.deg).transform_to(
            AltAz(obstime=Time(row[0], format="unix"), location=site)
        )
    turn = (row[1] - seen.az.deg + 180.0) % 360.0 - 180.0
    assert abs(turn) * math.cos(math.radians(row[2])) < 0.02
    assert row[2] == pytest.approx(seen.alt.deg, abs=0.05)
