"""Write the invented ground of the guide "Your first night": hills at 31 S, 30 m cells.

    python docs/make_first_night_ground.py southern_hills.tif

No such land exists; its shape is sums of waves and two ranges. The result is the same everywhere.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

LAT, LON = -31.2, 148.6
HALF_KM, CELL_DEG = 12.0, 1.0 / 3600.0


def heights_m(east_km: np.ndarray, north_km: np.ndarray) -> np.ndarray:
    """Ground heights: plains that roll a little, a range to the east, a lower one to the west."""
    plain = 420.0 + 6.0 * np.sin(1.9 * east_km + 0.7) * np.cos(1.3 * north_km)
    rise = 22.0 * np.exp(-(east_km**2 + north_km**2) / 0.18)
    waver = 0.5 * np.sin(0.8 * north_km)
    eastern = 230.0 * np.exp(-(((east_km - 4.5 - waver) / 1.1) ** 2))
    western = 120.0 * np.exp(-(((east_km + 6.0 + waver) / 1.6) ** 2))
    crest = 1.0 + 0.25 * np.sin(2.1 * north_km + 1.0)
    return np.asarray(plain + rise + crest * (eastern + western), dtype=np.float32)


def write(path: Path) -> None:
    """Write the raster: GeoTIFF, WGS84, metres."""
    import rasterio
    from affine import Affine

    km_per_deg = 111.195
    rows = cols = 2 * round(HALF_KM / km_per_deg / CELL_DEG) + 1
    half = (rows - 1) / 2.0 * CELL_DEG
    lon = LON - half + np.arange(cols) * CELL_DEG
    lat = LAT + half - np.arange(rows) * CELL_DEG
    east = (lon - LON) * km_per_deg * np.cos(np.radians(LAT))
    north = (lat - LAT) * km_per_deg
    edge = CELL_DEG / 2.0
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=cols,
        height=rows,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=Affine(CELL_DEG, 0.0, lon[0] - edge, 0.0, -CELL_DEG, lat[0] + edge),
        compress="deflate",
        predictor=3,
    ) as made:
        made.write(heights_m(east[None, :], north[:, None]), 1)


if __name__ == "__main__":
    write(Path(sys.argv[1] if len(sys.argv) > 1 else "southern_hills.tif"))
