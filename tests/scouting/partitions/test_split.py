"""Files cut into parts as they are read: what the whole-file reader gives, to the last field."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine
from pyproj import CRS

from backbearing.base.errors import OutingError, WriteRefusedError
from backbearing.scouting.partitions import far_doubles, settled_parts, spill, split
from backbearing.scouting.partitions.candidate_parts import write_candidate_parts
from backbearing.scouting.partitions.split import split_candidates
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.terrain.grid import Grid

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.scouting.partitions.candidate_parts import CandidateParts

pytest.importorskip("pyarrow")

# Tiles of 22.5 km: some things lie off the raster on its north, south and west.
GRID = Grid((1800, 1500), Affine(22, 0, 501_000, 0, -22, 4_999_000), CRS("EPSG:32632"))
SOUTH, NORTH, WEST, EAST = 44.79, 45.16, 9.0, 9.4
HOSTILE = "</script><b onload=x>\u202e=cmd|' /C calc'!A0, \"quoted\"\nand broken"


@cache
def rows() -> list[dict[str, Any]]:
    """Things of all kinds, with gaps, nonsense, and doubles across the lines between tiles."""
    rng = np.random.default_rng(11)
    kinds = ("tree", "Ruin", "house", "chapel", "oak", "mast", "thing", "", "cairns")
    found: list[dict[str, Any]] = [
        {
            "name": f"thing {i}" if i % 3 else " " if i % 2 else "",
            "lat": round(float(rng.uniform(SOUTH, NORTH)), 7),
            "lon": round(float(rng.uniform(WEST, EAST)), 7),
            "height_m": round(float(rng.uniform(2, 14)), 1) if i % 4 else None,
            "width_m": round(float(rng.uniform(1, 9)), 1) if i % 5 == 0 else None,
            "kind": kinds[i % len(kinds)],
            "access": ("", "open", "Ask_first", "closed")[i % 4],
            "note": HOSTILE if i % 17 == 0 else "",
            "role": ("", "", "clutter", "candidate")[i % 4] if i % 6 == 0 else "",
        }
        for i in range(500)
    ]
    found[7]["height_m"] = 9000.0
    found[8]["access"] = "perhaps"
    found[9]["name"] = HOSTILE
    # A chain of doubles over a line between tiles: 0.7 m from each to the next, in no order.
    lons = np.arange(9.25, 9.35, 1e-6)
    line = float(lons[np.searchsorted(columns(lons), 1024.0)])
    for k, i in enumerate((40, 300, 41, 299, 42, 150)):
        found[i] |= {"lat": 44.95, "lon": round(line + (k - 3) * 0.7 / 78_850.0, 8), "role": ""}
        found[i] |= {"kind": "tree", "access": "", "name": "" if k % 2 else f"link {k}"}
        found[i] |= {"height_m": 5.0 + k if k % 3 else None, "width_m": None}
    return found


def columns(lons: Any) -> Any:
    """The grid's columns of places at 44.95 degrees north."""
    return GRID.pixels(lat=np.full(len(lons), 44.95), lon=np.asarray(lons)).col


def features(things: list[dict[str, Any]]) -> list[dict[str, Any]]:
    out = []
    for i, row in enumerate(things):
        words = {k: v for k, v in row.items() if k not in ("lat", "lon")}
        shape: dict[str, Any] = {"type": "Point", "coordinates": [row["lon"], row["lat"]]}
        if i % 25 == 1:
            shape = shapely.geometry.mapping(
                shapely.Point(row["lon"], row["lat"]).buffer(2e-4, quad_segs=2)
            )
        if i % 100 == 3:
            words |= {"kind": "wood", "role": ""}
            shape = {"type": "LineString", "coordinates": [[row["lon"], row["lat"]], [9.2, 45.0]]}
        if i in (60, 61):
            shape = {"type": "Point", "coordinates": ["a", 1]} if i % 2 else None  # type: ignore[assignment]
        out.append({"type": "Feature", "properties": words, "geometry": shape})
    return out


def frame(things: list[dict[str, Any]], crs: str = "EPSG:4326") -> geopandas.GeoDataFrame:
    table = pd.DataFrame(things)
    table["role"] = table["role"].replace("", None)
    points = geopandas.points_from_xy(table.pop("lon"), table.pop("lat"))
    return geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326").to_crs(crs)


def as_csv(file: Path) -> None:
    text = pd.DataFrame(rows()).assign(colour="green").to_csv(index=False, lineterminator="\r\n")
    lines = text.split("\r\n")
    file.write_text("\r\n".join([*lines[:5], "short,1", "", *lines[5:]]), encoding="utf-8-sig")


def as_geojson(file: Path) -> None:
    document = {"type": "FeatureCollection", "name": "x", "features": features(rows())}
    file.write_text(json.dumps(document, indent=1), encoding="utf-8")


def as_projected_geojson(file: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::23032"}}
    found = json.loads(frame(rows(), "EPSG:23032").to_json())["features"]
    document = {"type": "FeatureCollection", "crs": crs, "features": found}
    file.write_text(json.dumps(document), encoding="utf-8")


def as_lines(file: Path) -> None:
    lines = [json.dumps(one, ensure_ascii=False) for one in features(rows())]
    file.write_text("\n".join(lines), encoding="utf-8")


def as_records(file: Path) -> None:
    records = [f"\x1e{json.dumps(one, indent=None)}\n" for one in features(rows())]
    file.write_text("".join(records), encoding="utf-8")


def as_geopackage(file: Path) -> None:
    table = frame(rows(), "EPSG:23032")
    table["note"] = [12 if i % 7 == 0 else None for i in range(len(table))]
    table["note"] = table["note"].astype("Int64")
    table.to_file(file, driver="GPKG", layer="places")


def as_geoparquet(file: Path) -> None:
    frame(rows()).to_parquet(file, row_group_size=90)


def as_projected_geoparquet(file: Path) -> None:
    frame(rows(), "EPSG:23032").to_parquet(file)


def as_extract(file: Path) -> None:
    """Nodes in outlines of the same thing, outlines in turn a relation, woods, a lone way."""
    osmium = pytest.importorskip("osmium")
    make = osmium.osm.mutable
    nodes, ways, number = [], [], 0

    def corner(lat: float, lon: float, **tags: str) -> int:
        nonlocal number
        number += 1
        nodes.append(make.Node(id=number, location=(lon, lat), tags=tags))
        return number

    tagged = ({"natural": "tree"}, {"man_made": "tower"}, {"historic": "ruins"},
              {"building": "chapel"}, {"amenity": "place_of_worship"})  # fmt: skip
    for i, row in enumerate(rows()[:260]):
        tags = {**tagged[i % 5], "name": row["name"]}
        if row["height_m"]:
            tags["height"] = str(row["height_m"])
        lat, lon = row["lat"], row["lon"]
        corner(lat, lon, **tags)
        if i % 4 == 0:
            spots = [(lat - 1e-4, lon - 1e-4), (lat - 1e-4, lon + 2e-4), (lat + 1e-4, lon)]
            ring = [corner(*spot) for spot in spots]
            kind = "chapel" if i % 8 else "yes"
            ways.append(([*ring, ring[0]], {"building": kind, "description": f"outline {i}"}))
            if i % 40 == 0:
                corner(lat + 2e-6, lon, man_made="tower", name="second in it", height="9000")
        if i % 50 == 1:
            ring = [corner(lat, lon), corner(lat + 4e-3, lon), corner(lat, lon + 4e-3)]
            ways.append(([*ring, ring[0]], {"natural": "wood"}))
    with osmium.SimpleWriter(str(file)) as writer:
        for node in nodes:
            writer.add_node(node)
        for k, (way, tags) in enumerate(ways, start=1):
            writer.add_way(make.Way(id=k, nodes=way, tags={} if k == 3 else tags))
        members = [("w", 3, "outer")]
        tags = {"type": "multipolygon", "building": "yes"}
        writer.add_relation(make.Relation(id=1, members=members, tags=tags))


FORMATS: dict[str, tuple[str, Callable[[Path], None]]] = {
    "csv": ("things.csv", as_csv),
    "geojson": ("things.geojson", as_geojson),
    "geojson of another datum": ("things.json", as_projected_geojson),
    "lines": ("things.geojsonl", as_lines),
    "records": ("things.geojsons", as_records),
    "geopackage": ("things.gpkg", as_geopackage),
    "geoparquet": ("things.parquet", as_geoparquet),
    "geoparquet of another datum": ("things.parquet", as_projected_geoparquet),
    "extract": ("things.osm.pbf", as_extract),
}


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Batches, rounds and parts so small that a few hundred rows go through many."""
    monkeypatch.setattr(split, "BATCH", 37)
    monkeypatch.setattr(spill, "ROUND", 90)
    monkeypatch.setattr(spill, "KEPT_ROWS", 60)
    monkeypatch.setattr(far_doubles, "FILES", 3)


def by_tile(parts: CandidateParts) -> dict[tuple[int, int], pd.DataFrame]:
    """What each tile's candidates are and have near them; rows only by their order."""
    found: dict[tuple[int, int], list[Any]] = {}
    for part in parts.parts:
        one = parts.read(part)
        places = {"lat": one.geometry.y, "lon": one.geometry.x, "candidate": one["candidate"]}
        table = pd.DataFrame(one.drop(columns=["geometry", "row"])).assign(**places)
        found.setdefault((part.tile_row, part.tile_col), []).append(table)
    # What lies off the raster is in several parts, each with its own company.
    return {tile: some[0] for tile, some in found.items() if len(some) == 1}


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.usefixtures("small")
def test_parts_are_those_of_the_file_read_whole(form, tmp_path):
    name, write = FORMATS[form]
    write(tmp_path / name)
    candidates = read_candidates(tmp_path / name)
    whole = write_candidate_parts(candidates, GRID, tmp_path / "whole", digest="d")
    found = split_candidates(tmp_path / name, GRID, tmp_path / "found", digest="d")
    assert found.about == whole.about
    assert len(found.about.rejected) == found.about.rejected_count >= 5
    assert len(found) == len(candidates) > 100
    assert (found.middle_lat, found.middle_lon) == (whole.middle_lat, whole.middle_lon)
    one, two = by_tile(found), by_tile(whole)
    assert len(one) > 3
    for tile, table in one.items():
        pd.testing.assert_frame_equal(table, two[tile], check_exact=True)
    own = pd.concat([part[part["own"]] for part in map(found.read, found.parts)])
    own = own[own["candidate"]].sort_values("row").drop(columns=["row", "own", "candidate"])
    pd.testing.assert_frame_equal(
        pd.DataFrame(own.drop(columns="geometry")).reset_index(drop=True),
        pd.DataFrame(candidates.frame.drop(columns="geometry")),
        check_exact=True,
    )
    assert own.geometry.x.tolist() == candidates.frame.geometry.x.tolist()
    assert own.geometry.y.tolist() == candidates.frame.geometry.y.tolist()
    assert not list((tmp_path / "found").glob(".*"))


def test_the_chain_of_doubles_lies_in_two_tiles_and_leaves_three(tmp_path):
    as_csv(tmp_path / "things.csv")
    found = split_candidates(tmp_path / "things.csv", GRID, tmp_path / "found", digest="d")
    links = [c for p in found.parts for c in found.read(p).query("own")["name"] if "link" in c]
    lons = [row["lon"] for row in rows() if row["lat"] == 44.95]
    assert set((columns(lons) < 1024.0).tolist()) == {True, False}
    # By hand: places 0, 2, 4 are first in the file, 1.4 m apart; 1, 3 and 5 join with them.
    assert sorted(links) == ["link 0", "link 2", "link 4"]


@pytest.mark.usefixtures("small")
def test_a_crowded_tile_is_cut_into_parts_that_hold_all_once(tmp_path, monkeypatch):
    as_csv(tmp_path / "things.csv")
    whole = split_candidates(tmp_path / "things.csv", GRID, tmp_path / "whole", digest="d")
    monkeypatch.setattr(settled_parts, "MOST_OWN", 9)
    found = split_candidates(tmp_path / "things.csv", GRID, tmp_path / "found", digest="d")
    assert max(part.own for part in found.parts) <= 9
    assert len(found.parts) > len(whole.parts)
    assert len(found) == len(whole)
    others = pd.concat([whole.read(one) for one in whole.parts]).drop_duplicates("row")
    for part in found.parts[::9]:
        table = found.read(part)
        near = table[table["own"]].iloc[0].geometry
        away = np.hypot(
            (table.geometry.x - near.x) * 78_850.0, (table.geometry.y - near.y) * 111_130.0
        )
        every = np.hypot(
            (others.geometry.x - near.x) * 78_850.0, (others.geometry.y - near.y) * 111_130.0
        )
        # Things that stand 4 km to a stand and 2 km on may be in a frame.
        assert set(others["row"][every < 6_000.0]) <= set(table["row"])
        assert (away < 60_000.0).all()


def test_places_read_again_take_the_room_of_old_ones(tmp_path):
    as_csv(tmp_path / "things.csv")
    folder = tmp_path / "found"
    first = split_candidates(tmp_path / "things.csv", GRID, folder, digest="d")
    (tmp_path / "few.csv").write_text("name,lat,lon,kind\na,45,9.2,tree\n", encoding="utf-8")
    second = split_candidates(tmp_path / "few.csv", GRID, folder, digest="e")
    assert len(first.parts) > len(second.parts) == 1
    assert sorted(p.name for p in folder.iterdir()) == [second.parts[0].file, "parts.json"]


def test_gpx_is_read_whole(tmp_path):
    file = tmp_path / "two.gpx"
    file.write_text(
        '<gpx xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="45" lon="9.2"><type>tree</type>'
        '</wpt><wpt lat="45.1" lon="9.3"/></gpx>',
        encoding="utf-8",
    )
    assert len(split_candidates(file, GRID, tmp_path / "found", digest="d")) == 2


BROKEN = {
    "cut.geojson": ('{"type": "FeatureCollection", "features": [{"type": "Fea', "is not GeoJSON"),
    "end.geojson": ('{"features": [{"a": tru', r"is not GeoJSON .*near letter 21"),
    "early.geojson": (
        '{"features": [{"a": 1,, "b": 2}' + " " * 999 + "]}",
        r"is not GeoJSON .*near letter 23",
    ),
    "list.geojson": ("[1, 2]", "holds no list of features"),
    "none.geojson": ('{"type": "FeatureCollection"}', "holds no list of features"),
    "twice.geojson": ('{"features": [], "features": []}', "two lists of features"),
    "after.geojson": ('{"features": []} x', "more after its end"),
    "deep.geojson": ('{"features": [' + "[" * 99_999, "nested too deeply"),
    "empty.geojson": ('{"features": []}', "it is empty"),
    "bytes.geojson": (b'{"features": [\xff]}', "is not UTF-8 text"),
    "line.geojsonl": ('{"type": "Feature"}\n{"type": ', "has no JSON in line 2"),
    "quote.csv": ('name,lat,lon\n"a,1,2\n', "cannot be read as CSV near line"),
    "head.csv": ("name;lat;lon\n", "separates its columns by semicolons"),
    "not.gpkg": ("hello", "is not a GeoPackage inside"),
    "not.parquet": ("hello", "cannot be read as GeoParquet"),
    "not.osm.pbf": ("hello", "cannot be read as an OpenStreetMap extract"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_cannot_be_read_is_one_sentence_and_leaves_nothing(name, tmp_path):
    if name.endswith(".pbf"):
        pytest.importorskip("osmium")
    content, says = BROKEN[name]
    (tmp_path / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    folder = tmp_path / "found"
    with pytest.raises(OutingError, match=says) as refused:
        split_candidates(tmp_path / name, GRID, folder, digest="d")
    assert name in str(refused.value)
    assert "\n" not in str(refused.value)
    assert list(folder.iterdir()) == []


def test_an_extract_cut_short_or_out_of_order_is_one_sentence(tmp_path):
    osmium = pytest.importorskip("osmium")
    as_extract(tmp_path / "whole.osm.pbf")
    whole = (tmp_path / "whole.osm.pbf").read_bytes()
    (tmp_path / "cut.osm.pbf").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(OutingError, match=r"cut\.osm\.pbf cannot be read"):
        split_candidates(tmp_path / "cut.osm.pbf", GRID, tmp_path / "found", digest="d")
    make = osmium.osm.mutable
    with osmium.SimpleWriter(str(tmp_path / "late.osm.pbf")) as writer:
        writer.add_way(make.Way(id=1, nodes=[1, 2, 3, 1], tags={"building": "yes"}))
        for k in (1, 2, 3):
            writer.add_node(
                make.Node(id=k, location=(9.2 + k / 9e3, 45.0), tags={"natural": "tree"})
            )
    for read in (read_candidates, lambda file: split_candidates(file, GRID, tmp_path, digest="d")):
        with pytest.raises(OutingError, match="gives nodes after ways"):
            read(tmp_path / "late.osm.pbf")


@pytest.mark.usefixtures("small")
def test_a_crs_that_comes_after_the_features_is_refused(tmp_path):
    found = json.loads(frame(rows()[:80], "EPSG:23032").to_json())["features"]
    crs = {"type": "name", "properties": {"name": "EPSG:23032"}}
    (tmp_path / "late.json").write_text(json.dumps({"features": found, "crs": crs}), "utf-8")
    with pytest.raises(OutingError, match="names its crs after its features"):
        split_candidates(tmp_path / "late.json", GRID, tmp_path / "found", digest="d")


def test_too_many_rows_are_one_sentence(tmp_path, monkeypatch):
    as_csv(tmp_path / "things.csv")
    monkeypatch.setattr(split, "MOST_ROWS", 400)
    with pytest.raises(OutingError, match="has more than 400 rows"):
        split_candidates(tmp_path / "things.csv", GRID, tmp_path / "found", digest="d")


def test_a_full_disk_is_one_sentence_and_leaves_nothing_half_done(tmp_path, monkeypatch):
    as_csv(tmp_path / "things.csv")

    def full(*_: Any) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(spill.Spill, "flush", full)
    with pytest.raises(WriteRefusedError, match="No space left on device"):
        split_candidates(tmp_path / "things.csv", GRID, tmp_path / "found", digest="d")
    assert list((tmp_path / "found").iterdir()) == []


GROWTH = """
import resource, sys
from pathlib import Path
sys.path.insert(0, {tests!r})
import test_split as t
from backbearing.scouting.partitions.split import split_candidates
split_candidates(Path({few!r}), t.GRID, Path({folder!r}), digest="d")
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
split_candidates(Path({many!r}), t.GRID, Path({folder!r}), digest="d")
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="memory is told otherwise elsewhere")
def test_memory_does_not_grow_with_the_file(tmp_path):
    """20,000 rows with long notes: read whole, they and their cells take some 90 MB."""
    few, many = tmp_path / "few.csv", tmp_path / "many.csv"
    head = "name,lat,lon,kind,note\n"
    few.write_text(head + f"a,45,9.2,tree,{'x' * 900}\n", encoding="utf-8")
    rng = np.random.default_rng(3)
    places = rng.uniform((SOUTH, WEST), (NORTH, EAST), (20_000, 2))
    with many.open("w", encoding="utf-8") as text:
        text.write(head)
        text.writelines(f"t,{lat:.6f},{lon:.6f},house,{'x' * 900}\n" for lat, lon in places)
        text.write("a,45,9.2,tree,\n")
    code = GROWTH.format(
        tests=str(Path(__file__).parent), few=str(few), many=str(many), folder=str(tmp_path / "f")
    )
    grown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert int(grown.stdout) < 60
