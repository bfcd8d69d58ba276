"""What stands behind the numbers of a ranking, a review or a year written to a file."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from backbearing.base.errors import OutingError
from backbearing.base.input_files import MB, check_readable, read_text, shown_path
from backbearing.base.sqlite_layers import geopackage_trouble
from backbearing.explain.things import frames_of, named, nights_of, sites_of

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.explain.plan import Explanation
    from backbearing.explain.things import Thing

MOST_BYTES: Final = 500 * MB

WHAT: Final = "a ranking, a review or a year"

RANKINGS: Final = ("backbearing-scouting", "backbearing-ranking-part")
"""Formats of a ranking's JSON: the whole, and what `ranked` reads back of one in a folder."""

LACKS: Final = {
    ".csv": "weights, limits, the nights looked through, and minutes night by night",
    ".geojson": "weights, limits, the nights looked through, and minutes night by night",
    ".gpkg": "minutes night by night",
    ".json": "what this version explains and an older one did not write",
}
"""What a file does not carry, by its suffix."""


class ExplainedFile(NamedTuple):
    """The numbers of a file that a name means.

    Attributes
    ----------
    kind : str
        ``"ranking"``, ``"review"`` or ``"year"``.
    things : list of Thing
        All sites, the review and its frames, or the year's nights with their subjects and lenses.
    chosen : list of (Thing, list of Explanation)
        Of the name; empty without one.
    lacks : str
        What of their inputs the file does not carry; empty where it carries all.
    """

    kind: str
    things: list[Thing]
    chosen: list[tuple[Thing, list[Explanation]]]
    lacks: str


def explained_file(path: Path, name: str | None) -> ExplainedFile:
    """Find what a name means in a file; nothing is computed.

    Raises
    ------
    OutingError
        When the file cannot be read or holds neither.
    NothingFoundError
        When nothing has that name; the message lists the nearest ones.
    """
    document = _read(path)
    kind, things = _things_of(document)
    if name is None:
        return ExplainedFile(kind, things, [], "")
    meant = named(things, name)
    wanting = any(thing.lacks(keys) for thing, keys in meant)
    return ExplainedFile(
        kind,
        things,
        [(thing, thing.explained(keys)) for thing, keys in meant],
        LACKS[path.suffix.lower()] if wanting else "",
    )


def _things_of(document: dict[str, Any]) -> tuple[str, list[Thing]]:
    if "candidates" in document:
        return "ranking", sites_of(document)
    if "year" in document:
        return "year", nights_of(document)
    return "review", frames_of(document)


def _read(path: Path) -> dict[str, Any]:
    suffix = path.suffix.lower()
    if suffix == ".csv":
        rows = _of_csv(read_text(path, WHAT, largest_bytes=MOST_BYTES))
    elif suffix == ".gpkg":
        return _of_geopackage(path)
    else:
        try:
            document = json.loads(read_text(path, WHAT, largest_bytes=MOST_BYTES))
        except (ValueError, RecursionError) as problem:
            raise OutingError(
                f"{shown_path(path)} is no JSON ({problem})", hint="write it again"
            ) from problem
        if any(_is_of(document, form, "candidates") for form in RANKINGS):
            return dict(document)
        if _is_of(document, "backbearing-review", "review") and _are_rows(
            document["review"].get("frames") if isinstance(document["review"], dict) else None
        ):
            return dict(document)
        if _is_year(document):
            return dict(document)
        rows = _of_features(document)
    if not rows or not all("score" in row and "part_dark" in row for row in rows):
        raise _no_such_file(path)
    return {"candidates": rows}


def _is_of(document: Any, form: str, key: str) -> bool:
    return (
        isinstance(document, dict)
        and document.get("format") == form
        and (key == "review" or _are_rows(document.get(key)))
        and key in document
    )


def _is_year(document: Any) -> bool:
    """Whether a document holds a year in all its parts that are looked into."""
    if not isinstance(document, dict) or document.get("format") != "backbearing-year":
        return False
    year = document.get("year")
    if not isinstance(year, dict) or not _are_rows(year.get("subjects")):
        return False
    rule, count = year.get("rule"), len(year["subjects"])
    return (rule is None or isinstance(rule, dict)) and all(
        _are_rows(year.get(kept))
        and all(
            _are_rows(night.get("subjects"))
            and len(night["subjects"]) == count
            and all(_are_rows(at.get("lenses")) for at in night["subjects"])
            for night in year[kept]
        )
        for kept in ("best", "spare")
    )


def _are_rows(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, dict) for one in value)


def _no_such_file(path: Path) -> OutingError:
    return OutingError(
        f"{shown_path(path)} holds no ranking, no review and no year",
        hint="write one with `backbearing scout --json`, `review --json` or `year --json`",
        file=str(path),
    )


def _of_csv(text: str) -> list[dict[str, Any]]:
    reader = csv.DictReader(io.StringIO(text, newline=""))
    return [{str(key): _number(value) for key, value in row.items()} for row in reader]


def _number(text: Any) -> Any:
    """A cell as a number or a truth where it is one; None where it is empty."""
    if not isinstance(text, str) or text in ("True", "False"):
        return None if text is None else text == "True" if isinstance(text, str) else text
    try:
        return int(text) if text.lstrip("-").isdigit() else float(text)
    except ValueError:
        return text or None


def _of_features(document: Any) -> list[dict[str, Any]]:
    """The properties of a GeoJSON's features, with their points."""
    features = document.get("features") if isinstance(document, dict) else None
    if not _are_rows(features):
        return []
    rows = []
    for feature in features or ():
        own, shape = feature.get("properties"), feature.get("geometry")
        at = shape.get("coordinates") if isinstance(shape, dict) else None
        if not isinstance(own, dict) or not isinstance(at, list) or len(at) < 2:
            return []
        rows.append({**own, "lon": at[0], "lat": at[1]})
    return rows


def _of_geopackage(path: Path) -> dict[str, Any]:
    import pandas
    import pyogrio

    check_readable(path, WHAT, largest_bytes=MOST_BYTES)
    trouble = geopackage_trouble(path)
    if trouble:
        raise OutingError(f"{shown_path(path)} {trouble}", file=str(path))
    layers = {str(name) for name, _ in pyogrio.list_layers(path)}
    if not {"candidates", "about"} <= layers:
        raise _no_such_file(path)
    frame = pyogrio.read_dataframe(path, layer="candidates")
    about = pyogrio.read_dataframe(path, layer="about", read_geometry=False)
    told = dict(zip(about["about"].astype(str), about["told"].astype(str), strict=True))
    rows = frame.drop(columns="geometry").to_dict("records")
    for row, point in zip(rows, frame.geometry, strict=True):
        row.update({k: None for k, v in row.items() if pandas.isna(v)})
        row["lat"], row["lon"] = float(point.y), float(point.x)
    document = {"candidates": rows, "first_night": told.get("first night")}
    document |= {"nights": _number(told.get("nights")), "zone": told.get("zone")}
    for part, before in (("asked", "asked "), ("weights", "weight ")):
        document[part] = {
            key.removeprefix(before): _number(value)
            for key, value in told.items()
            if key.startswith(before)
        }
    return document
