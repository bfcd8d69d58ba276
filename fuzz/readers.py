"""Every reader of foreign files, with seeds made on the spot."""

from __future__ import annotations

import io
import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from cases import Reader

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_terrain"


def readers() -> dict[str, Reader]:
    """Make all readers by name."""
    made = [*_texts(), *_lists(), *_rasters(), *_frames()]
    return {reader.name: reader for reader in made}


def _texts() -> list[Reader]:
    from backbearing.land.places import read_places
    from backbearing.outing.load import load_outing
    from backbearing.outing.outline_svg import read_outline
    from backbearing.workflows.visit import measured, read_notebook

    notebook = b'[[height]]\nby = "angles"\ndistance_m = 20.0\ntop_deg = 30\nbase_percent = -7\n'
    starter = (ROOT / "src" / "backbearing" / "data" / "starter_outing.toml").read_bytes()
    return [
        Reader("outing", "it.toml", (starter, (SAMPLE / "outing.toml").read_bytes()), load_outing),
        Reader(
            "stranger", "it.toml", (starter,),
            lambda path: load_outing(path, trusted=False),
        ),
        Reader(
            "outline", "it.svg",
            ((SAMPLE / "chapel_gable.svg").read_bytes(),
             b'<svg><polygon points="0,0 4,0 4,9"/><path d="M0 0C1 1 2 2 3 0Z"/></svg>'),
            lambda path: read_outline(path, height_m=6.0, width_m=None),
        ),
        Reader(
            "notebook", "it.toml", (notebook,),
            lambda path: measured("height", read_notebook(path, "height")),
        ),
        Reader("places", "it.geojson", ((SAMPLE / "places.geojson").read_bytes(),), read_places),
    ]  # fmt: skip


def _lists() -> list[Reader]:
    from backbearing.measuring.tracks import read_track
    from backbearing.scouting.reading.candidates import read_candidates
    from backbearing.scouting.reading.osm_ways import read_ways
    from backbearing.tables.towns import read_towns

    features = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": {"kind": kind, "name": "n", "height_m": 5},
             "geometry": geometry}
            for kind, geometry in (
                ("tree", {"type": "Point", "coordinates": [149.2, -31.0]}),
                ("wood", {"type": "LineString", "coordinates": [[149.2, -31], [149.21, -31.01]]}),
                ("ruin", {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}),
            )
        ],
    }  # fmt: skip
    geojson = json.dumps(features).encode()
    gpx = (
        b'<?xml version="1.0"?><gpx version="1.1"><wpt lat="-31" lon="149"><name>n</name>'
        b"<type>tree</type><extensions><height_m>5</height_m></extensions></wpt></gpx>"
    )
    kml = (
        b"<kml><Document><Folder><name>trees</name><Placemark><name>n</name><ExtendedData>"
        b'<Data name="height_m"><value>5</value></Data></ExtendedData><Point><coordinates>149,-31'
        b"</coordinates></Point></Placemark></Folder></Document></kml>"
    )
    track = (
        b'<gpx version="1.1"><trk><trkseg><trkpt lat="-31" lon="149"><ele>5</ele>'
        b"<time>2027-03-04T10:00:00Z</time></trkpt></trkseg></trk></gpx>"
    )
    csv = (SAMPLE / "lone_things.csv").read_bytes()[:1_500]
    return [
        Reader("csv", "it.csv", (csv,), read_candidates),
        Reader("geojson", "it.geojson", (geojson,), read_candidates),
        Reader("gpx", "it.gpx", (gpx,), read_candidates),
        Reader("track", "it.gpx", (track,), read_track),
        Reader("kml", "it.kml", (kml,), read_candidates),
        Reader("geopackage", "it.gpkg", (_geopackage(geojson),), read_candidates, text=False),
        Reader("pbf", "it.osm.pbf", (_pbf(),), read_candidates, text=False),
        Reader("towns", "it.csv", ((SAMPLE / "towns.csv").read_bytes(),), read_towns),
        Reader("ways", "it.osm.pbf", (_pbf(),), read_ways, text=False),
    ]


def _geopackage(geojson: bytes) -> bytes:
    import geopandas

    frame = geopandas.read_file(io.BytesIO(geojson), engine="pyogrio").iloc[:1]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "seed.gpkg"
        frame.to_file(path, driver="GPKG")
        return path.read_bytes()


def _pbf() -> bytes:
    import osmium

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "seed.osm.pbf"
        with osmium.SimpleWriter(str(path)) as out:
            for number in range(1, 5):
                tags = {"natural": "tree", "height": "5"}
                out.add_node(osmium.osm.mutable.Node(id=number, location=(149.2, -31.0), tags=tags))
            out.add_way(osmium.osm.mutable.Way(id=9, nodes=[1, 2, 3], tags={"natural": "tree_row"}))
        return path.read_bytes()


def _rasters() -> list[Reader]:
    from backbearing.terrain.elevation import Elevation

    def heights(path: Path) -> Any:
        opened = Elevation.open(path, crs="EPSG:4326")
        rows, cols = opened.shape
        return opened.window_m(slice(0, min(rows, 40)), slice(0, min(cols, 40)))

    grid = b"ncols 4\nnrows 3\nxllcorner 149\nyllcorner -31\ncellsize 0.01\nNODATA_value -9999\n"
    grid += b"1 2.5 3 4\n5 6 -9999 8\n9 10 11 nan\n"
    hgt = (np.arange(1201 * 1201) % 2_000).astype(">i2").tobytes()
    return [
        Reader("tiff", "it.tif", (_tiff(), _tiff(tiled=True, compress="deflate")), heights, False),
        Reader("asc", "it.asc", (grid,), heights),
        Reader("hgt", "S31E149.hgt", (hgt,), heights, False),
        Reader("dted", "it.dt0", (_dted(),), heights, False),
    ]


def _dted() -> bytes:
    from rasterio.io import MemoryFile
    from rasterio.shutil import copy
    from rasterio.transform import from_origin

    step = 1.0 / 120.0
    usual = {
        "driver": "GTiff", "height": 121, "width": 121, "count": 1, "dtype": "int16",
        "crs": "EPSG:4326", "transform": from_origin(149 - step / 2, -30 + step / 2, step, step),
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as folder, MemoryFile() as memory:
        with memory.open(**usual) as file:
            file.write((np.arange(121 * 121, dtype=np.int16) % 900).reshape(1, 121, 121))
        path = Path(folder) / "seed.dt0"
        copy(memory.open(), path, driver="DTED")
        return path.read_bytes()


def _tiff(**how: Any) -> bytes:
    from rasterio.io import MemoryFile
    from rasterio.transform import from_origin

    usual = {
        "driver": "GTiff", "height": 32, "width": 32, "count": 1, "dtype": "int16",
        "crs": "EPSG:4326", "transform": from_origin(149.0, -31.0, 0.001, 0.001), "nodata": -32768,
    }  # fmt: skip
    if how.get("tiled"):
        usual |= {"blockxsize": 16, "blockysize": 16}
    with MemoryFile() as memory:
        with memory.open(**{**usual, **how}) as file:
            file.write(np.arange(1024, dtype=np.int16).reshape(1, 32, 32))
        return bytes(memory.getbuffer())


def _frames() -> list[Reader]:
    from PIL import Image
    from PIL.TiffImagePlugin import IFDRational

    from backbearing.review.exif import read_exif
    from backbearing.review.raw_file import raw_tags

    tags = Image.Exif()
    tags[0x0110] = "camera"
    tags.get_ifd(0x8769).update(
        {0x829A: IFDRational(10, 1), 0x829D: IFDRational(2, 1), 0x9003: "2027:06:05 23:40:00",
         0x9011: "+10:00", 0x8827: 3200}
    )  # fmt: skip
    seeds = []
    for kind in ("JPEG", "TIFF", "PNG"):
        stream = io.BytesIO()
        Image.new("RGB", (60, 40)).save(stream, kind, exif=tags)
        seeds.append(stream.getvalue())
    return [
        Reader("jpeg", "it.jpg", (seeds[0],), read_exif, False),
        Reader("tiff frame", "it.tif", (seeds[1],), read_exif, False),
        Reader("png", "it.png", (seeds[2],), read_exif, False),
        Reader("raw tags", "it.nef", (seeds[1],), raw_tags, False),
    ]
