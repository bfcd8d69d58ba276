"""A piece cut out of tiles: the same ground, over seams, steps of width and sea."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.base.errors import FetchError, WriteRefusedError
from backbearing.fetching.fetch import TileState, fetch, looked_up
from backbearing.fetching.outing_ground import files_to_write
from backbearing.fetching.reach import Highest, SkylineReach
from backbearing.fetching.report import GroundReport
from backbearing.fetching.tile_scheme import SCHEMES, Corner, tiles_about
from backbearing.fetching.window import write_window
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.reading.sources import Ground

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.fetching.cache import TileCache
    from backbearing.fetching.download import Manner

SCHEME = SCHEMES["copernicus 90"]
REACH = SkylineReach(0.0, Highest(1000.0, "so it is"))


@pytest.fixture
def about(served: Any, cache: TileCache, tile_writer: Any) -> Callable[..., GroundReport]:
    """Serve the tiles about a place, those left out aside, and report on them."""

    def make(lat: float, lon: float, within_m: float, without: tuple[Corner, ...] = ()) -> Any:
        source = served.source(scheme=SCHEME, absent="sea")
        corners = tiles_about(lat=lat, lon=lon, within_m=within_m)
        for corner in corners:
            if corner not in without:
                name = Path(source.url(corner)).name
                tile_writer(served.folder / name, corner, rows=1200, cols=SCHEME.cols(corner))
        tiles = looked_up(corners, source, cache)
        return GroundReport(lat, lon, within_m, REACH, source, tiles, cache)

    return make


def circle(lat: float, lon: float, radius_m: float) -> list[dict[str, float]]:
    """Places about a place."""
    turns = np.radians(np.arange(0.0, 360.0, 20.0))
    per_lon = 111_320.0 * math.cos(math.radians(lat))
    return [
        {
            "lat": lat + radius_m * float(np.cos(turn)) / 111_000.0,
            "lon": lon + radius_m * float(np.sin(turn)) / per_lon,
        }
        for turn in turns
    ]


@pytest.mark.parametrize(
    ("lat", "lon"),
    # Within a tile; over the step of width at 50 N, where tiles of 800 and 1200 columns meet, at a
    # whole degree of longitude; over 60 S, where 600 and 800 do; across 180.
    [(-31.5, 138.5), (50.001, 7.002), (-59.999, 20.5), (12.3, 179.999)],
)
def test_heights_are_those_of_the_land_everywhere(
    about: Any, land: Any, tmp_path: Path, manner: Manner, lat: float, lon: float
) -> None:
    report = about(lat, lon, 6e3)
    piece = write_window(report, tmp_path / "piece.tif", from_server=True, manner=manner)
    ground = Elevation.open(piece.path)
    assert piece.missing == ()
    assert np.isfinite(ground.heights_m).all()
    for radius_m in (0.0, 80.0, 1500.0, 5900.0):
        for place in circle(lat, lon, radius_m):
            # Between columns of 90 to 180 m on waves of some 16 to 60 km: centimetres off.
            assert float(ground.height_at(**place)) == pytest.approx(
                float(land(np.float64(place["lat"]), np.float64(place["lon"]))), abs=0.4
            )


@pytest.mark.slow
def test_a_piece_of_fetched_tiles_is_the_tiles_to_the_last_bit(
    about: Any, cache: TileCache, tmp_path: Path, manner: Manner
) -> None:
    report = about(-31.002, 138.003, 5e3)
    streamed = write_window(report, tmp_path / "one.tif", from_server=True, manner=manner)
    tiles = fetch([one.corner for one in report.tiles], report.source, cache, manner=manner)
    kept = write_window(replace(report, tiles=tiles), tmp_path / "two.tif", from_server=False)
    one, two = Elevation.open(streamed.path), Elevation.open(kept.path)
    assert one.heights_m.tobytes() == two.heights_m.tobytes()
    assert one.transform == two.transform
    whole = Elevation.open([tile.path for tile in tiles if tile.path])
    places = circle(-31.002, 138.003, 3000.0)
    for place in places:
        assert float(one.height_at(**place)) == pytest.approx(
            float(whole.height_at(**place)), abs=1e-3
        )


def test_sea_stays_sea_and_missing_stays_missing(
    about: Any, tmp_path: Path, manner: Manner
) -> None:
    west = Corner(-32, 137)
    report = about(-31.5, 138.001, 4e3, without=(west,))
    sea, land = {"lat": -31.5, "lon": 137.98}, {"lat": -31.5, "lon": 138.02}
    piece = write_window(report, tmp_path / "sea.tif", from_server=True, manner=manner)
    ground = Elevation.open(piece.path)
    assert ground.state_at(**sea) == Ground.SEA
    assert ground.state_at(**land) == Ground.KNOWN
    assert np.isnan(ground.height_at(**sea))
    report = replace(report, source=replace(report.source, absent="missing"))
    piece = write_window(report, tmp_path / "gap.tif", from_server=True, manner=manner)
    assert piece.missing == (west,)
    ground = Elevation.open(piece.path)
    assert ground.state_at(**sea) == Ground.VOID
    assert ground.state_at(**land) == Ground.KNOWN


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("no ranges", "the server gives whole files only; fetch whole tiles without --window"),
        ("redirect elsewhere", "sends on to another one"),
        ("wrong type", "the server gives text/html, which is no raster"),
        ("status 403", "the server refuses (403)"),
    ],
)
def test_a_server_at_fault_gets_one_sentence_and_nothing_is_written(
    about: Any, served: Any, tmp_path: Path, manner: Manner, fault: str, said: str
) -> None:
    report = about(-31.5, 138.5, 3e3)
    served.faults(Invented=fault)
    with pytest.raises(FetchError, match="S32E138: ") as problem:
        write_window(report, tmp_path / "piece.tif", from_server=True, manner=manner)
    assert said in str(problem.value)
    assert not list(tmp_path.glob("*piece*"))


@pytest.mark.parametrize("fault", ["hang later", "drop later"])
def test_a_server_that_fails_between_pieces_ends_in_a_sentence(
    about: Any, served: Any, tmp_path: Path, manner: Manner, fault: str
) -> None:
    report = about(-35.5, 143.5, 3e3)
    served.faults(Invented=fault)
    manner = replace(manner, tries=1, timeout_s=1.0)
    began = time.monotonic()
    with pytest.raises(FetchError, match="try again, or fetch whole tiles without --window"):
        write_window(report, tmp_path / "piece.tif", from_server=True, manner=manner)
    assert time.monotonic() - began < 15.0
    assert not list(tmp_path.glob("*piece*"))


def test_where_no_tile_of_land_is_found_nothing_is_taken_for_sea(
    about: Any, served: Any, cache: TileCache, tmp_path: Path, manner: Manner
) -> None:
    # A template with a slip in it: the server has no tile of that name, nor any other.
    report = about(-31.5, 138.5, 3e3)
    wrong = replace(report.source, template=report.source.template.replace("Inv", "Env"))
    report = replace(report, source=wrong)
    with pytest.raises(FetchError, match="No tile of land was found within reach; look at"):
        write_window(report, tmp_path / "piece.tif", from_server=True, manner=manner)
    (tile,) = fetch([one.corner for one in report.tiles], wrong, cache, manner=manner)
    assert tile.state is TileState.MISSING
    assert "this is not taken for sea: look at the place and at the source's template" in tile.said
    assert not list(cache.folder.rglob("*.tif"))


def test_tiles_of_two_widths_are_only_written_as_a_piece(
    about: Any, cache: TileCache, manner: Manner
) -> None:
    report = about(50.001, 7.5, 3e3)
    tiles = fetch([one.corner for one in report.tiles], report.source, cache, manner=manner)
    with pytest.raises(FetchError, match=r"The tiles here differ in width, .*; add --window"):
        files_to_write(replace(report, tiles=tiles))


def test_what_poses_as_a_tile_is_refused(
    about: Any, served: Any, tmp_path: Path, manner: Manner, tile_writer: Any
) -> None:
    report = about(-31.5, 138.5, 3e3)
    (name,) = [Path(report.source.url(one.corner)).name for one in report.tiles]
    (served.folder / name).write_text("<VRTDataset></VRTDataset>" + " " * 100)
    with pytest.raises(FetchError, match="cannot be opened as a GeoTIFF"):
        write_window(report, tmp_path / "piece.tif", from_server=True, manner=manner)


def test_a_shifted_tile_is_refused(
    about: Any, served: Any, tmp_path: Path, manner: Manner, tile_writer: Any
) -> None:
    report = about(-33.5, 141.5, 3e3)
    (name,) = [Path(report.source.url(one.corner)).name for one in report.tiles]
    tile_writer(served.folder / name, Corner(-33, 141), rows=1200, cols=1200)
    with pytest.raises(FetchError, match="S34E141: what the server gives is not this tile"):
        write_window(report, tmp_path / "piece.tif", from_server=True, manner=manner)


def test_nothing_is_asked_unless_told_and_files_stay(
    about: Any, served: Any, tmp_path: Path
) -> None:
    report = about(-31.5, 138.5, 3e3)
    with pytest.raises(FetchError, match="The tile S32E138 is not here; add --fetch, or --from"):
        write_window(report, tmp_path / "piece.tif", from_server=False)
    assert served.requests == []
    (tmp_path / "piece.tif").write_text("mine")
    with pytest.raises(WriteRefusedError, match="is already there"):
        write_window(report, tmp_path / "piece.tif", from_server=True)
    wide = replace(report, within_m=450e3)
    with pytest.raises(FetchError, match="cells, more than the 150,000,000 of one piece"):
        write_window(
            replace(wide, source=replace(wide.source, scheme=SCHEMES["copernicus 30"])),
            tmp_path / "other.tif",
            from_server=False,
        )
