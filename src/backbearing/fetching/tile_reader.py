"""A tile read by the window: from its file, or from the server without fetching the rest of it."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from backbearing.base.errors import FetchError, TerrainError
from backbearing.fetching.answer import Part, ServerError, Trouble, asked
from backbearing.fetching.download import Manner, tried
from backbearing.fetching.tile_check import corner_of
from backbearing.terrain.grid import Grid
from backbearing.terrain.reading.files import ReadingOptions, check_size, open_file
from backbearing.terrain.reading.sources import WATER_LEVEL_M, check_plausible, find_voids

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.fetching.source import TileSource
    from backbearing.fetching.tile_scheme import Corner
    from backbearing.terrain.reading.sources import Heights

LOOK_BYTES: Final = 16


class TileReader(Protocol):
    """Something that gives the heights of a tile, row and column counted in the tile."""

    def read(self, rows: slice, cols: slice) -> Heights:
        """Heights in metres, NaN where unknown, ``WATER_LEVEL_M`` on open sea."""


class Sea:
    """Open sea where a product has no tile."""

    def read(self, rows: slice, cols: slice) -> Heights:
        """Give its level everywhere."""
        return np.full((rows.stop - rows.start, cols.stop - cols.start), WATER_LEVEL_M)


class Nothing:
    """A tile that is missing."""

    def read(self, rows: slice, cols: slice) -> Heights:
        """Give no height anywhere."""
        return np.full((rows.stop - rows.start, cols.stop - cols.start), np.nan, np.float32)


class _Remote:
    """A cloud-optimised tile on a server."""

    def __init__(self, data: Any, named: str) -> None:
        self._data = data
        self._named = named

    def read(self, rows: slice, cols: slice) -> Heights:
        from rasterio.windows import Window

        window = Window(cols.start, rows.start, cols.stop - cols.start, rows.stop - rows.start)
        with _worded(f"{self._named}: the server broke off, or the tile is damaged"):
            raw = self._data.read(1, window=window)
        nodata = self._data.nodata
        void = find_voids(raw, () if nodata is None else (nodata,), None, self._named)
        heights: Heights = raw.astype(np.float32)
        heights[void] = np.nan
        heights += np.float32(0.0)
        check_plausible(heights, self._named)
        return heights


def of_file(path: Path) -> TileReader:
    """Read from a tile's file."""
    return open_file(path, ReadingOptions())


@contextmanager
def of_server(source: TileSource, corner: Corner, manner: Manner) -> Iterator[TileReader]:
    """Read from a tile on its server, by range requests for the blocks needed.

    Before the raster library asks, one request of our own holds the server to the rules of
    :mod:`.answer`: no other host, a raster's content type, no larger than such a tile, pieces
    given on request. A tile that is absent is sea or nothing, as the source says.

    Raises
    ------
    FetchError
        In a sentence, why it cannot be read so.
    """
    url = source.url(corner)
    try:
        tried(lambda: _looked_at(url, source.most_bytes(corner), manner), manner)
    except ServerError as problem:
        if problem.kind is Trouble.ABSENT:
            yield Sea() if source.is_sea(corner) else Nothing()
            return
        hint = (
            "leave --window out to see the files to bring"
            if problem.kind is Trouble.UNREACHABLE
            else ()
        )
        raise FetchError(f"{corner.name}: {problem.said}", hint=hint) from problem
    with _opened(url, manner) as data:
        check_size(data, corner.name)
        if data.count != 1:
            raise FetchError(f"{corner.name}: the server gives {data.count} bands, not heights")
        if corner_of(_grid_of(data, corner), source) != corner:
            raise FetchError(f"{corner.name}: what the server gives is not this tile")
        yield _Remote(data, corner.name)


def _looked_at(url: str, most_bytes: int, manner: Manner) -> None:
    with asked(url, Part(stop=LOOK_BYTES - 1), manner.timeout_s) as answer:
        if not answer.partial:
            raise ServerError(
                "the server gives whole files only; fetch whole tiles without --window"
            )
        if answer.total is None or answer.total > most_bytes:
            raise ServerError("the server's file has no size that such a tile has")


def _grid_of(data: Any, corner: Corner) -> Grid:
    from pyproj import CRS

    if not data.crs:
        raise FetchError(f"{corner.name}: what the server gives names no reference system")
    try:
        crs = CRS.from_wkt(data.crs.to_wkt()).to_2d()
        return Grid((data.height, data.width), data.transform, crs)
    except TerrainError as problem:
        raise FetchError(f"{corner.name}: {problem}") from problem


@contextmanager
def _opened(url: str, manner: Manner) -> Iterator[Any]:
    """Open a raster on a server with the one driver for it and few requests."""
    import rasterio

    settings = {
        "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
        "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".tif,.tiff",
        "GDAL_HTTP_TIMEOUT": round(manner.timeout_s) or 1,
        "GDAL_HTTP_CONNECTTIMEOUT": round(manner.timeout_s) or 1,
        "GDAL_HTTP_MAX_RETRY": max(manner.tries - 1, 0),
        "GDAL_HTTP_RETRY_DELAY": 1,
    }
    with rasterio.Env(**settings):
        with _worded(f"{url} cannot be opened as a GeoTIFF"):
            data = rasterio.open(f"/vsicurl/{url}", driver="GTiff")
        with data:
            yield data


@contextmanager
def _worded(said: str) -> Iterator[None]:
    """Turn the raster library's failures, which share no base, into a sentence."""
    try:
        yield
    except Exception as problem:
        if not type(problem).__module__.startswith("rasterio"):
            raise
        raise FetchError(said, hint="try again, or fetch whole tiles without --window") from problem
