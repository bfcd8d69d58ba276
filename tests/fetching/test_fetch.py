"""Tiles over HTTP from a server that does what servers do: nothing half or wrong is ever kept."""

from __future__ import annotations

import hashlib
import socket
import threading
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from affine import Affine

from backbearing.base.errors import FetchError
from backbearing.fetching.download import Manner
from backbearing.fetching.fetch import TileState, by_another_machine, fetch, looked_up
from backbearing.fetching.source import Box, TileSource
from backbearing.fetching.tile_scheme import SCHEMES, Corner
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.reading.sources import Ground

if TYPE_CHECKING:
    from backbearing.fetching.cache import TileCache
    from backbearing.fetching.fetch import Progress

HERE = Corner(-32, 138)


def left(cache: TileCache) -> list[str]:
    """Names of all files of a cache."""
    return sorted(path.name for path in cache.folder.rglob("*") if path.is_file())


def one(served: Any, cache: TileCache, manner: Manner, corner: Corner = HERE, **more: Any) -> Any:
    (found,) = fetch([corner], served.source(**more), cache, manner=manner)
    return found


def test_tiles_come_whole_two_at_a_time_and_once(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    corners = [Corner(-32, lon) for lon in (137, 138, 139, 140)]
    originals = [served.tile(corner) for corner in corners]
    served.faults(Invented="slow")
    told: list[Progress] = []
    found = fetch(corners, served.source(), cache, told=told.append, manner=manner)
    assert [tile.state for tile in found] == [TileState.HERE] * 4
    for tile, original in zip(found, originals, strict=True):
        assert tile.path.read_bytes() == original.read_bytes()
    asked = served.requests
    assert [request["status"] for request in asked] == [200] * 4
    assert max(request["most_open"] for request in asked) == 2
    assert all(request["agent"].startswith("backbearing/") for request in asked)
    assert told[-1].done == told[-1].of == 4
    assert told[-1].got_bytes == sum(path.stat().st_size for path in originals)
    assert fetch(corners, served.source(), cache, manner=manner) == found
    assert len(served.requests) == 4
    assert left(cache) == sorted(path.name for path in originals)


def test_a_connection_that_breaks_goes_on_where_it_broke(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    original = served.tile(HERE)
    served.faults(Invented="drop once")
    found = one(served, cache, manner)
    assert found.state is TileState.HERE
    first, second = served.requests
    size = original.stat().st_size
    tag = hashlib.md5(original.read_bytes(), usedforsecurity=False).hexdigest()
    assert (first["range"], first["sent"]) == ("", size // 2)
    assert (second["range"], second["if_range"]) == (f"bytes={size // 2}-", f'"{tag}"')
    assert (second["status"], second["sent"]) == (206, size - size // 2)


def test_a_later_run_goes_on_too(served: Any, cache: TileCache, manner: Manner) -> None:
    original = served.tile(HERE)
    served.faults(Invented="drop always")
    found = one(served, cache, replace(manner, tries=1))
    size = original.stat().st_size
    assert found.state is TileState.FAILED
    assert f"the connection broke after {size // 2:,} of {size:,} bytes" in found.said
    assert left(cache) == [f"{original.name}.part", f"{original.name}.part.json"]
    served.faults()
    assert one(served, cache, manner).state is TileState.HERE
    assert served.requests[-1]["sent"] == size - size // 2
    assert left(cache) == [original.name]


@pytest.mark.parametrize("fault", ["changed", "changed unseen", "no piece", "other piece"])
def test_a_file_that_changed_meanwhile_is_fetched_from_the_beginning(
    served: Any, cache: TileCache, manner: Manner, fault: str
) -> None:
    # "Unseen": a server that takes no notice of If-Range and gives a piece of another version.
    original = served.tile(HERE)
    served.faults(Invented=fault)
    found = one(served, cache, manner)
    assert found.state is TileState.HERE
    assert found.path.read_bytes() == original.read_bytes()
    assert served.requests[-1]["status"] == 200
    assert served.requests[-1]["sent"] == original.stat().st_size


@pytest.mark.parametrize(
    ("fault", "said", "tries"),
    [
        ("wrong type", "the server gives text/html, which is no raster", 1),
        ("redirect elsewhere", "sends on to another one (http://localhost:9), which is not", 1),
        ("gzip", "the server packs the file anew (gzip), which was not asked for", 1),
        ("huge", "the server gives 100,000,000,000 bytes, more than such a tile has", 1),
        ("status 403", "the server refuses (403)", 1),
        ("status 500", "the server has trouble (500)", 3),
        ("busy long", "the server asks to be left alone for 86,400 seconds", 1),
        ("drop always", "the connection broke after", 3),
        ("cut short", "cannot be read as GTiff", 1),
    ],
)
def test_a_server_at_fault_gets_one_sentence_and_nothing_is_kept(
    served: Any, cache: TileCache, manner: Manner, fault: str, said: str, tries: int
) -> None:
    served.tile(HERE)
    served.faults(Invented=fault)
    found = one(served, cache, manner)
    assert found.state is TileState.FAILED
    assert found.path is None
    assert found.said.startswith("S32E138: ")
    assert said in found.said
    assert found.said.count("; it was not kept") <= 1
    assert len(served.requests) == tries
    assert not [name for name in left(cache) if not name.endswith((".part", ".part.json"))]


def test_a_bomb_is_not_taken_beyond_the_bound(
    served: Any, cache: TileCache, manner: Manner, monkeypatch: pytest.MonkeyPatch
) -> None:
    served.tile(HERE)
    served.faults(Invented="endless")
    monkeypatch.setattr("backbearing.fetching.source.NO_TILE_SIZE", 3_000_000)
    found = one(served, cache, manner)
    assert "the server gives more than 3,000,000 bytes, more than such a tile has" in found.said
    assert left(cache) == []
    # What lies in the lines between counts as sent; by far not all of 20 GB.
    assert served.requests == [] or served.requests[-1]["sent"] < 100_000_000


def test_a_hang_ends_in_a_sentence(served: Any, cache: TileCache, manner: Manner) -> None:
    served.tile(HERE)
    served.faults(Invented="hang")
    found = one(served, cache, replace(manner, timeout_s=0.3, tries=2))
    assert found.said == "the server 127.0.0.1 did not answer in time"


def test_a_server_that_never_says_a_word_is_not_asked_for_the_rest(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    corners = [Corner(-32, lon) for lon in range(130, 138)]
    served.faults(Invented="hang")
    began = time.monotonic()
    found = fetch(corners, served.source(), cache, manner=replace(manner, timeout_s=0.3, tries=2))
    assert {tile.state for tile in found} == {TileState.NO_SERVER}
    assert time.monotonic() - began < 4.0


def test_a_part_that_was_whole_when_its_run_was_killed_is_fetched_anew(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    original = served.tile(HERE)
    served.faults(Invented="drop always")
    one(served, cache, replace(manner, tries=1))
    (part,) = cache.folder.rglob("*.part")
    part.write_bytes(original.read_bytes())
    draft = part.with_name(f".999999999-{original.name}")
    draft.write_bytes(b"half")
    served.faults()
    assert one(served, cache, manner).state is TileState.HERE
    assert [request["status"] for request in served.requests] == [200, 416, 200]
    assert left(cache) == [original.name]


def test_a_raster_of_endless_cells_in_a_small_file_is_not_unpacked(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    path = served.tile(HERE)
    with rasterio.open(
        path, "w", driver="GTiff", width=200_000, height=200_000, count=1, dtype="float32",
        crs="EPSG:4326", tiled=True, blockxsize=4096, blockysize=4096, SPARSE_OK=True,
        transform=Affine(1 / 200_000, 0, 138.0, 0, -1 / 200_000, -31.0), compress="deflate",
    ):  # fmt: skip
        pass
    assert path.stat().st_size < 2_000_000
    found = one(served, cache, manner)
    assert "claims 200,000 x 200,000 cells, more than the 144,000,000 of such a tile" in found.said
    assert left(cache) == []


def test_busy_servers_are_waited_for_as_they_ask(
    served: Any, cache: TileCache, manner: Manner, pauses: list[float]
) -> None:
    served.tile(HERE)
    served.faults(Invented="busy")
    assert one(served, cache, manner).state is TileState.HERE
    assert [request["status"] for request in served.requests] == [429, 200]
    assert pauses == [3.0]


def test_a_redirect_on_the_same_host_is_followed(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    served.tile(HERE)
    served.faults(Invented="redirect here")
    assert one(served, cache, manner).state is TileState.HERE


def test_a_tile_that_is_absent_is_sea_only_where_the_source_says_so(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    served.tile(HERE)
    away = Corner(-33, 138)
    found = fetch([HERE, away], served.source(), cache, manner=manner)
    assert [tile.state for tile in found] == [TileState.HERE, TileState.MISSING]
    assert "does not say that it is sea" in found[1].said
    assert len(left(cache)) == 1


@pytest.mark.slow
def test_the_four_states_stay_apart(
    served: Any, cache: TileCache, manner: Manner, tile_writer: Any
) -> None:
    # A product that leaves the sea out, with one tile kept back: on the layout of the 90 m model.
    source = served.source(
        scheme=SCHEMES["copernicus 90"], absent="sea", not_released=(Box(-32, 139, -32, 139),)
    )
    name = Path(source.url(HERE)).name
    tile_writer(served.folder / name, HERE, rows=1200, cols=1200, void=True)
    corners = [HERE, Corner(-33, 138), Corner(-32, 139), Corner(-33, 139)]
    tile_writer(served.folder / Path(source.url(corners[3])).name, corners[3], rows=1200, cols=1200)
    found = fetch(corners, source, cache, manner=manner)
    assert [tile.state for tile in found] == [
        TileState.HERE, TileState.SEA, TileState.MISSING, TileState.HERE,
    ]  # fmt: skip
    ground = Elevation.open([tile.path for tile in found if tile.path])
    places = {
        Ground.KNOWN: (-31.8, 138.5),
        Ground.VOID: (-31.2, 138.5),
        Ground.SEA: (-32.5, 138.5),
        Ground.MISSING_TILE: (-31.5, 139.5),
        Ground.OUTSIDE: (-33.5, 138.5),
    }
    for state, (lat, lon) in places.items():
        assert ground.state_at(lat=lat, lon=lon) == state
        height = float(ground.height_at(lat=lat, lon=lon))
        assert np.isfinite(height) == (state is Ground.KNOWN)
    again = looked_up(corners, source, cache)
    assert [tile.state for tile in again] == [
        TileState.HERE, TileState.SEA, TileState.TO_FETCH, TileState.HERE,
    ]  # fmt: skip


def test_sea_of_a_source_whose_tiles_have_any_size_lies_as_its_land_does(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    served.tile(Corner(-32, 179))
    corners = [Corner(-32, 179), Corner(-32, -180)]
    found = fetch(corners, served.source(absent="sea"), cache, manner=manner)
    assert [tile.state for tile in found] == [TileState.HERE, TileState.SEA]
    ground = Elevation.open([tile.path for tile in found])
    assert ground.state_at(lat=-31.5, lon=179.5) == Ground.KNOWN
    assert ground.state_at(lat=-31.5, lon=-179.5) == Ground.SEA
    # The sea's first column is the land's next: between them the ground falls to the sea.
    last, half = 179.0 + 119.0 / 120.0, 0.5 / 120.0
    shore = float(ground.height_at(lat=-31.5, lon=last + half))
    assert shore == pytest.approx(0.5 * float(ground.height_at(lat=-31.5, lon=last)), rel=1e-3)


def a_page(path: Path) -> None:
    path.write_text("<html><body>Please sign in</body></html>")


def a_list_of_other_files(path: Path) -> None:
    secret = path.with_name("secret.tif")
    path.write_text(
        '<VRTDataset rasterXSize="120" rasterYSize="120"><SRS>EPSG:4326</SRS>'
        "<GeoTransform>137.99583, 0.0083333, 0, -30.99583, 0, -0.0083333</GeoTransform>"
        '<VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename>'
        f"{secret}</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"
    )


def half_of_itself(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def nothing(path: Path) -> None:
    path.write_bytes(b"")


def bytes_flipped(path: Path) -> None:
    data = bytearray(path.read_bytes())
    for i in range(len(data) // 3, len(data) // 3 + 400):
        data[i] ^= 0x5A
    path.write_bytes(bytes(data))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (a_page, "cannot be read as GTiff"),
        (a_list_of_other_files, "cannot be read as GTiff"),
        (half_of_itself, "cannot be read as GTiff"),
        (bytes_flipped, "cannot be read as GTiff"),
        (nothing, "the server gave an empty file"),
    ],
)
def test_a_file_that_is_no_whole_raster_is_not_kept(
    served: Any, cache: TileCache, manner: Manner, spoil: Any, said: str
) -> None:
    spoil(served.tile(HERE))
    found = one(served, cache, manner)
    assert found.state is TileState.FAILED
    assert said in found.said
    assert str(cache.folder) not in found.said
    assert left(cache) == []


def test_a_raster_of_another_place_or_shape_is_not_kept(
    served: Any, cache: TileCache, manner: Manner, tile_writer: Any
) -> None:
    name = served.tile(HERE).name
    tile_writer(served.folder / name, Corner(-31, 138), rows=120, cols=120)
    found = one(served, cache, manner)
    assert "holds the tile S31E138 and not S32E138: 120 x 120 cells" in found.said
    tile_writer(served.folder / name, HERE, rows=1200, cols=800)
    found = one(served, cache, manner, scheme=SCHEMES["copernicus 90"])
    assert "holds no tile of this product and not S32E138: 1200 x 800 cells" in found.said
    tile_writer(served.folder / name, HERE, rows=120, cols=120, heights=lambda *_: 9_500.0)
    assert "9,500 m, which no land has" in one(served, cache, manner).said
    tile_writer(served.folder / name, HERE, rows=120, cols=120, heights=lambda *_: 300.0)
    found = one(served, cache, manner, role="canopy")
    assert "300 m, which is no height of trees" in found.said
    assert left(cache) == []


@pytest.mark.parametrize("kind", ["md5", "sha256"])
def test_published_checksums_are_held_to(
    served: Any, cache: TileCache, manner: Manner, kind: str
) -> None:
    original = served.tile(HERE)
    template = served.template + f".{kind}"
    said = served.folder / f"{original.name}.{kind}"
    found = one(served, cache, manner, checksum=template)
    # Not sea, nor missing: the tile is there, and its sum is not.
    assert found.state is TileState.FAILED
    assert "its published checksum cannot be had" in found.said
    made = hashlib.new(kind, original.read_bytes()).hexdigest()
    said.write_text(f"{'0' * len(made)}  {original.name}\n")
    found = one(served, cache, manner, checksum=template)
    assert "differs from its published checksum; it was not kept" in found.said
    assert left(cache) == []
    said.write_text(f"{made.upper()}  {original.name}\n")
    assert one(served, cache, manner, checksum=template).state is TileState.HERE


def test_two_runs_at_once_fetch_a_tile_once(served: Any, cache: TileCache, manner: Manner) -> None:
    original = served.tile(HERE)
    served.faults(Invented="slow")
    manner = Manner(timeout_s=5.0, tries=1)
    found: list[Any] = []
    runs = [
        threading.Thread(target=lambda: found.append(one(served, cache, manner))) for _ in range(2)
    ]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert [tile.state for tile in found] == [TileState.HERE] * 2
    assert len(served.requests) == 1
    assert left(cache) == [original.name]


def test_a_lock_that_a_dead_run_left_does_not_hold(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    served.tile(HERE)
    source = served.source()
    cache.made_home(source)
    place = cache.place(source, HERE)
    place.with_name(f"{place.name}.lock").write_text("999999999")
    assert one(served, cache, manner).state is TileState.HERE


def test_without_a_network_the_rest_is_not_tried(
    cache: TileCache, manner: Manner, pauses: list[float]
) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    source = TileSource(
        "gone", f"http://127.0.0.1:{port}/{{NS}}{{lat}}{{EW}}{{lon}}.tif", SCHEMES["one degree"]
    )
    corners = [Corner(10, lon) for lon in range(6)]
    found = fetch(corners, source, cache, manner=manner)
    assert {tile.state for tile in found} == {TileState.NO_SERVER}
    assert {tile.said for tile in found} == {
        "the server 127.0.0.1 cannot be reached (Connection refused)"
    }
    assert pauses == []
    assert next(by_another_machine(found, source)) == (
        "N10E000.tif", f"http://127.0.0.1:{port}/N10E000.tif",
    )  # fmt: skip


def test_too_many_tiles_and_sources_without_an_address_are_refused(cache: TileCache) -> None:
    corners = [Corner(lat, lon) for lat in range(21) for lon in range(20)]
    source = TileSource("x", "http://127.0.0.1:9/{NS}{lat}{EW}{lon}.tif", SCHEMES["one degree"])
    with pytest.raises(FetchError, match="420 tiles are wanted, and at most 400 are fetched"):
        fetch(corners, source, cache)
    with pytest.raises(FetchError, match="only taken by hand; download them, then add --from"):
        fetch(corners[:1], replace(source, template=""), cache)


def test_a_full_disk_is_said(
    served: Any, cache: TileCache, manner: Manner, monkeypatch: pytest.MonkeyPatch
) -> None:
    served.tile(HERE)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    found = one(served, cache, manner)
    assert "the disk is full; what was fetched of it was taken away" in found.said
    assert left(cache) == []


def test_a_run_stopped_by_hand_ends_soon_and_keeps_its_part(
    served: Any, cache: TileCache, manner: Manner
) -> None:
    original = served.tile(HERE, size=600, heights=rough)
    served.faults(Invented="slow")

    def stop(now: Progress) -> None:
        if now.got_bytes > 50_000:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fetch([HERE], served.source(), cache, told=stop, manner=manner)
    assert left(cache) == [f"{original.name}.part", f"{original.name}.part.json"]
    served.faults()
    assert one(served, cache, manner).state is TileState.HERE
    assert 0 < served.requests[-1]["sent"] < original.stat().st_size


def rough(lat: Any, lon: Any) -> Any:
    """Land that hardly packs."""
    shape = np.broadcast_shapes(np.shape(lat), np.shape(lon))
    return np.random.default_rng(1).uniform(0.0, 500.0, shape)
