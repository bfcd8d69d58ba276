"""Height and state of the ground at places."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.base.errors import TerrainError
from backbearing.terrain import Elevation, Ground
from backbearing.terrain import chunks as chunks_module

WEST, NORTH, CELL = -84.0, 36.5, 0.01


def ground(z: np.ndarray) -> Elevation:
    return Elevation.from_array(z, Affine(CELL, 0, WEST, 0, -CELL, NORTH), "EPSG:4326")


def test_arrays_broadcast_and_keep_their_shape() -> None:
    dem = ground(np.arange(600.0).reshape(20, 30))
    lat, lon = np.linspace(36.32, 36.48, 4)[:, None], np.linspace(-83.98, -83.72, 5)
    heights = dem.height_at(lat=lat, lon=lon)
    assert heights.shape == (4, 5)
    assert heights.dtype == np.float64
    assert heights[2, 3] == dem.height_at(lat=lat[2, 0], lon=lon[3])
    states = dem.state_at(lat=lat, lon=lon)
    assert states.shape == (4, 5)
    assert (states == Ground.KNOWN).all()
    assert isinstance(dem.height_at(lat=36.4, lon=-83.9), float)


@given(
    row=st.floats(0, 19, allow_nan=False),
    col=st.floats(0, 29, allow_nan=False),
    a=st.floats(-5, 5),
    b=st.floats(-5, 5),
    twist=st.floats(-1, 1),
)
@settings(max_examples=60, deadline=None)
def test_a_bilinear_ground_is_given_back(
    row: float, col: float, a: float, b: float, twist: float
) -> None:
    r, c = np.mgrid[0:20, 0:30].astype(float)
    dem = ground(300 + a * r + b * c + twist * r * c)
    height = dem.height_at(lat=NORTH - CELL * (row + 0.5), lon=WEST + CELL * (col + 0.5))
    assert height == pytest.approx(300 + a * row + b * col + twist * row * col, abs=1e-6)


def test_known_reaches_the_outermost_centres_and_no_farther() -> None:
    dem = ground(np.full((20, 30), 250.0))
    inside = {"lat": NORTH - CELL * 0.5, "lon": WEST + CELL * 0.5}
    assert dem.height_at(**inside) == pytest.approx(250.0)
    outside = {"lat": inside["lat"] + 1e-6, "lon": inside["lon"]}
    assert np.isnan(dem.height_at(**outside))
    assert dem.state_at(**outside) is Ground.OUTSIDE
    assert dem.state_at(lat=-36.4, lon=96.0) is Ground.OUTSIDE
    assert dem.state_at(lat=np.nan, lon=-83.9) is Ground.OUTSIDE


def test_swapped_lat_and_lon_are_outside_never_a_height() -> None:
    dem = ground(np.full((20, 30), 250.0))
    assert dem.state_at(lat=-83.9, lon=36.4) is Ground.OUTSIDE


def test_a_void_spoils_only_what_it_counts_for() -> None:
    z = np.full((20, 30), 250.0)
    z[10, 10] = np.nan
    dem = ground(z)
    for row, col in ((9, 10), (11, 10), (10, 9), (10, 11), (9, 9), (9.0, 9.5)):
        place = {"lat": NORTH - CELL * (row + 0.5), "lon": WEST + CELL * (col + 0.5)}
        assert dem.height_at(**place) == pytest.approx(250.0), (row, col)
    for row, col in ((10, 10), (9.5, 10), (10.5, 10.5), (9.01, 9.01)):
        place = {"lat": NORTH - CELL * (row + 0.5), "lon": WEST + CELL * (col + 0.5)}
        assert dem.state_at(**place) is Ground.VOID, (row, col)


def test_a_single_row_has_no_surface_and_says_so() -> None:
    for z in (np.full((1, 30), 250.0), np.full((20, 1), 250.0), np.full((1, 1), 250.0)):
        dem = ground(z)
        place = {"lat": NORTH - CELL * 0.5, "lon": WEST + CELL * 0.5}
        assert np.isnan(dem.height_at(**place))
        assert dem.state_at(**place) is Ground.OUTSIDE
        with pytest.raises(TerrainError):
            dem.horizon(**place)


def test_all_void() -> None:
    dem = ground(np.full((20, 30), np.nan))
    assert dem.state_at(lat=36.4, lon=-83.9) is Ground.VOID
    assert np.isnan(dem.height_at(lat=36.4, lon=-83.9))
    with pytest.raises(TerrainError, match="ground_m"):
        dem.horizon(lat=36.4, lon=-83.9)
    horizon = dem.horizon(lat=36.4, lon=-83.9, ground_m=300.0)
    assert np.isnan(horizon.altitudes_deg).all()
    np.testing.assert_allclose(horizon.unknown_share, 1.0)
    assert not horizon.is_final.any()


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:3857", "EPSG:2274", "EPSG:4267", "EPSG:5070"])
def test_other_reference_systems_find_the_same_place(crs: str) -> None:
    from pyproj import Transformer

    to = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    x, y = to.transform(-84.2, 36.3)
    step = 1e-3 if crs == "EPSG:4267" else 90.0
    transform = Affine(step, 0, x - 50.5 * step, 0, -step, y + 40.5 * step)
    z = np.zeros((81, 101))
    z[40, 50] = 100.0
    dem = Elevation.from_array(z, transform, crs)
    assert dem.height_at(lat=36.3, lon=-84.2) == pytest.approx(100.0, abs=1e-3)


def test_a_rotated_and_a_south_up_raster_are_read_right() -> None:
    z = np.arange(600.0).reshape(20, 30)
    plain = ground(z)
    flipped = Elevation.from_array(
        z[::-1], Affine(CELL, 0, WEST, 0, CELL, NORTH - 20 * CELL), "EPSG:4326"
    )
    turned = Elevation.from_array(
        np.rot90(z), Affine(0, -CELL, WEST + 30 * CELL, -CELL, 0, NORTH), "EPSG:4326"
    )
    for lat, lon in ((36.4, -83.9), (36.33, -83.81)):
        expected = plain.height_at(lat=lat, lon=lon)
        assert flipped.height_at(lat=lat, lon=lon) == pytest.approx(expected)
        assert turned.height_at(lat=lat, lon=lon) == pytest.approx(expected)
    assert turned.bounds == pytest.approx(plain.bounds)


def test_pieces_of_a_large_raster_give_the_same_heights(monkeypatch: pytest.MonkeyPatch) -> None:
    z = np.random.default_rng(5).uniform(0, 900, (150, 210))
    whole = ground(z)
    monkeypatch.setattr(chunks_module, "PIECE", 32)
    monkeypatch.setattr(chunks_module, "WHOLE_UP_TO", 0)
    monkeypatch.setattr(chunks_module, "KEEP_BYTES", 40_000)
    pieces = _from_source(z)
    rng = np.random.default_rng(6)
    lat, lon = rng.uniform(35.0, 36.5, 500), rng.uniform(-84.0, -81.9, 500)
    np.testing.assert_array_equal(
        whole.height_at(lat=lat, lon=lon), pieces.height_at(lat=lat, lon=lon)
    )
    np.testing.assert_array_equal(pieces.heights_m, z.astype(np.float32))
    window = pieces.window_m(slice(20, 75), slice(31, 98))
    np.testing.assert_array_equal(window, z[20:75, 31:98])


def _from_source(z: np.ndarray) -> Elevation:
    """Hide an array behind windows, as a file would."""
    from dataclasses import dataclass

    from backbearing.terrain.reading.sources import ArraySource

    @dataclass(frozen=True)
    class Windowed(ArraySource):
        @property
        def array(self) -> None:  # type: ignore[override]
            return None

    return Elevation(Windowed(ground(z).grid, z))
