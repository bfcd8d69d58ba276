"""Which ground sees which: single rays against another program, the area sweep against rays.

GDAL's ``gdal_viewshed`` (GDAL 3.6.2, MIT licence; method of Wang, Robinson and White 2000,
"Generating viewsheds without using sightlines", PE&RS 66, 87-90) marks the cells that one
observer sees. It stands on reference planes through neighbouring cells, our rays on the
bilinear surface; the two agree on a surface that is finely posted and from an observer well
above the first cells. So the sample is posted at 30 m and seen from a mast of 20 m, for
targets 2 m high: three masts measured 0.974 to 0.989 of intersection over union. From 1.6 m
above the ground the first cells decide, and the two share 0.46 to 0.65 only; there a plain
march at a twentieth of a cell shares 0.99 with our rays and 0.43 to 0.51 with the program.

``data/viewshed_sample.npz`` holds what it said; ``data/README.md`` the command. Where the
program is installed it is asked again.
"""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import rasterio
from affine import Affine

from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.geodesy import line_between
from backbearing.sky import direction
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.outing.request import Outing

DATA = Path(__file__).parent / "data" / "viewshed_sample.npz"
WIDE, STEP_M = 501, 30.0
WEST_M, NORTH_M = 739_800.0, 4_028_580.0
MAST_ROW, MAST_COL = 323, 249
MAST_M, TARGET_M, K = 20.0, 2.0, 0.13


@pytest.fixture(scope="module")
def posted(elevation: Elevation) -> Elevation:
    """The middle of the sample, posted at 30 m on UTM zone 16 and to a quarter metre."""
    from pyproj import Transformer

    transform = Affine(STEP_M, 0.0, WEST_M, 0.0, -STEP_M, NORTH_M)
    count = np.arange(WIDE) + 0.5
    x, y = np.meshgrid(WEST_M + count * STEP_M, NORTH_M - count * STEP_M)
    lon, lat = Transformer.from_crs(32616, 4326, always_xy=True).transform(x, y)
    heights = np.round(4.0 * elevation.height_at(lat=lat, lon=lon)) / 4.0
    assert np.isfinite(heights).all()
    return Elevation.from_array(heights.astype(np.float32), transform, "EPSG:32616")


@pytest.fixture(scope="module")
def rays(posted: Elevation) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Rows, columns and visibility of cells drawn by chance, each by a ray of its own."""
    rng = np.random.default_rng(4)
    row, col = rng.integers(0, WIDE, 2500), rng.integers(0, WIDE, 2500)
    away = (row != MAST_ROW) | (col != MAST_COL)
    row, col = row[away], col[away]
    mast = posted.grid.places(row=float(MAST_ROW), col=float(MAST_COL))
    there = posted.grid.places(row=row, col=col)
    line = line_between(lat1=mast.lat, lon1=mast.lon, lat2=there.lat, lon2=there.lon)
    rise = posted.heights_m[row, col] + TARGET_M - posted.heights_m[MAST_ROW, MAST_COL] - MAST_M
    drop = (1.0 - K) * line.distance_m / (2.0 * MEAN_EARTH_RADIUS_M)
    target_deg = np.degrees(np.arctan(rise / line.distance_m - drop))
    before = posted.skylines(
        lat=float(mast.lat),
        lon=float(mast.lon),
        azimuths_deg=line.azimuth_deg,
        eye_height_m=MAST_M,
        max_distance_m=line.distance_m,
        refraction_k=K,
    )
    return row, col, target_deg >= before.altitudes_deg


def _shared(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> float:
    """Intersection over union."""
    return float((one & other).sum() / (one | other).sum())


def test_rays_see_what_the_stored_viewshed_sees(
    rays: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]],
) -> None:
    row, col, seen = rays
    bits = np.load(DATA)["seen"]
    stored = np.unpackbits(bits, count=WIDE * WIDE).reshape(WIDE, WIDE).astype(bool)
    assert 0.05 < seen.mean() < 0.6
    assert _shared(stored[row, col], seen) >= 0.95


def test_rays_see_what_a_live_viewshed_sees(
    posted: Elevation,
    rays: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]],
    tmp_path: Path,
) -> None:
    if shutil.which("gdal_viewshed") is None:
        pytest.skip("gdal_viewshed (Debian package gdal-bin) is not installed")
    row, col, seen = rays
    assert _shared(viewshed(posted, tmp_path)[row, col], seen) >= 0.95


def viewshed(posted: Elevation, folder: Path) -> NDArray[np.bool_]:
    """Ask the program, as in ``data/README.md``."""
    source, result = folder / "posted.tif", folder / "viewshed.tif"
    with rasterio.open(
        source, "w", driver="GTiff", height=WIDE, width=WIDE, count=1, dtype="float32",
        crs="EPSG:32616", transform=posted.transform,
    ) as raster:  # fmt: skip
        raster.write(posted.heights_m.astype(np.float32), 1)
    x, y = posted.transform @ (MAST_COL + 0.5, MAST_ROW + 0.5)
    command = [
        "gdal_viewshed", "-q", "-ox", f"{x}", "-oy", f"{y}", "-oz", f"{MAST_M}",
        "-tz", f"{TARGET_M}", "-cc", f"{1.0 - K}", "-vv", "1", "-iv", "0", "-ov", "0",
        str(source), str(result),
    ]  # fmt: skip
    subprocess.run(command, check=True, timeout=120)
    with rasterio.open(result) as raster:
        seen: NDArray[np.bool_] = raster.read(1) == 1
    return seen


def test_swept_area_shares_its_clear_and_hidden_cells_with_rays(
    deep_valley: Outing, elevation: Elevation
) -> None:
    # The figure of 0.95 is asked of area visibility against a march.
    outing = deep_valley
    area = ridge_area(outing, elevation, at="22:45")
    moment = dt.datetime(2027, 6, 5, 22, 45, tzinfo=ZoneInfo(area.zone))
    rng = np.random.default_rng(11)
    row, col = rng.integers(3, 300, 2000), rng.integers(3, 400, 2000)
    here = elevation.grid.places(row=row, col=col)
    azimuth, altitude = direction(
        outing.target, lat=here.lat, lon=here.lon, height_m=300.0, times=moment
    )
    below = elevation.skylines(
        lat=here.lat,
        lon=here.lon,
        azimuths_deg=azimuth,
        eye_height_m=outing.framing.eye_height_m,
        refraction_k=K,
    )
    exact, swept = altitude - below.altitudes_deg, area.margin_deg[row, col]
    known = np.isfinite(exact) & np.isfinite(swept)
    assert known.mean() > 0.99
    clear, swept_clear = exact[known] >= 1.0, swept[known] >= 1.0
    assert 0.3 < clear.mean() < 0.9
    assert _shared(clear, swept_clear) >= 0.97
    assert _shared(~clear, ~swept_clear) >= 0.95
