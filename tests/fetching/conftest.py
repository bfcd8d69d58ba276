"""Invented tiles, and a server of them that runs as a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.fetching.cache import TileCache
from backbearing.fetching.download import Manner
from backbearing.fetching.source import TileSource
from backbearing.fetching.tile_scheme import SCHEMES, Corner

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SERVER = Path(__file__).with_name("tile_server.py")
NAME = "Invented_{NS}{lat}_00_{EW}{lon}_00_DEM.tif"


def hills(lat: Any, lon: Any) -> Any:
    """Invented land: the same formula everywhere, so that tiles agree at their edges."""
    lon = np.radians(lon)
    return 600.0 + 250.0 * np.sin(40.0 * np.radians(lat) * 7.0) + 150.0 * np.cos(360.0 * lon)


def write_tile(
    path: Path,
    corner: Corner,
    *,
    rows: int,
    cols: int,
    heights: Callable[[Any, Any], Any] = hills,
    dtype: str = "float32",
    void: bool = False,
) -> Path:
    """Write a tile whose first pixel's centre lies on its north-west corner."""
    import rasterio
    from affine import Affine

    path.parent.mkdir(parents=True, exist_ok=True)
    lat = corner.lat + 1.0 - np.arange(rows)[:, None] / rows
    lon = corner.lon + np.arange(cols)[None, :] / cols
    values = np.asarray(heights(lat, lon) + 0.0 * lat * lon).astype(dtype)
    if void:
        values[: rows // 2] = -9999
    with rasterio.open(
        path, "w", driver="GTiff", width=cols, height=rows, count=1, dtype=dtype, nodata=-9999,
        crs="EPSG:4326", tiled=True, blockxsize=256, blockysize=256, compress="deflate",
        transform=Affine(
            1.0 / cols, 0, corner.lon - 0.5 / cols, 0, -1.0 / rows, corner.lat + 1.0 + 0.5 / rows
        ),
    ) as out:  # fmt: skip
        # As the open model's own files say of themselves.
        out.update_tags(AREA_OR_POINT="Point")
        out.write(values, 1)
    return path


class Served:
    """A folder that is served, what its server is to do wrong, and what it was asked."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port
        self.faults()

    @property
    def template(self) -> str:
        return f"http://127.0.0.1:{self.port}/{NAME}"

    def faults(self, **by_word: str) -> None:
        (self.folder / "faults.json").write_text(json.dumps(by_word))

    def source(self, **more: Any) -> TileSource:
        """A source of small tiles, 120 by 120."""
        asked = {"name": "invented", "scheme": SCHEMES["one degree"], "licence": "ours"} | more
        return TileSource(template=self.template, **asked)

    def tile(self, corner: Corner, size: int = 120, **more: Any) -> Path:
        name = Path(self.source().url(corner)).name
        return write_tile(self.folder / name, corner, rows=size, cols=size, **more)

    @property
    def requests(self) -> list[dict[str, Any]]:
        # The server writes a request down when it is done with it, a moment after its answer.
        log, begun = self.folder / "requests.jsonl", self.folder / "begun"
        for _ in range(100):
            lines = log.read_text("utf-8").splitlines() if log.exists() else []
            if len(lines) == (begun.stat().st_size if begun.exists() else 0):
                break
            time.sleep(0.05)
        return [json.loads(line) for line in lines]


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    folder = tmp_path / "served"
    folder.mkdir()
    process = subprocess.Popen(
        [sys.executable, str(SERVER), str(folder)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        yield Served(folder, int(process.stdout.readline()))
    finally:
        process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()


@pytest.fixture
def cache(tmp_path: Path) -> TileCache:
    return TileCache(tmp_path / "cache")


class Pauses(list[float]):
    """Remembers how long it was to wait, and waits hardly at all."""

    def __call__(self, seconds: float) -> None:
        self.append(seconds)


@pytest.fixture
def pauses() -> Pauses:
    return Pauses()


@pytest.fixture
def manner(pauses: Pauses) -> Manner:
    return Manner(timeout_s=6.0, tries=3, pause=pauses)


@pytest.fixture
def land() -> Callable[[Any, Any], Any]:
    return hills


@pytest.fixture
def tile_writer() -> Callable[..., Path]:
    return write_tile
