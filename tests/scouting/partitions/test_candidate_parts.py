"""Candidates cut into parts: all there once, with their neighbours, and read back as they were."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import geopandas
import numpy as np
import pandas as pd
import pytest
from affine import Affine
from pyproj import CRS, Geod

from backbearing.scouting.partitions.candidate_parts import (
    INDEX,
    PartsAbout,
    read_candidate_parts,
    tiles_of_places,
    write_candidate_parts,
)
from backbearing.scouting.partitions.geoparquet import DamagedPartError
from backbearing.terrain.grid import Grid

if TYPE_CHECKING:
    from backbearing.scouting.partitions.candidate_parts import CandidateParts
    from backbearing.scouting.reading.candidate_table import Candidates

pytest.importorskip("pyarrow")

GRID = Grid((3000, 2500), Affine(30, 0, 500_000, 0, -30, 5_000_000), CRS("EPSG:32632"))
HOSTILE = "</script><b onload=x>\u202e=cmd|' /C calc'!A0"
NEAR_M = 6100.0
"""What docs/region.md says of a parcel's company: 4 km to a stand and 2.1 km on."""


@pytest.fixture(scope="module")
def candidates(make_candidates: Any) -> Candidates:
    rng = np.random.default_rng(7)
    # A few lie off the raster, which ends at latitude 45.15 and about longitude 9.95.
    lat, lon = rng.uniform(44.3, 45.2, 300), rng.uniform(8.98, 9.98, 300)
    names = [HOSTILE if i == 5 else f"thing {i}" for i in range(300)]
    others = make_candidates(rng.uniform(44.3, 45.2, 80), rng.uniform(8.98, 9.98, 80), kind="house")
    return make_candidates(lat, lon, others, name=names, height_m=rng.uniform(3.0, 9.0, 300))


@pytest.fixture(scope="module")
def parts(candidates: Candidates, tmp_path_factory: Any) -> CandidateParts:
    folder = tmp_path_factory.mktemp("parts") / "new"
    return write_candidate_parts(candidates, GRID, folder, digest="abc")


def test_every_candidate_is_answered_for_once_and_reads_back_as_it_was(candidates, parts):
    whole = pd.concat([parts.read(part) for part in parts.parts])
    own = whole[whole["own"] & whole["candidate"]].sort_values("row")
    assert len(parts) == 300
    assert own["row"].tolist() == list(range(300))
    back = own.drop(columns=["row", "own", "candidate"]).reset_index(drop=True)
    pd.testing.assert_frame_equal(
        pd.DataFrame(back.drop(columns="geometry")),
        pd.DataFrame(candidates.frame.drop(columns="geometry")),
        check_exact=True,
    )
    assert back.geometry.x.tolist() == candidates.frame.geometry.x.tolist()
    assert back.geometry.y.tolist() == candidates.frame.geometry.y.tolist()
    assert back["name"].iloc[5] == HOSTILE


def test_a_part_lies_in_one_tile_and_holds_all_within_reach_of_its_own(candidates, parts):
    everything = pd.concat([candidates.frame, candidates.others], ignore_index=True)
    lat, lon = everything.geometry.y.to_numpy(), everything.geometry.x.to_numpy()
    geod = Geod(ellps="WGS84")
    for part in parts.parts:
        frame = parts.read(part)
        mine = frame[frame["own"]]
        tiles = tiles_of_places(
            GRID, lat=mine.geometry.y.to_numpy(), lon=mine.geometry.x.to_numpy()
        )
        assert {tuple(one) for one in tiles.tolist()} == {(part.tile_row, part.tile_col)}
        one = mine.iloc[len(mine) // 2].geometry
        away = geod.inv(np.full(380, one.x), np.full(380, one.y), lon, lat)[2]
        assert set(np.flatnonzero(away < NEAR_M - 30.0)) <= set(frame["row"])


def test_what_lies_off_the_raster_is_in_the_ring_about_it():
    # The raster spans 500 to 575 km east and 4,910 to 5,000 km north in UTM zone 32.
    lat, lon = np.array([45.1, 47.0, 10.0, 44.8]), np.array([9.1, 9.1, 9.1, 12.0])
    assert tiles_of_places(GRID, lat=lat, lon=lon).tolist() == [[0, 0], [-1, 0], [3, 0], [1, 3]]


def test_the_candidate_in_the_middle_gives_the_zone(candidates, parts):
    place = candidates.frame.geometry.iloc[150]
    assert (parts.middle_lat, parts.middle_lon) == (place.y, place.x)


def test_files_are_geoparquet_that_another_reader_understands(parts):
    import pyarrow.parquet as pq

    path = parts.folder / parts.parts[0].file
    told = json.loads(pq.read_metadata(path).metadata[b"geo"])
    # https://geoparquet.org/releases/v1.1.0/
    assert told["version"] == "1.1.0"
    assert told["columns"]["geometry"]["encoding"] == "WKB"
    assert told["columns"]["geometry"]["covering"]["bbox"]["xmin"] == ["bbox", "xmin"]
    assert geopandas.read_parquet(path).crs == "EPSG:4326"


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": "backbearing-candidate-parts"}'])
def test_a_damaged_list_of_parts_is_named(tmp_path, text):
    (tmp_path / INDEX).write_text(text, encoding="utf-8")
    with pytest.raises(DamagedPartError, match=r"parts\.json is damaged"):
        read_candidate_parts(tmp_path)


def test_a_list_of_parts_names_no_file_elsewhere(parts, tmp_path):
    told = json.loads((parts.folder / INDEX).read_text(encoding="utf-8"))
    told["parts"][0]["file"] = "../secret.parquet"
    (tmp_path / INDEX).write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(DamagedPartError, match="no name of a part"):
        read_candidate_parts(tmp_path)


def test_a_part_cut_short_is_named(candidates, tmp_path):
    made = write_candidate_parts(candidates, GRID, tmp_path, digest="abc")
    path = tmp_path / made.parts[0].file
    path.write_bytes(path.read_bytes()[:-20])
    with pytest.raises(DamagedPartError, match=rf"{made.parts[0].file} is damaged"):
        made.read(made.parts[0])


def test_nothing_at_all_makes_a_folder_without_parts(make_candidates, tmp_path):
    nobody = make_candidates(np.zeros(0), np.zeros(0))
    made = write_candidate_parts(nobody, GRID, tmp_path, digest="abc")
    assert len(made) == 0
    assert made.about == PartsAbout("invented", "abc")
    assert np.isnan(made.middle_lat)
