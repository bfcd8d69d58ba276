"""Candidates of an invented country, scattered by a seed and written in batches.

Most lie anywhere, a third in clusters as villages do. Beside the candidates there are houses,
masts and poles (a twentieth as many) that only stand in the way, rows that stand for a thing
already listed (one in a thousand, half of them across a line between two squares of 1,024 cells)
and rows that must be refused (one in a thousand).
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

BATCH: Final = 20_000
SQUARE_CELLS: Final = 1024
COLUMNS: Final = ("name", "lat", "lon", "height_m", "width_m", "kind", "access", "note")

LONE: Final = (
    *("tree", "tree", "tree", "ruin", "barn", "hut", "rock", "chapel", "tower", "cairn"),
    *("wayside cross", "windpump", "silo", "standing stone", "church", "beacon"),
)
CLUTTER: Final = ("house", "house", "house", "mast", "pole", "pylon")
_FIRST = ("Alder", "Brack", "Corran", "Dunnet", "Esk", "Farrow", "Garth", "Hollin", "Ivel", "Keld")
_SECOND = ("edge", "moor", "fell", "holm", "rigg", "side", "beck", "thwaite", "law", "wick")


@dataclass(frozen=True)
class Scattering:
    """How many candidates over which square: its side in cells, cell, north-west corner, CRS.

    ``roads`` are only written to OpenStreetMap extracts, to swell them as real ones are.
    """

    count: int
    side_cells: int
    cell_m: float
    west_m: float
    north_m: float
    crs: str
    seed: int = 7
    roads: int = 0

    def batches(self) -> Iterator[list[dict[str, Any]]]:
        """Give rows, some 20,000 at a time, the same for the same seed."""
        rng = np.random.default_rng(self.seed)
        for start in range(0, self.count, BATCH):
            yield self._batch(rng, start, min(BATCH, self.count - start))

    def _batch(self, rng: np.random.Generator, start: int, lone: int) -> list[dict[str, Any]]:
        odd = max(1, lone // 1000)
        n = lone + lone // 20 + odd
        x, y = self._places(rng, n)
        kinds = [LONE[k] for k in rng.integers(0, len(LONE), n)]
        kinds[lone : lone + lone // 20] = [
            CLUTTER[k] for k in rng.integers(0, len(CLUTTER), lone // 20)
        ]
        tall, wide = np.round(rng.uniform(2.0, 14.0, n), 1), np.round(rng.uniform(1.0, 9.0, n), 1)
        known, named = rng.random((2, n)) < [[0.6], [0.5]]
        words = rng.integers(0, len(_FIRST), (n, 2))
        # The last rows of a batch are the ones to be refused; doubles follow.
        tall[n - odd :], known[n - odd :] = 9_000.0, True
        first = rng.choice(lone, odd, replace=False)
        across = first[: (odd + 1) // 2]
        line_m = SQUARE_CELLS * self.cell_m
        x[across] = self.west_m + np.rint((x[across] - self.west_m) / line_m) * line_m + 0.25
        lon, lat = self._degrees(x, y)
        there_lon, there_lat = self._degrees(x[first] - 0.5, y[first])
        rows = [
            {
                "name": f"{_FIRST[words[i, 0]]} {_SECOND[words[i, 1]]}" if named[i] else "",
                "lat": round(float(lat[i]), 7),
                "lon": round(float(lon[i]), 7),
                "height_m": float(tall[i]) if known[i] else None,
                "width_m": float(wide[i]) if known[i] and i % 3 else None,
                "kind": kinds[i],
                "access": ("", "open", "ask first", "closed")[i % 4 if i % 5 == 0 else 0],
                "note": f"number {start + i}" if i % 50 == 0 else "",
            }
            for i in range(n)
        ]
        rows += [
            {**rows[i], "name": "Said twice", "lat": round(float(b), 7), "lon": round(float(a), 7)}
            for i, a, b in zip(first, there_lon, there_lat, strict=True)
        ]
        return [rows[i] for i in rng.permutation(len(rows))]

    def _places(self, rng: np.random.Generator, n: int) -> tuple[np.ndarray, np.ndarray]:
        """Metres of the grid, 3 km or a twentieth of the side away from its edges."""
        side = self.side_cells * self.cell_m
        edge = min(3_000.0, side / 20.0)
        spots = rng.uniform(edge, side - edge, (2, n))
        villages = rng.uniform(edge, side - edge, (2, max(1, n // 200)))
        in_one = rng.random(n) < 1.0 / 3.0
        which = rng.integers(0, villages.shape[1], n)
        spots = np.where(in_one, villages[:, which] + rng.normal(0.0, 800.0, (2, n)), spots)
        spots = np.clip(spots, edge, side - edge)
        return self.west_m + spots[0], self.north_m - spots[1]

    def _degrees(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        from pyproj import Transformer

        return Transformer.from_crs(self.crs, "EPSG:4326", always_xy=True).transform(x, y)


def _csv(scattering: Scattering, file: Path) -> None:
    with file.open("w", encoding="utf-8", newline="") as text:
        out = csv.DictWriter(text, COLUMNS)
        out.writeheader()
        for rows in scattering.batches():
            out.writerows(rows)


def _feature(row: dict[str, Any]) -> str:
    words = {key: value for key, value in row.items() if key not in ("lat", "lon") and value}
    point = {"type": "Point", "coordinates": [row["lon"], row["lat"]]}
    return json.dumps({"type": "Feature", "properties": words, "geometry": point})


def _geojson(scattering: Scattering, file: Path) -> None:
    with file.open("w", encoding="utf-8") as text:
        text.write('{"type": "FeatureCollection", "features": [\n')
        between = ""
        for rows in scattering.batches():
            text.write(between + ",\n".join(map(_feature, rows)))
            between = ",\n"
        text.write("\n]}\n")


def _geojson_sequence(scattering: Scattering, file: Path) -> None:
    with file.open("w", encoding="utf-8") as text:
        for rows in scattering.batches():
            text.writelines(f"{_feature(row)}\n" for row in rows)


def _geopackage(scattering: Scattering, file: Path) -> None:
    import geopandas
    import pandas as pd

    file.unlink(missing_ok=True)
    for k, rows in enumerate(scattering.batches()):
        table = pd.DataFrame(rows)
        points = geopandas.points_from_xy(table.pop("lon"), table.pop("lat"))
        frame = geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
        frame.to_file(file, layer="places", driver="GPKG", mode="a" if k else "w")


def _geoparquet(scattering: Scattering, file: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq
    import shapely

    geometry = {"encoding": "WKB", "geometry_types": ["Point"]}
    geo = {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": geometry}}
    schema = pa.schema(
        [(key, pa.float64() if key.endswith("_m") else pa.string()) for key in COLUMNS
         if key not in ("lat", "lon")] + [("geometry", pa.binary())],
        metadata={"geo": json.dumps(geo)},
    )  # fmt: skip
    with pq.ParquetWriter(file, schema) as out:
        for rows in scattering.batches():
            places = np.array([(row.pop("lon"), row.pop("lat")) for row in rows])
            wkb = shapely.to_wkb(shapely.points(places))
            full = [{**row, "geometry": one} for row, one in zip(rows, wkb, strict=True)]
            out.write_table(pa.Table.from_pylist(full, schema=schema))


def _osm_tags(row: dict[str, Any]) -> dict[str, str]:
    from backbearing.scouting.reading.kinds import KINDS

    tags = {key: (values or ("yes",))[0] for key, values in KINDS[row["kind"]].osm[0]}
    access = {"open": "yes", "ask first": "permit", "closed": "private"}.get(row["access"])
    named = (
        ("name", row["name"]), ("height", row["height_m"]), ("width", row["width_m"]),
        ("access", access), ("description", row["note"]),
    )  # fmt: skip
    return {**tags, **{key: str(value) for key, value in named if value}}


def _osm(scattering: Scattering, file: Path) -> None:
    """Nodes for all things, then a square way about each hundredth, then roads."""
    import osmium
    from osmium.osm.mutable import Node, Way

    file.unlink(missing_ok=True)
    number, outlines = 0, []
    out = osmium.SimpleWriter(str(file))
    for rows in scattering.batches():
        for row in rows:
            number += 1
            place = (row["lon"], row["lat"])
            if number % 100:
                out.add_node(Node(id=number, version=1, location=place, tags=_osm_tags(row)))
                continue
            outlines.append((number, _osm_tags(row)))
            for k, (east, north) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
                corner = (place[0] + 1e-4 * east, place[1] + 6e-5 * north)
                out.add_node(Node(id=number + k, version=1, location=corner))
            number += 3
    rng = np.random.default_rng(scattering.seed)
    first = number + 1
    for _ in range(scattering.roads):
        steps = rng.normal(0.0, 2e-4, (100, 2)).cumsum(axis=0)
        x, y = scattering._places(rng, 1)
        lon, lat = scattering._degrees(x, y)
        for east, north in steps:
            number += 1
            out.add_node(Node(id=number, version=1, location=(lon[0] + east, lat[0] + north)))
    way = 0
    for way, (corner, tags) in enumerate(outlines, start=1):
        ring = [corner, corner + 1, corner + 2, corner + 3, corner]
        out.add_way(Way(id=way, version=1, nodes=ring, tags=tags))
    for k in range(scattering.roads):
        nodes = list(range(first + 100 * k, first + 100 * (k + 1)))
        tags = {"highway": "track", "name": "A road"}
        out.add_way(Way(id=way + 1 + k, version=1, nodes=nodes, tags=tags))
    out.close()


FORMATS: Final[dict[str, tuple[str, Callable[[Scattering, Path], None]]]] = {
    "csv": ("candidates.csv", _csv),
    "geojson": ("candidates.geojson", _geojson),
    "geojsonl": ("candidates.geojsonl", _geojson_sequence),
    "gpkg": ("candidates.gpkg", _geopackage),
    "parquet": ("candidates.parquet", _geoparquet),
    "osm": ("candidates.osm.pbf", _osm),
}


def write_candidates(scattering: Scattering, folder: Path, kind: str) -> Path:
    """Write the candidates in one of `FORMATS`, a batch at a time."""
    name, write = FORMATS[kind]
    file = folder / name
    write(scattering, file)
    return file
