"""GeoPackages held to plain tables before a driver opens them [GPKG]_.

A GeoPackage is an SQLite file, and a layer in it may be a view: a query of the file's author
that runs without end or asks for any amount of memory. Only tables are read here.
"""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

if TYPE_CHECKING:
    from pathlib import Path

MOST_LAYERS: Final = 1_000
_MAGIC: Final = b"SQLite format 3\x00"
_OWN_MARKS: Final = (b"GPKG", b"GP10", b"GP11")
"""Application ids of GeoPackage 1.2 and later, 1.0 and 1.1, at byte 68 of the file."""


def geopackage_trouble(file: Path) -> str:
    """Say in a few words why a file is no GeoPackage to be read, or nothing.

    Parameters
    ----------
    file : Path
        A regular file.
    """
    # Any other format hiding behind this name would reach other drivers.
    with file.open("rb") as start:
        head = start.read(72)
    if head[:16] != _MAGIC or head[68:72] not in _OWN_MARKS:
        return "is not a GeoPackage inside; save it as one"
    try:
        # immutable: neither a lock nor a journal is looked for beside it.
        base = sqlite3.connect(f"file:{quote(str(file))}?mode=ro&immutable=1", uri=True)
        try:
            return _layers_trouble(base)
        finally:
            base.close()
    except (sqlite3.Error, UnicodeDecodeError) as problem:
        return f"cannot be read as a GeoPackage ({str(problem)[:120]})"


def _layers_trouble(base: sqlite3.Connection) -> str:
    kinds = {
        str(name): (str(kind), str(sql or ""))
        for name, kind, sql in base.execute(
            "SELECT name, type, substr(sql, 1, 200) FROM sqlite_master WHERE type IN "
            "('table', 'view') LIMIT 20000"
        )
    }
    # Read as a table only: a view of this name would run here.
    for name in ("gpkg_contents", "gpkg_spatial_ref_sys", "gpkg_geometry_columns"):
        if kinds.get(name, ("table", ""))[0] != "table":
            return f"has a view for {name}; save it with tables alone"
    if "gpkg_contents" not in kinds:
        return "lists no layers; save it as a GeoPackage"
    named = base.execute(
        "SELECT table_name FROM gpkg_contents WHERE data_type = 'features' LIMIT ?",
        (MOST_LAYERS + 1,),
    ).fetchall()
    if len(named) > MOST_LAYERS:
        return f"has more than {MOST_LAYERS:,} layers; split it"
    for (layer,) in named:
        kind, sql = kinds.get(str(layer), ("", ""))
        virtual = sql.upper().split()[:2] == ["CREATE", "VIRTUAL"]
        if kind != "table" or virtual:
            shown = "".join(c if c.isprintable() else "?" for c in str(layer)[:40])
            return f"has a query for its layer {shown!r}, not a table; save its rows as a layer"
    return ""
