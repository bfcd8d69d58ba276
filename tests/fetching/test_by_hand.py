"""Tiles brought by hand: known by name and content, and nothing an archive says is obeyed."""

from __future__ import annotations

import io
import tarfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio

from backbearing.base.errors import FetchError
from backbearing.fetching import by_hand
from backbearing.fetching.by_hand import take
from backbearing.fetching.source import BUILT_IN, TileSource
from backbearing.fetching.tile_scheme import SCHEMES, Corner
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.fetching.cache import TileCache

ONE = Corner(-32, 138)
TWO = Corner(36, -85)
OURS = TileSource("ours", "http://127.0.0.1:9/our_{NS}{lat}{EW}{lon}.tif", SCHEMES["one degree"])
SOURCES = (OURS, *BUILT_IN)


@pytest.fixture
def brought(tmp_path: Path, tile_writer: Callable[..., Path]) -> Path:
    """A folder with two tiles, a page of words, and what is none of them."""
    folder = tmp_path / "downloads"
    tile_writer(folder / "deep" / "our_S32E138.tif", ONE, rows=100, cols=100)
    tile_writer(folder / "renamed.tif", TWO, rows=100, cols=100)
    (folder / "readme.txt").write_text("hello")
    return folder


def zipped(folder: Path, to: Path) -> Path:
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(folder.rglob("*.*")):
            archive.write(path, path.relative_to(folder))
    return to


def tarred(folder: Path, to: Path) -> Path:
    with tarfile.open(to, "w:gz") as archive:
        archive.add(folder, "things")
    return to


@pytest.mark.parametrize(
    "packed",
    [
        lambda folder, _: folder,
        lambda folder, to: zipped(folder, to / "tiles.zip"),
        lambda folder, to: tarred(folder, to / "tiles.tar.gz"),
    ],
)
def test_tiles_are_found_in_folders_and_archives(
    brought: Path, tmp_path: Path, cache: TileCache, packed: Any
) -> None:
    named = packed(brought, tmp_path)
    source, taken = take(named, SOURCES, cache)
    assert source is OURS
    assert set(taken.corners) == {ONE, TWO}
    assert taken.refused == ()
    assert taken.passed_over == 1
    assert {path.name for path in cache.folder.rglob("*") if path.is_file()} == {
        "our_S32E138.tif", "our_N36W085.tif",
    }  # fmt: skip
    original = brought / "deep" / "our_S32E138.tif"
    assert cache.place(OURS, ONE).read_bytes() == original.read_bytes()
    assert original.exists()


def test_a_folder_of_tiles_that_are_packed_each_by_itself(
    brought: Path, tmp_path: Path, cache: TileCache
) -> None:
    folder = tmp_path / "packed"
    folder.mkdir()
    for name in ("deep/our_S32E138.tif", "renamed.tif"):
        with zipfile.ZipFile(folder / f"{Path(name).stem}.zip", "w") as archive:
            archive.write(brought / name, Path(name).name)
    (folder / "no.zip").write_text("hello")
    _, taken = take(folder, SOURCES, cache)
    assert set(taken.corners) == {ONE, TWO}


def test_a_whole_tile_of_the_open_model_is_known_by_its_layout(
    tmp_path: Path, cache: TileCache, tile_writer: Callable[..., Path]
) -> None:
    # 53 N: 800 columns in the 90 m model, by its readme's table.
    tile_writer(tmp_path / "in" / "x.tif", Corner(53, -115), rows=1200, cols=800)
    source, taken = take(tmp_path / "in", BUILT_IN, cache)
    assert source is not None
    assert source.name == "copernicus 90"
    assert taken.corners == (Corner(53, -115),)
    assert cache.place(source, taken.corners[0]).name == (
        "Copernicus_DSM_COG_30_N53_00_W115_00_DEM.tif"
    )


def test_posts_of_hgt_files_are_taken_and_read(tmp_path: Path, cache: TileCache) -> None:
    # 1201 rows of 1201 big-endian heights from north, the layout of the format's own document
    # (SRTM_Topo.txt of the USGS; from memory).
    heights = np.full((1201, 1201), 250, dtype=">i2")
    heights[0, 0] = 777
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "S32E138.hgt").write_bytes(heights.tobytes())
    source, taken = take(folder, SOURCES, cache)
    assert source is not None
    assert (source.name, taken.corners) == ("srtm", (ONE,))
    ground = Elevation.open(cache.place(source, ONE))
    assert float(ground.height_at(lat=-31.0, lon=138.0)) == pytest.approx(777.0)


@pytest.mark.parametrize(
    ("name", "corner", "said"),
    [
        ("our_S33E138.tif", ONE, "our_S33E138.tif says S33E138 and holds S32E138; it was not kept"),
        ("our_S32E138.tif", Corner(-32, 139), "says S32E138 and holds S32E139"),
    ],
)
def test_a_name_that_lies_is_refused(
    tmp_path: Path, cache: TileCache, tile_writer: Any, name: str, corner: Corner, said: str
) -> None:
    tile_writer(tmp_path / "in" / name, corner, rows=100, cols=100)
    source, taken = take(tmp_path / "in", SOURCES, cache)
    assert source is None
    assert said in taken.refused[0]
    assert not [path for path in cache.folder.rglob("*") if path.is_file()]


def test_what_is_no_tile_gets_a_sentence_each(
    tmp_path: Path, cache: TileCache, tile_writer: Any
) -> None:
    folder = tmp_path / "in"
    tile_writer(folder / "a_good.tif", ONE, rows=100, cols=100)
    (folder / "b_page.tif").write_text("<html></html>")
    tile_writer(folder / "c_half.tif", ONE, rows=100, cols=100)
    whole = (folder / "c_half.tif").read_bytes()
    (folder / "c_half.tif").write_bytes(whole[: len(whole) // 2])
    with rasterio.open(folder / "a_good.tif") as whole_tile:
        piece = whole_tile.profile | {"width": 50}
        with rasterio.open(folder / "d_piece.tif", "w", **piece) as out:
            out.write(whole_tile.read(1)[:, :50], 1)
    (folder / "e_link.tif").symlink_to(folder / "a_good.tif")
    _, taken = take(folder, SOURCES, cache)
    assert taken.corners == (ONE,)
    said = "\n".join(taken.refused)
    assert len(taken.refused) == 4
    assert "b_page.tif cannot be read as GTiff" in said
    assert "c_half.tif cannot be read as GTiff" in said
    assert "e_link.tif is a link" in said
    assert str(cache.folder) not in said


def test_paths_and_links_of_an_archive_lead_nowhere(
    tmp_path: Path, cache: TileCache, brought: Path
) -> None:
    content = (brought / "renamed.tif").read_bytes()
    escape = "../../../escaped_N36W085.tif"
    named = tmp_path / "a.zip"
    with zipfile.ZipFile(named, "w") as archive:
        archive.writestr(escape, content)
        link = zipfile.ZipInfo("link_N36W085.tif")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/passwd")
    _, taken = take(named, SOURCES, cache)
    assert taken.corners == (TWO,)
    assert taken.refused == ("link_N36W085.tif is a link; put the file itself there",)
    other = tmp_path / "a.tar"
    with tarfile.open(other, "w") as packed:
        member = tarfile.TarInfo(escape)
        member.size = len(content)
        packed.addfile(member, io.BytesIO(content))
        for kind in (tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.FIFOTYPE, tarfile.CHRTYPE):
            member = tarfile.TarInfo(f"odd{kind.decode()}_N36W085.tif")
            member.type, member.linkname = kind, "/etc/passwd"
            packed.addfile(member)
    _, taken = take(other, SOURCES, cache)
    assert taken.corners == (TWO,)
    assert len(taken.refused) == 4
    assert not list(tmp_path.parent.rglob("escaped*"))
    assert not list(cache.folder.rglob("escaped*"))


def test_a_bomb_is_unpacked_up_to_the_bound_only(
    tmp_path: Path, cache: TileCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    named = tmp_path / "bomb.zip"
    with zipfile.ZipFile(named, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("N36W085.tif", bytes(40_000_000))
    monkeypatch.setattr("backbearing.fetching.source.NO_TILE_SIZE", 5_000_000)
    most = 0
    copied = by_hand._pieces

    def counted(*asked: Any) -> Any:
        nonlocal most
        for piece in copied(*asked):
            most += len(piece)
            yield piece

    monkeypatch.setattr(by_hand, "_pieces", counted)
    source, taken = take(named, (OURS,), cache)
    assert source is None
    assert "holds more than 5,000,000 bytes, more than such a tile has" in taken.refused[0]
    assert most < 7_000_000
    assert not [path for path in cache.folder.rglob("*") if path.is_file()]


@pytest.mark.parametrize("cut", [0.3, 0.9])
@pytest.mark.parametrize("kind", ["zip", "tar.gz"])
def test_archives_that_are_cut_short_or_spoilt_get_a_sentence(
    brought: Path, tmp_path: Path, cache: TileCache, kind: str, cut: float
) -> None:
    make = zipped if kind == "zip" else tarred
    named = make(brought, tmp_path / f"tiles.{kind}")
    data = named.read_bytes()
    named.write_bytes(data[: int(len(data) * cut)])
    said = ""
    try:
        _, taken = take(named, SOURCES, cache)
        said = "; ".join(taken.refused)
    except FetchError as problem:
        said = str(problem)
    assert said or kind == "tar.gz"
    assert str(cache.folder) not in said
    for path in cache.folder.rglob("*.tif"):
        assert np.isfinite(Elevation.open(path).heights_m).all()


@pytest.mark.parametrize("name", ["words.txt", "none.zip"])
def test_what_is_no_archive_is_refused(tmp_path: Path, cache: TileCache, name: str) -> None:
    named = tmp_path / name
    named.write_text("hello")
    with pytest.raises(FetchError, match="is no folder, zip or tar; name one that holds tiles"):
        take(named, SOURCES, cache)
    with pytest.raises(FetchError, match=r"There is nothing at .*; name a folder, a zip or a tar"):
        take(tmp_path / "gone", SOURCES, cache)
