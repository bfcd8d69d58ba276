"""Invented candidates on the sample ground and on made-up land."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas
import numpy as np
import pytest
from affine import Affine

from backbearing.outing.scouting_request import ScoutRequest
from backbearing.scouting.reading.candidate_table import Candidates
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.outing.request import Outing

CELL_DEG = 1.0 / 1200.0


def candidates_at(lat: Any, lon: Any, others: Any = None, **columns: Any) -> Candidates:
    """Make candidates of given places; sizes and words may be given too."""
    lat, lon = np.atleast_1d(lat), np.atleast_1d(lon)
    table = {
        "id": [f"row {i}" for i in range(len(lat))],
        "name": [f"thing {i}" for i in range(len(lat))],
        "kind": "tree",
        "height_m": 6.0,
        "width_m": 4.0,
        "height_is_guess": False,
        "width_is_guess": False,
        "access": "open",
        "note": "",
        **columns,
    }
    points = geopandas.points_from_xy(lon, lat)
    frame = geopandas.GeoDataFrame(table, index=range(len(lat)), geometry=points, crs="EPSG:4326")
    rest = frame.iloc[:0] if others is None else others.frame
    return Candidates(frame, rest, (), "invented")


@pytest.fixture(scope="session")
def make_candidates() -> Callable[..., Candidates]:
    return candidates_at


@pytest.fixture(scope="session")
def plain_outing(outing: Outing) -> Outing:
    """Return the sample outing without its places and its session."""
    return replace(
        outing,
        ground=replace(outing.ground, places=None),
        session=None,
        scouting=ScoutRequest(),
    )


@pytest.fixture(scope="session")
def scattered(elevation: Elevation) -> Callable[..., Candidates]:
    """Scatter candidates of all sizes over the sample ground."""

    def make(n: int, seed: int = 1) -> Candidates:
        rng = np.random.default_rng(seed)
        south, west, north, east = elevation.bounds
        return candidates_at(
            rng.uniform(south + 0.02, north - 0.02, n),
            rng.uniform(west + 0.02, east - 0.02, n),
            height_m=rng.uniform(3.0, 14.0, n),
            width_m=rng.uniform(2.0, 8.0, n),
        )

    return make


@pytest.fixture(scope="session")
def made_ground() -> Callable[..., Elevation]:
    """Make land of one's own about a middle, from metres east and north to heights."""

    def make(
        height: Callable[[Any, Any], Any],
        *,
        lat: float = 36.0,
        lon: float = -84.0,
        cells: int = 121,
    ) -> Elevation:
        half = CELL_DEG * cells / 2.0
        transform = Affine(CELL_DEG, 0, lon - half, 0, -CELL_DEG, lat + half)
        steps = (np.arange(cells) - (cells - 1) / 2.0) * CELL_DEG * 111_194.9
        east, north = np.meshgrid(steps * np.cos(np.radians(lat)), -steps)
        return Elevation.from_array(height(east, north) + 0.0 * east, transform, "EPSG:4326")

    return make
