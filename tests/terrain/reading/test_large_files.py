"""Memory follows the window, not the file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

WRITE_AND_LOOK = """
import pathlib, resource, sys
import numpy as np, rasterio
from affine import Affine
from rasterio.windows import Window
from backbearing.terrain import Elevation, Ground

path, size = sys.argv[1], 40_000
profile = dict(driver="GTiff", width=size, height=size, count=1, dtype="int16", nodata=-32768,
    crs="EPSG:32616", transform=Affine(30, 0, 300_000, 0, -30, 4_400_000), tiled=True,
    blockxsize=512, blockysize=512, compress="deflate", BIGTIFF="YES", SPARSE_OK="TRUE")
ramp = (np.add.outer(np.arange(1024), np.arange(1024)) // 8).astype("int16")
with rasterio.open(path, "w", **profile) as data:
    for row in range(18_432, 22_528, 1024):
        for col in range(18_432, 22_528, 1024):
            data.write(ramp, 1, window=Window(col, row, 1024, 1024))
dem = Elevation.open(path)
lat, lon = dem.grid.places(row=20_000, col=20_000)
height = dem.height_at(lat=lat, lon=lon)
expected = float(ramp[20_000 % 1024, 20_000 % 1024])
assert abs(height - expected) < 1e-6, (height, expected)
empty = dem.grid.places(row=100, col=100)
assert dem.state_at(lat=empty.lat, lon=empty.lon) is Ground.VOID
horizon = dem.horizon(lat=lat, lon=lon)
assert np.isfinite(horizon.altitudes_deg).all()
assert (horizon.reach_m == 100_000).all()
assert horizon.unknown_share.max() > 0.4
try:
    dem.heights_m
except Exception as refusal:
    assert "too many to hold at once" in str(refusal)
else:
    raise SystemExit("the whole raster was read")
# What getrusage tells counts the parent's memory too where a process is started without a copy.
status = pathlib.Path("/proc/self/status")
if status.exists():
    held = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    print(int(held.split()[1]) * 1024)
else:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(peak * (1 if sys.platform == "darwin" else 1024))
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="the resource module is Unix only")
def test_forty_thousand_squared_stays_below_one_gibibyte(tmp_path: Path) -> None:
    source = Path(__file__).parents[3] / "src"
    out = subprocess.run(
        [sys.executable, "-c", WRITE_AND_LOOK, str(tmp_path / "huge.tif")],
        env={"PYTHONPATH": str(source), "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert out.returncode == 0, out.stderr
    assert int(out.stdout) < 2**30
