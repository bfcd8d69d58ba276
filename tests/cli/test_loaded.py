"""What each command may load: libraries that take long are for those that need them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

from backbearing.base.kept_code import SAYING

OUTING: Final = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"

SLOW: Final = (
    "PIL", "contourpy", "fontTools", "folium", "geopandas", "jinja2", "matplotlib", "numba",
    "numpy", "pandas", "pydantic", "pyogrio", "pyproj", "rasterio", "reportlab", "rich", "scipy",
    "shapely", "skyfield",
)  # fmt: skip
"""Whose loading takes over 20 ms each."""

GROUND: Final = {"numpy", "pydantic", "pyproj", "rasterio", "rich", "skyfield"}
"""What the file, the raster, the sky and the printed table need."""

MAY_LOAD: Final[dict[str, set[str]]] = {
    "--help": set(),
    "kit --example": set(),
    "new --starter {outing}": set(),
    "explain {outing} 85mm.distanze_m": set(),
    "explain {outing} 85mm.distance_m": GROUND | {"shapely"},
    "explain {outing} session.walked_m": GROUND | {"shapely"},
    "explain {outing} light.area_m2": GROUND | {"shapely", "contourpy"},
    "explain {outing} night.dark_minutes": GROUND | {"shapely"},
    "measure --help": set(),
    "measure height angles --distance-m 20 --top-deg 30 --base-deg -4": {"numpy", "pydantic"},
    "stand {outing}": GROUND | {"shapely", "contourpy"},
    "stand {outing} --json": GROUND | {"shapely", "contourpy"},
    "ground --at 36.3,-84.3 --within 40km --cache {outing}.none": GROUND - {"rasterio", "skyfield"},
    "ridge {outing} --spot 36.34895 -84.32955": GROUND | {"shapely"},
}
"""Each command with what it may load. Places are geometry (shapely); hidden light is looked for
along outlines of the ground seen (contourpy), by `explain` for a name of the light only."""

PROGRAM: Final = """
import sys
from backbearing.cli import main
try:
    main()
finally:
    print("loaded", *sys.modules, file=sys.stderr)
"""


@pytest.mark.slow
@pytest.mark.parametrize("words", MAY_LOAD)
def test_a_command_loads_only_what_it_needs(words: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *(word.format(outing=OUTING) for word in words.split())],
        env=os.environ, capture_output=True, text=True, check=False,
    )  # fmt: skip
    loaded = done.stderr.splitlines()[-1].split()
    assert loaded[0] == "loaded", done.stderr
    assert set(SLOW) & set(loaded) <= MAY_LOAD[words]


@pytest.mark.slow
def test_a_first_demo_compiles_nothing(tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    done = subprocess.run(
        [sys.executable, "-c", "from backbearing.cli import main; main()",
         "demo", "--outing", str(OUTING), "--into", str(tmp_path / "maps")],
        env=os.environ | {"NUMBA_CACHE_DIR": str(kept)}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert SAYING not in done.stderr
    assert not list(kept.rglob("*.nb?"))
