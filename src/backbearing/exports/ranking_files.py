"""A ranking as CSV, GeoPackage, GeoJSON and JSON: every part, fact and reason of every candidate.

Text is made harmless as in the plan's own exports; numbers are written bare, unknown ones
left empty.
"""

from __future__ import annotations

import csv
import io
import math
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_free, write_file
from backbearing.base.numbers import num, rounded
from backbearing.base.plain import plain
from backbearing.exports.csv import defused
from backbearing.exports.file_text import NOT_COLUMN, visible
from backbearing.exports.plan_json import dumps

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas

    from backbearing.plan.ranking import Ranking

VERSION: Final = 1
"""Of the JSON document, told in ``docs/scouting.md``."""

DECIMALS: Final = 6
"""Of numbers in CSV: a tenth of a metre in degrees, and more than any other has."""

PLACES: Final = 7
"""Of degrees in GeoJSON: about a centimetre."""

LAYER: Final = "candidates"
ABOUT: Final = "about"


def write_ranking(ranking: Ranking, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write a ranking to a .csv, .gpkg or .geojson file.

    Parameters
    ----------
    ranking : Ranking
    path : str or Path
        The suffix says which format.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    WriteRefusedError
        For another suffix, or a file in the way; nothing on disk changes then.
    """
    path = Path(path)
    formats: dict[str, Callable[[Ranking], str | bytes]] = {
        ".csv": ranking_csv,
        ".gpkg": ranking_geopackage,
        ".geojson": ranking_geojson,
    }
    if path.suffix.lower() not in formats:
        raise WriteRefusedError(
            f"{path.name} does not say what to write",
            hint="end its name in .csv, .gpkg or .geojson",
            file=str(path),
        )
    check_free(path, overwrite=overwrite)
    return write_file(path, formats[path.suffix.lower()](ranking), overwrite=overwrite)


def ranking_csv(ranking: Ranking) -> str:
    r"""Give a ranking as CSV text [RFC4180]_ in rank order, with ``\r\n`` line ends.

    The columns are those of `Ranking.frame`, ``lat`` and ``lon`` after ``kind``.
    """
    frame = ranking.frame
    columns = {
        str(name): [
            None if gone else v for v, gone in zip(frame[name], frame[name].isna(), strict=True)
        ]
        for name in frame.columns
        if name != "geometry"
    }
    at = list(columns).index("kind") + 1
    names = [*list(columns)[:at], "lat", "lon", *list(columns)[at:]]
    columns["lat"], columns["lon"] = list(frame.geometry.y), list(frame.geometry.x)
    sheet = io.StringIO(newline="")
    table = csv.writer(sheet, lineterminator="\r\n")
    table.writerow(names)
    for row in zip(*(columns[name] for name in names), strict=True):
        table.writerow([_cell(value) for value in row])
    return sheet.getvalue()


def ranking_geojson(ranking: Ranking) -> str:
    """Give a ranking as a FeatureCollection [RFC7946]_ of points in rank order.

    The properties are the columns of `Ranking.frame`; unknown ones are null.
    """
    frame = ranking.frame
    rows = frame.drop(columns="geometry").to_dict("records")
    features = [
        {
            "type": "Feature",
            "geometry": {
                "type": "Point",
                "coordinates": [rounded(float(lon), PLACES), rounded(float(lat), PLACES)],
            },
            "properties": {str(key): _known(value) for key, value in row.items()},
        }
        for row, lon, lat in zip(rows, frame.geometry.x, frame.geometry.y, strict=True)
    ]
    return dumps({"type": "FeatureCollection", "features": features})


def ranking_geopackage(ranking: Ranking) -> bytes:
    """Give a ranking as the bytes of a GeoPackage [GPKG]_.

    The layer ``candidates`` holds `Ranking.frame`; the table ``about`` the span, the
    weights, the notes and the rows that were left out.

    Raises
    ------
    WriteRefusedError
        When there is no room to put the file together.
    """
    try:
        with tempfile.TemporaryDirectory() as folder:
            draft = Path(folder) / "ranking.gpkg"
            _held(ranking.frame).to_file(
                draft, layer=LAYER, driver="GPKG", engine="pyogrio", geometry_type="Point"
            )
            _about(ranking, draft)
            return draft.read_bytes()
    except (OSError, RuntimeError) as problem:
        raise WriteRefusedError(
            f"The GeoPackage could not be put together ({problem}); nothing was changed."
        ) from problem


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return defused(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            return ""
        return num(value, DECIMALS).rstrip("0").rstrip(".")
    return str(value)


def _held(frame: geopandas.GeoDataFrame) -> geopandas.GeoDataFrame:
    """The frame with text that a database can hold; a string column holds no other."""
    import pandas

    frame = frame.copy()
    for name in frame.columns:
        if name != "geometry" and pandas.api.types.is_object_dtype(frame[name].dtype):
            frame[name] = [visible(v, NOT_COLUMN) if isinstance(v, str) else v for v in frame[name]]
    return frame


def _about(ranking: Ranking, path: Path) -> None:
    import pandas
    import pyogrio

    rows = [
        ("first night", ranking.first_night.isoformat()),
        ("nights", str(ranking.nights)),
        ("zone", ranking.zone),
        ("lenses, mm", ", ".join(f"{num(mm)}" for mm in ranking.lenses_mm)),
        ("weights", repr(ranking.weights)),
        *((f"weight {name}", str(value)) for name, value in asdict(ranking.weights).items()),
        *((f"asked {name}", str(value)) for name, value in plain(ranking.asked).items()),
        *(("note", note) for note in ranking.notes),
        *(("left out", row.reason) for row in ranking.rejected),
    ]
    table = pandas.DataFrame(
        [(about, visible(told, NOT_COLUMN)) for about, told in rows], columns=["about", "told"]
    )
    pyogrio.write_dataframe(table, path, layer=ABOUT, driver="GPKG", append=True)


def ranking_document(ranking: Ranking) -> dict[str, Any]:
    """Give a ranking as lists and dictionaries; unknown numbers are null.

    Each candidate's ``minutes`` are one list a night, with one number a lens.
    """
    frame = ranking.frame
    candidates = []
    for i, row in enumerate(frame.drop(columns="geometry").to_dict("records")):
        one = {str(key): _known(value) for key, value in row.items()}
        one["lat"], one["lon"] = float(frame.geometry.y.iloc[i]), float(frame.geometry.x.iloc[i])
        one["best_nights_minutes"] = ranking.best_nights(i)
        one["minutes"] = ranking.minutes[i].tolist()
        candidates.append(one)
    return {
        "format": "backbearing-scouting",
        "version": VERSION,
        "first_night": ranking.first_night.isoformat(),
        "nights": ranking.nights,
        "zone": ranking.zone,
        "lenses_mm": list(ranking.lenses_mm),
        "lens_names": list(ranking.lens_names),
        "weights": asdict(ranking.weights),
        "asked": plain(ranking.asked),
        "candidates": candidates,
        "rejected": [{"row": one.row, "reason": one.reason} for one in ranking.rejected],
        "notes": list(ranking.notes),
    }


def _known(value: Any) -> Any:
    import pandas as pd

    if value is pd.NA or (isinstance(value, float | np.floating) and not np.isfinite(value)):
        return None
    return value.item() if isinstance(value, np.generic) else value
