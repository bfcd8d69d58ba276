"""National grids at the edges of their areas: one operation, no jumps, sight lines followed."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
import shapely
from affine import Affine
from pyproj import CRS, Transformer

from backbearing.base.datum_shift import one_shift, to_wgs84
from backbearing.terrain import Elevation

GRIDS = (27700, 2154, 25832, 3035, 2056, 28355, 2193, 5070, 3338, 6675)
CELL_M, CELLS = 500.0, 200

AIRY = (
    "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy "
    "+towgs84=446.448,-125.157,542.06,0.15,0.247,0.842,-20.489 +units=m"
)
"""EPSG:27700 with the seven parameters of EPSG:1314, OSGB36 to WGS 84 (6), of EPSG v11.022."""


def raster_about(code: int, share_east: float, share_north: float) -> Elevation:
    """Make 100 km of invented ground about a point of the grid's published area."""
    crs = CRS.from_epsg(code)
    west, south, east, north = crs.area_of_use.bounds
    east += 360.0 if east < west else 0.0
    lon = (west + (east - west) * share_east + 180.0) % 360.0 - 180.0
    lat = south + (north - south) * share_north
    own = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    x, y = own.transform(lon, lat)
    half = CELL_M * CELLS / 2.0
    z = 200.0 + 50.0 * np.random.default_rng(code).standard_normal((CELLS, CELLS))
    return Elevation.from_array(z, Affine(CELL_M, 0, x - half, 0, -CELL_M, y + half), crs)


@pytest.mark.parametrize("code", GRIDS)
@pytest.mark.parametrize("east", [0.0, 1.0])
@pytest.mark.parametrize("north", [0.0, 0.5, 1.0])
def test_a_raster_across_the_edge_of_its_grid_is_in_one_piece(
    code: int, east: float, north: float
) -> None:
    dem = raster_about(code, east, north)
    cols = np.arange(0.0, CELLS - 1.0, 0.5)
    for row in (0.0, CELLS / 2.0, CELLS - 1.0):
        places = dem.grid.places(row=np.full_like(cols, row), col=cols)
        again = dem.grid.pixels(lat=places.lat, lon=places.lon)
        assert np.abs(again.col - cols).max() * CELL_M < 0.01
        assert np.abs(again.row - row).max() * CELL_M < 0.01
        # Evenly spaced columns: a jump of a metre would show in the second differences.
        bend = np.diff(np.unwrap(places.lon, period=360.0), 2) * np.cos(np.radians(places.lat[1]))
        assert np.abs(bend).max() * 111_000.0 < 0.2
        assert np.abs(np.diff(places.lat, 2)).max() * 111_000.0 < 0.2
    eye = dem.grid.places(row=CELLS / 2.0, col=CELLS / 2.0)
    seen = dem.horizon(
        lat=float(eye.lat), lon=float(eye.lon), azimuths_deg=np.arange(0.0, 360.0, 45.0),
        max_distance_m=40_000.0,
    )  # fmt: skip
    assert np.isfinite(seen.altitudes_deg).all()


@pytest.mark.parametrize("place", [(655_000.0, 313_000.0), (640_000.0, 140_000.0)])
def test_norfolk_and_kent_lie_where_the_published_parameters_put_them(
    place: tuple[float, float],
) -> None:
    x, y = (value + np.array([-50e3, 0.0, 50e3]) for value in place)
    found = one_shift(CRS.from_epsg(27700), x, y)
    assert found.accuracy_m == 2.0
    # Other processes get the same.
    found = pickle.loads(pickle.dumps(found))  # noqa: S301  # our own
    lon, lat = found.transformer.transform(x, y, direction="INVERSE")
    to = Transformer.from_crs(AIRY, "EPSG:4326", always_xy=True).transform(x, y)
    assert np.abs(lon - to[0]).max() < 1e-8
    assert np.abs(lat - to[1]).max() < 1e-8


def test_the_accuracy_is_the_published_one_or_unknown() -> None:
    assert raster_about(2056, 0.5, 0.5).placed_within_m == 1.0
    assert raster_about(5070, 0.5, 0.5).placed_within_m == 4.0
    assert raster_about(32616, 0.5, 0.5).placed_within_m == 0.0
    # ETRS89 is published for Europe alone; its grid reaches to the Azores.
    assert np.isnan(raster_about(3035, 0.0, 0.5).placed_within_m)


def test_shapes_of_a_file_are_taken_over_together() -> None:
    # A fence along the grid's easting across 1.92 degrees east, where the library changes over.
    x = np.arange(650_000.0, 660_000.0, 100.0)
    fence = shapely.linestrings(x, np.full_like(x, 313_000.0))
    (found,) = to_wgs84([fence], CRS.from_epsg(27700))
    lon, lat = shapely.get_coordinates(found).T
    assert np.abs(np.diff(lon, 2)).max() * 67_000.0 < 0.01
    assert np.abs(np.diff(lat, 2)).max() * 111_000.0 < 0.01
    assert list(to_wgs84([None, shapely.Point(1.0, 2.0)], CRS.from_epsg(4326))) == [
        None,
        shapely.Point(1.0, 2.0),
    ]
