"""Lists of places, outlines and frames: bombs, lies and endless things."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from limited import Limited

    Refused = Callable[..., str]

DOCTYPE = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
WAYPOINT = '<wpt lat="1" lon="2"><name>n</name></wpt>'

LISTS = {
    "columns.csv": ",".join(f"c{i}" for i in range(200_000)) + "\n",
    "some columns.csv": ",".join(["name", "lat", "lon", *(f"c{i}" for i in range(2_000))]) + "\n",
    "commas.csv": "name,lat,lon\n" + "," * 30_000_000 + "\n",
    "quote.csv": 'name,lat,lon\n"' + "x" * 3_000_000,
    "latin.csv": b"name,lat,lon\n\xe9\xe8,1,2\n",
    "attribute.gpx": f'<gpx a="{"x" * 20_000_000}">{WAYPOINT}</gpx>',
    "attribute.kml": f'<kml a="{"x" * 20_000_000}"></kml>',
    "comment.gpx": f"<gpx><!--{'x' * 20_000_000}-->{WAYPOINT}</gpx>",
    "instruction.kml": f"<?x {'x' * 20_000_000}?><kml/>",
    "doctype.gpx": f"{DOCTYPE}<gpx>{WAYPOINT}</gpx>",
    "doctype.kml": f"<?xml version='1.0'?><?a b?>{DOCTYPE}<kml>&b;</kml>",
    "deep.gpx": "<gpx>" + "<a>" * 100_000,
    "deep.kml": "<kml>" + "<Folder>" * 100_000,
    "unclosed.gpx": f"<gpx>{WAYPOINT}",
    "wrong root.gpx": "<html></html>",
    "deep.geojson": "[" * 100_000,
    "deep objects.geojson": '{"a":' * 100_000,
    "number.geojson": '{"type": "FeatureCollection", "features": 1' + "0" * 5_000 + "}",
    "list.geojson": "[]",
    "text.geojson": '"FeatureCollection"',
    "system.geojson": json.dumps(
        {"type": "FeatureCollection", "features": [], "crs": {"properties": {"name": "x" * 10**6}}}
    ),
    "not a base.gpkg": b"SQLite format 3\x00" + bytes(400),
    "nothing.gpkg": b"hello",
    "nothing.osm.pbf": b"\x00\x00\x00\x0d" + b"\xff" * 400,
    "long block.osm.pbf": b"\x7f\xff\xff\xff" + b"\x0a\x09OSMHeader" + bytes(100),
}


def put(folder: Path, name: str, data: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass"))
    return path


@pytest.mark.parametrize("name", LISTS)
def test_lists_that_are_bombs_or_rubbish(tmp_path: Path, refused: Refused, name: str) -> None:
    refused("candidates", put(tmp_path, name, LISTS[name]))


def collection(*geometries: Any, **properties: Any) -> str:
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "properties": {"kind": "wood", **properties}, "geometry": one}
                for one in geometries
            ],
        }
    )


def line(*corners: Any) -> dict[str, Any]:
    return {"type": "LineString", "coordinates": list(corners)}


ODD_GEOMETRIES: dict[str, dict[str, Any]] = {
    "far": line([0, 0], [1e9, 0]),
    "farther": line([0, 0], [1e300, 1e300]),
    "around": line([-180, 0], [180, 0]),
    "text": line(["a", "b"], [1, 2]),
    "nan": line([float("nan"), 0], [1, 2]),
    "infinite": line([float("inf"), 0], [1, 2]),
    "whole": line([10**400, 0], [1, 2]),
    "unknown": {"type": "Blob", "coordinates": [1, 2]},
    "no type": {"coordinates": [1, 2]},
    "no coordinates": {"type": "Point"},
    "empty": {"type": "Point", "coordinates": []},
    "nested": {"type": "Point", "coordinates": [[[[1, 2]]]]},
    "open ring": {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1]]]},
    "two corners": {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 0]]]},
    "one corner": line([0, 0]),
    "off the globe": {"type": "Point", "coordinates": [200, 100]},
    "of itself": {"type": "GeometryCollection", "geometries": [{"type": "Blob"}]},
}


@pytest.mark.parametrize("name", ODD_GEOMETRIES)
def test_one_odd_geometry_costs_its_row_and_no_more(
    tmp_path: Path, limited: Limited, name: str
) -> None:
    text = collection(*[ODD_GEOMETRIES[name]] * 300, {"type": "Point", "coordinates": [1, 2]})
    found = limited.read("readers:candidates", put(tmp_path, "it.geojson", text))
    assert found.error in ("", "OutingError"), found.trace
    assert found.seconds < 10.0
    assert found.grown_bytes < 300_000_000


READ_ALL_THE_SAME = ("around", "open ring", "two corners", "nested")
REFUSED_AS_PLACES = [name for name in ODD_GEOMETRIES if name not in READ_ALL_THE_SAME]


@pytest.mark.parametrize("name", REFUSED_AS_PLACES)
def test_the_users_own_places_are_refused_with_their_number(
    tmp_path: Path, refused: Refused, name: str
) -> None:
    good = {"type": "Point", "coordinates": [1, 2]}
    text = collection(good, ODD_GEOMETRIES[name], kind="note")
    assert "feature 2" in refused("places", put(tmp_path, "it.geojson", text))


PLACES = {
    "list.geojson": "[]",
    "deep.geojson": "[" * 100_000,
    "text.geojson": "hello",
    "number.geojson": '{"features": 1}',
    "whole.geojson": '{"features": [1' + "0" * 5_000 + "]}",
    "latin.geojson": b'{"features": ["\xe9"]}',
    "wrong.kml": "<kml/>",
    "nothing.gpkg": b"hello",
    "kind.geojson": collection({"type": "Point", "coordinates": [1, 2]}, kind="k" * 100_000),
    "no feature.geojson": '{"type": "FeatureCollection", "features": [1]}',
    "null.geojson": '{"type": "FeatureCollection", "features": [null]}',
}


@pytest.mark.parametrize("name", PLACES)
def test_places_that_are_none(tmp_path: Path, refused: Refused, name: str) -> None:
    refused("places", put(tmp_path, name, PLACES[name]))


TABLES = """
CREATE TABLE gpkg_spatial_ref_sys (srs_name, srs_id, organization, organization_coordsys_id,
  definition, description);
INSERT INTO gpkg_spatial_ref_sys VALUES ('WGS 84', 4326, 'EPSG', 4326, 'GEOGCS[]', '');
CREATE TABLE gpkg_contents (table_name, data_type, identifier, description, last_change, min_x,
  min_y, max_x, max_y, srs_id);
CREATE TABLE gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m);
INSERT INTO gpkg_contents VALUES ('l', 'features', 'l', '', '', 0, 0, 1, 1, 4326);
INSERT INTO gpkg_geometry_columns VALUES ('l', 'geom', 'POINT', 4326, 0, 0);
"""


def base_with(path: Path, script: str) -> Path:
    base = sqlite3.connect(path)
    base.execute("PRAGMA application_id = 0x47504B47")
    base.executescript(TABLES + script)
    base.close()
    return path


ENDLESS = (
    "WITH RECURSIVE n(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 FROM n) "
    "SELECT fid, zeroblob(100000) AS geom FROM n"
)
BASES = {
    "endless view": f"CREATE VIEW l AS {ENDLESS}",
    "no such table": "",
    "view of contents": """
        ALTER TABLE gpkg_contents RENAME TO c;
        CREATE VIEW gpkg_contents AS SELECT * FROM c;
        CREATE TABLE l (fid INTEGER PRIMARY KEY, geom BLOB);""",
    "virtual": "CREATE VIRTUAL TABLE l USING rtree(fid, a, b)",
    "many layers": """
        CREATE TABLE l (fid INTEGER PRIMARY KEY, geom BLOB);
        INSERT INTO gpkg_contents
          SELECT 'x' || value, 'features', value, '', '', 0, 0, 1, 1, 4326 FROM (
            WITH RECURSIVE n(value) AS (SELECT 1 UNION ALL SELECT value + 1 FROM n LIMIT 5000)
            SELECT value FROM n);""",
}


@pytest.mark.parametrize("reader", ["candidates", "places"])
@pytest.mark.parametrize("name", BASES)
def test_a_geopackage_asks_nothing_of_the_database(
    tmp_path: Path, refused: Refused, name: str, reader: str
) -> None:
    refused(reader, base_with(tmp_path / "it.gpkg", BASES[name]))


OUTLINES = {
    "comments": "<svg>" + "<!--" * 200_000,
    "doctype": f"{DOCTYPE}<svg><path d='M0 0L1 0L1 1Z'/></svg>",
    "doctype behind": f"<?a b?>{DOCTYPE}<svg><path d='M0 0L1 0L1 1Z'/></svg>",
    "entity": "<svg><path d='&a;'/></svg>",
    "transform": "<svg><path transform='scale(2)' d='M0 0L1 0L1 1Z'/></svg>",
    "arc": "<svg><path d='M0 0A1 1 0 0 0 1 1Z'/></svg>",
    "nothing": "<svg/>",
    "letters": "<svg><path d='hello'/></svg>",
    "numbers": "<svg><path d='M" + "1 2 " * 200_000 + "Z'/></svg>",
    "huge": "<svg><path d='M0 0L1e999 0L1 1Z'/></svg>",
    "curves": "<svg><path d='M0 0" + "C1 1 2 2 3 3" * 40_000 + "Z'/></svg>",
    "flat": "<svg><path d='M0 0L1 0L2 0Z'/></svg>",
    "another": "<html/>",
    "unclosed": "<svg><path d='M0 0L1 0L1 1Z'/>",
    "deep": "<svg>" + "<g>" * 100_000,
    "large": "<svg>" + " " * 1_500_000 + "</svg>",
}


@pytest.mark.parametrize("name", OUTLINES)
def test_outlines_that_are_none(tmp_path: Path, refused: Refused, name: str) -> None:
    refused("outline", put(tmp_path, "it.svg", OUTLINES[name]))


@pytest.mark.parametrize(
    "data",
    [b"hello", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF89a" + bytes(20), b"%!PS-Adobe",
     b"II*\x00\x08\x00\x00\x00", b"RIFF\xff\xff\xff\xffWEBP"],
    ids=["text", "jpeg", "png", "gif", "postscript", "tiff", "webp"],
)  # fmt: skip
@pytest.mark.parametrize("suffix", [".jpg", ".tif", ".png"])
def test_frames_that_are_none(tmp_path: Path, refused: Refused, data: bytes, suffix: str) -> None:
    refused("frame", put(tmp_path, f"it{suffix}", data))
