"""Help comes at once: nothing heavy is loaded for it."""

from __future__ import annotations

import subprocess
import sys

HEAVY = (
    "numpy",
    "pandas",
    "shapely",
    "pyproj",
    "rasterio",
    "numba",
    "skyfield",
    "pydantic",
    "scipy",
)


def test_the_command_line_loads_nothing_heavy_before_it_is_asked() -> None:
    program = "import sys, backbearing.cli; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not set(HEAVY) & set(loaded)
