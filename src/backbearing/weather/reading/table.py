"""A plain table of cloud, CSV or JSON: times with offset, cover by layer, unit stated.

See docs/cloud.md for the layout.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import math
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import SkyError
from backbearing.base.input_files import read_text
from backbearing.weather.forecast import LAYERS, TOTAL, CloudForecast
from backbearing.weather.reading.values import shares

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

LARGEST_BYTES: Final = 20_000_000
MOST_ROWS: Final = 200_000
FORMAT: Final = "cloud-cover"

ROW_REACH_M: Final = 25_000.0
"""A row speaks for so far round its place (common practice, no source)."""

UNITS: Final = {"percent": "%", "fraction": "1", "oktas": "oktas"}


class _Rows(NamedTuple):
    """Rows as they stand in the file, the unit of each layer, and the run's time."""

    rows: list[Mapping[str, Any]]
    units: dict[str, str]
    run: dt.datetime | None


def read_table(path: Path, *, lat: float, lon: float) -> CloudForecast:
    """Read a CSV or JSON table; rows without a place are those of the place asked for.

    Raises
    ------
    SkyError
        Names the file, the row and what to write instead.
    """
    text = read_text(path, "cloud", largest_bytes=LARGEST_BYTES, error=SkyError)
    found = _json(text, path) if path.suffix.lower() == ".json" else _csv(text, path)
    if not found.rows:
        raise SkyError(f"{path.name} holds no rows of cloud.", file=str(path))
    if not found.units:
        raise SkyError(
            f"{path.name} has no column of cloud",
            hint="name one low_percent, middle_percent, high_percent or total_percent, or with "
            "_fraction or _oktas",
            file=str(path),
        )
    times = [_time(row.get("time"), path, i) for i, row in enumerate(found.rows, start=1)]
    places = [_place(row, (lat, lon), path, i) for i, row in enumerate(found.rows, start=1)]
    moments, at_time = np.unique(np.array(times, dtype="datetime64[us]"), return_inverse=True)
    points, at_point = np.unique(np.array(places), axis=0, return_inverse=True)
    at_point = np.ravel(at_point)
    cover = {}
    for layer, unit in found.units.items():
        values = [
            _number(row.get(_column(layer, unit, found)), layer, path, i)
            for i, row in enumerate(found.rows, start=1)
        ]
        grid = np.full((len(moments), len(points)), np.nan, dtype=np.float32)
        grid[at_time, at_point] = shares(values, UNITS[unit], f"{layer} cloud", path.name)
        cover[layer] = grid
    return CloudForecast(
        path.name, moments, points[:, 0].copy(), points[:, 1].copy(), cover, ROW_REACH_M, found.run
    )


def _column(layer: str, unit: str, found: _Rows) -> str:
    named = f"{layer}_{unit}"
    return named if any(named in row for row in found.rows[:1]) else layer


def _csv(text: str, path: Path) -> _Rows:
    try:
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        names = [str(name).strip().lower() for name in reader.fieldnames or []]
        rows: list[Mapping[str, Any]] = []
        for row in reader:
            if None in row or None in row.values():
                raise _refused(path, len(rows) + 1, "has more or fewer fields than the first line")
            rows.append({n: str(v).strip() for n, v in zip(names, row.values(), strict=True)})
            _check_count(rows, path)
    except csv.Error as problem:
        raise SkyError(
            f"{path.name} is no table of comma-separated values ({problem}).", file=str(path)
        ) from problem
    units = {}
    for name in names:
        layer, _, unit = name.partition("_")
        if layer in (*LAYERS, TOTAL) and unit in UNITS:
            units[layer] = unit
    run = next((row["run"] for row in rows if row.get("run")), None)
    return _Rows(rows, units, None if run is None else _moment(run, path, "run"))


def _json(text: str, path: Path) -> _Rows:
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise SkyError(
            f"{path.name} is no JSON ({str(problem)[:80]}).", file=str(path)
        ) from problem
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise SkyError(
            f'{path.name} does not begin as a table of cloud', hint=f'write "format": "{FORMAT}"',
            file=str(path),
        )  # fmt: skip
    unit, rows = document.get("unit"), document.get("rows")
    if unit not in UNITS:
        raise SkyError(
            f"{path.name} does not say in which unit its cloud is",
            hint='write "unit": "percent", "fraction" or "oktas"',
            file=str(path),
        )
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise SkyError(f'{path.name} has no list of "rows".', file=str(path))
    _check_count(rows, path)
    told = {layer: str(unit) for layer in (*LAYERS, TOTAL) if any(layer in row for row in rows)}
    run = document.get("run")
    return _Rows(rows, told, None if run is None else _moment(run, path, "run"))


def _check_count(rows: list[Any], path: Path) -> None:
    if len(rows) > MOST_ROWS:
        raise SkyError(f"{path.name} holds more than {MOST_ROWS:,} rows.", file=str(path))


def _refused(path: Path, row: int, what: str) -> SkyError:
    return SkyError(f"{path.name}: row {row} {what}.", file=str(path), row=row)


def _time(value: Any, path: Path, row: int) -> np.datetime64:
    when = _moment(value, path, f"row {row}'s time")
    return np.datetime64(when.replace(tzinfo=None), "us")


def _moment(value: Any, path: Path, what: str) -> dt.datetime:
    """Read an instant with its offset from UTC, ISO 8601."""
    try:
        when = dt.datetime.fromisoformat(str(value).strip())
    except ValueError:
        when = None
    if when is None or when.utcoffset() is None:
        raise SkyError(
            f"{path.name}: {what} is {str(value)[:40]!r}",
            hint="write it with its offset, such as 2027-06-05T22:00+02:00 or 2027-06-05T20:00Z",
            file=str(path),
        )
    try:
        return when.astimezone(dt.UTC)
    except OverflowError:
        raise SkyError(f"{path.name}: {what} is no time of this age.", file=str(path)) from None


def _place(
    row: Mapping[str, Any], site: tuple[float, float], path: Path, number: int
) -> tuple[float, float]:
    told = [row.get(key) for key in ("lat", "lon")]
    if all(value is None or value == "" for value in told):
        return site
    lat, lon = (
        _number(value, key, path, number) for value, key in zip(told, ("lat", "lon"), strict=True)
    )
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        raise _refused(path, number, "has no place: lat is -90 to 90, lon -180 to 180 degrees")
    return lat, lon


def _number(value: Any, key: str, path: Path, row: int) -> float:
    """A number, or NaN where nothing is written."""
    if value is None or value == "":
        return math.nan
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _refused(path, row, f"has {key} = {str(value)[:40]!r}, which is no number")
    try:
        found = float(value)
    except (ValueError, OverflowError):
        found = math.inf
    if math.isinf(found):
        raise _refused(path, row, f"has {key} = {str(value)[:40]!r}, which is no number")
    return found
