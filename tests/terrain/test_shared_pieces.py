"""Pieces shared by files: the same answers to the last bit, each cell of the raster read once."""

from __future__ import annotations

import dataclasses
import errno
import os
import sys
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from affine import Affine

from backbearing.base.parallel import as_finished
from backbearing.terrain import TerrainWarning
from backbearing.terrain import chunks as chunks_module
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.piece_folder import PieceFolder
from backbearing.terrain.reading.files import FileSource
from backbearing.terrain.shared_pieces import close_pieces, shared_pieces, with_shared_pieces

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

NORTH, WEST, CELL = 36.5, -84.5, 1.0 / 1200.0
ROWS, COLS, PIECE = 150, 210, 48

pytestmark = pytest.mark.filterwarnings("ignore:.*holds 1 cells of -9999")


@pytest.fixture(scope="module")
def raster(rough: Callable[..., np.ndarray], tmp_path_factory: Any) -> Path:
    """Hills with voids, open water, a mark of voids that is not declared, in two tiles."""
    folder = tmp_path_factory.mktemp("ground")
    z = rough(ROWS, COLS, relief_m=900.0, seed=4).round().astype(np.int16)
    z[20:28, 60:90] = -32768
    z[100:110, 10:40] = -500
    z[140, 200] = -9999
    for name, cols in (("a.tif", slice(0, 100)), ("b.tif", slice(100, COLS))):
        part = z[:, cols]
        place = Affine(CELL, 0, WEST + cols.start * CELL, 0, -CELL, NORTH)
        with rasterio.open(
            folder / name, "w", driver="GTiff", height=ROWS, width=part.shape[1], count=1,
            dtype="int16", nodata=-32768, crs="EPSG:4326", transform=place,
        ) as data:  # fmt: skip
            data.write(part, 1)
            data.update_tags(OPEN_WATER_VALUE=-500)
    return folder


@pytest.fixture(autouse=True)
def small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chunks_module, "PIECE", PIECE)
    monkeypatch.setattr(chunks_module, "WHOLE_UP_TO", 0)
    monkeypatch.setattr(chunks_module, "KEEP_BYTES", 40_000)


@pytest.fixture
def cells_read(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many cells each look into a file asked for."""
    plain, found = FileSource.read, []

    def read(self: FileSource, rows: slice, cols: slice) -> Any:
        found.append((rows.stop - rows.start) * (cols.stop - cols.start))
        return plain(self, rows, cols)

    monkeypatch.setattr(FileSource, "read", read)
    return found


def opened(raster: Path) -> Elevation:
    return Elevation.open(raster)


def answers(ground: Elevation) -> list[np.ndarray]:
    """Heights, states, a window, skylines of many eyes and of one."""
    rng = np.random.default_rng(5)
    lat = rng.uniform(NORTH - CELL * ROWS, NORTH, 60)
    lon = rng.uniform(WEST, WEST + CELL * COLS, 60)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", TerrainWarning)
        seen = ground.skylines(lat=lat, lon=lon, azimuths_deg=rng.uniform(0, 360, 60))
        around = ground.horizon(lat=NORTH - 70.5 * CELL, lon=WEST + 120.5 * CELL)
        found = [
            ground.height_at(lat=lat, lon=lon),
            ground.state_at(lat=lat, lon=lon),
            ground.window_m(slice(30, 120), slice(40, 200)),
        ]
    for one in (seen, around):
        columns = [getattr(one, field.name) for field in dataclasses.fields(one)]
        found += [column for column in columns if isinstance(column, np.ndarray)]
    return found


@pytest.fixture(scope="module")
def plain(raster: Path) -> Iterator[list[np.ndarray]]:
    patch = pytest.MonkeyPatch()
    patch.setattr(chunks_module, "PIECE", PIECE)
    patch.setattr(chunks_module, "WHOLE_UP_TO", 0)
    yield answers(opened(raster))
    patch.undo()


def same(found: list[np.ndarray], wanted: list[np.ndarray]) -> None:
    assert len(found) == len(wanted) > 10
    for one, two in zip(found, wanted, strict=True):
        np.testing.assert_array_equal(one, two)
        # The sign of zero marks open water.
        if two.dtype.kind == "f":
            np.testing.assert_array_equal(np.signbit(one), np.signbit(two))


def read_all(ground: Elevation) -> None:
    down, across = ground._chunks.count
    for i in range(down):
        for j in range(across):
            ground._chunks.at(i, j)


def test_answers_are_those_of_the_raster_and_each_cell_is_read_once(
    raster, plain, tmp_path, cells_read
):
    with shared_pieces(opened(raster), keep=False, many=2, home=tmp_path) as ground:
        same(answers(ground), plain)
        read_all(ground)
        assert sum(cells_read) == ROWS * COLS
    assert list(tmp_path.iterdir()) == []


def test_what_one_has_read_another_finds(raster, plain, tmp_path, cells_read):
    first, second = (with_shared_pieces(opened(raster), home=tmp_path) for _ in range(2))
    read_all(first)
    cells_read.clear()
    same(answers(second), plain)
    assert cells_read == []
    close_pieces(first, remove=True)
    assert len(list(tmp_path.iterdir())) == 1, "the second has it open"
    close_pieces(second, remove=False)
    with pytest.warns(TerrainWarning, match="-9999"):
        third = with_shared_pieces(opened(raster), home=tmp_path)
    same(answers(third), plain)
    assert cells_read == []
    close_pieces(third, remove=True)
    assert list(tmp_path.iterdir()) == []
    same(answers(third), plain)


@pytest.mark.skipif(sys.platform != "linux", reason="only there processes fork")
def test_processes_side_by_side_read_no_cell_twice(raster, tmp_path, cells_read):
    ground = with_shared_pieces(opened(raster), home=tmp_path)
    down, across = ground._chunks.count
    places = [(i, j) for i in range(down) for j in range(across)] * 2

    def work(place: tuple[int, int]) -> int:
        before = sum(cells_read)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", TerrainWarning)
            ground._chunks.at(*place)
        return sum(cells_read) - before

    assert sum(read for _, read in as_finished(work, places, processes=2)) == ROWS * COLS
    close_pieces(ground, remove=True)


def test_the_folder_holds_no_more_than_it_may(raster, plain, tmp_path):
    most = 6 * 4 * (PIECE + 1) ** 2
    ground = with_shared_pieces(opened(raster), home=tmp_path, most_bytes=most)
    store = ground._source.store
    largest = 0
    down, across = ground._chunks.count
    for place in [(i, j) for i in range(down) for j in range(across)] * 2:
        ground._chunks.at(*place)
        largest = max(largest, sum(size for _, size, _ in store.folder.files()))
    assert most / 2 < largest <= most
    same(answers(ground), plain)


def test_a_file_cut_short_is_made_again(raster, plain, tmp_path):
    first = with_shared_pieces(opened(raster), home=tmp_path)
    read_all(first)
    for path in first._source.store.folder.folder.glob("*-0001-*"):
        os.truncate(path, 100)
    second = with_shared_pieces(opened(raster), home=tmp_path)
    same(answers(second), plain)


def test_another_date_of_a_file_is_another_raster(raster, tmp_path):
    first = with_shared_pieces(opened(raster), home=tmp_path)
    changed = (raster / "a.tif").stat().st_mtime_ns + 1_000_000_000
    os.utime(raster / "a.tif", ns=(changed, changed))
    second = with_shared_pieces(opened(raster), home=tmp_path)
    assert first._source.store.folder.folder != second._source.store.folder.folder


def test_a_folder_that_cannot_be_made_is_told_and_done_without(raster, plain, tmp_path):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    raw = opened(raster)
    with pytest.warns(TerrainWarning, match=r"cannot be kept in .*file") as said:
        ground = with_shared_pieces(raw, home=tmp_path / "file")
    assert len(said) == 1
    assert ground is raw


def test_a_disk_that_is_full_is_told_once_and_the_raster_is_read(
    raster, plain, tmp_path, monkeypatch
):
    ground = with_shared_pieces(opened(raster), home=tmp_path)
    written, room = [], PieceFolder._make_room

    def full(self: PieceFolder, more: int) -> None:
        written.append(more)
        if len(written) > 4:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        room(self, more)

    monkeypatch.setattr(PieceFolder, "_make_room", full)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        read_all(ground)
    told = [str(one.message) for one in said if "cannot be kept" in str(one.message)]
    assert len(told) == 1
    assert "No space left on device" in told[0]
    assert len(written) == 5
    same(answers(ground), plain)
    assert not list(ground._source.store.folder.folder.glob(".draft-*"))


def test_what_is_in_memory_or_asked_once_is_left_as_it_is(raster, tmp_path):
    flat = Elevation.from_array(np.ones((9, 9)), Affine(1, 0, 0, 0, -1, 9), "EPSG:32632")
    assert with_shared_pieces(flat, home=tmp_path) is flat
    once = opened(raster)
    with shared_pieces(once, keep=False, many=1, home=tmp_path) as ground:
        assert ground is once


@pytest.mark.parametrize("form", ["rows of one file", "rows of two tiles", "squares"])
def test_wide_blocks_are_unpacked_once_for_all_patches_beside_one_another(
    form, raster, plain, tmp_path, cells_read
):
    folder = tmp_path / "raster"
    folder.mkdir()
    with rasterio.open(raster / "a.tif") as one, rasterio.open(raster / "b.tif") as two:
        parts, profile = (one.read(1), two.read(1)), dict(one.profile)
    whole = np.concatenate(parts, axis=1)
    profile |= {"tiled": False}
    if form == "squares":
        profile |= {"tiled": True, "blockxsize": 16, "blockysize": 16}
    across = [whole] if form != "rows of two tiles" else [whole[:, :120], whole[:, 120:]]
    for k, part in enumerate(across):
        place = Affine(CELL, 0, WEST + k * 120 * CELL, 0, -CELL, NORTH)
        profile |= {"width": part.shape[1], "transform": place}
        with rasterio.open(folder / f"{k}.tif", "w", **profile) as data:
            data.write(part, 1)
            data.update_tags(OPEN_WATER_VALUE=-500)
    ground = with_shared_pieces(Elevation.open(folder), home=tmp_path / "home")
    read_all(ground)
    assert sum(cells_read) == ROWS * COLS
    # A look into a file unpacks whole rows of it: few looks, and each down only once.
    most = {"rows of one file": 4, "rows of two tiles": 8, "squares": 20}[form]
    assert len(cells_read) == most
    same(answers(ground), plain)
