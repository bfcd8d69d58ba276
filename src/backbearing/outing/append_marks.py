"""Put skyline marks at the end of an outing file, and write tables of them."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import OutingError, Where
from backbearing.base.input_files import checked_path, read_text
from backbearing.base.numbers import rounded
from backbearing.outing.load import outing_of
from backbearing.outing.mark_rows import COLUMNS
from backbearing.outing.marks_request import SUBJECT, MarkRequest
from backbearing.outing.toml_edit import toml_value
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.outing.write_keys import replaced_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.outing.marks_request import ReadFrom

PLACES: Final = {"azimuth_deg": 3, "compass_deg": 3, "altitude_deg": 3, "sigma_deg": 3,
                 "azimuth_sigma_deg": 3, "distance_m": 1}  # fmt: skip
"""Decimals of what is written; a thousandth of a degree is far below any reading."""


def append_marks(path: str | Path, marks: Sequence[MarkRequest]) -> Path:
    r"""Put marks at the end of an outing file, a section each; nothing else in it changes.

    The new file takes the old one's place at once, and only if it holds together as an outing.

    Returns
    -------
    Path
        The file written; where it is a link, what the link leads to.

    Raises
    ------
    OutingError
        When the file is missing or no outing, or would be none with the marks.
    WriteRefusedError
        When the disk refuses.
    """
    file = checked_path(path)
    text = read_text(file, "an outing", largest_bytes=LARGEST_BYTES)
    parse_outing_text(text, file)
    line_end = "\r\n" if "\r\n" in text else "\n"
    start = text if not text or text.endswith("\n") else text + line_end
    made = start + marks_text(marks, line_end=line_end)
    if len(made.encode("utf-8")) > LARGEST_BYTES:
        raise OutingError(
            f"{len(marks)} marks make the outing larger than one is read",
            hint="write them to a table, and name it as skyline_marks under [ground]",
            where=Where(file.name),
            file=str(file),
        )
    outing_of(parse_outing_text(made, file), file)
    return replaced_text(file, made)


def marks_text(
    marks: Sequence[MarkRequest], *, notes: Sequence[str] = (), line_end: str = "\n"
) -> str:
    """Write marks as sections, each with an empty line before it.

    Parameters
    ----------
    marks : sequence of MarkRequest
    notes : sequence of str
        A comment for each mark's first line, or none at all.
    line_end : str
    """
    heads = [f"[[skyline_mark]]  # {_on_one_line(note)}" for note in notes]
    heads = heads or ["[[skyline_mark]]"] * len(marks)
    return "".join(
        line_end + line_end.join([head, *_lines(one)]) + line_end
        for head, one in zip(heads, marks, strict=True)
    )


def _on_one_line(note: str) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in note)


def _lines(mark: MarkRequest) -> list[str]:
    """The keys of one mark that are not as when they are left out."""
    lines = []
    for field in fields(mark):
        value = getattr(mark, field.name)
        if field.name == "read_from":
            if value != SUBJECT:
                lines.append(f"from = {_place(value)}")
        elif value is not None and value != field.default:
            lines.append(f"{field.name} = {toml_value(_rounded(field.name, value))}")
    return lines


def _rounded(name: str, value: float) -> float:
    return rounded(value, PLACES[name]) if name in PLACES else value


def _place(place: ReadFrom) -> str:
    if place.lat is not None and place.lon is not None:
        return f"{{ lat = {toml_value(place.lat)}, lon = {toml_value(place.lon)} }}"
    if place.bearing_deg is not None and place.distance_m is not None:
        bearing, distance = toml_value(place.bearing_deg), toml_value(place.distance_m)
        return f"{{ bearing_deg = {bearing}, distance_m = {distance} }}"
    return toml_value(place.name)


def marks_csv(marks: Sequence[MarkRequest]) -> str:
    """Write marks as a table that `read_marks` reads.

    Raises
    ------
    OutingError
        For marks read from a place that a table cannot name.
    """
    rows = [_cells(one) for one in marks]
    names = [name for name in COLUMNS if any(row.get(name) is not None for row in rows)]
    lines = [",".join(names)]
    lines += [",".join(_cell(name, row.get(name)) for name in names) for row in rows]
    return "\n".join(lines) + "\n"


def _cells(mark: MarkRequest) -> dict[str, float | None]:
    place = mark.read_from
    if place != SUBJECT and place.lat is None:
        raise OutingError(
            f"A table cannot say that marks were read from {place.words}",
            hint="name the place by its latitude and longitude, or write into the outing",
        )
    row = {name: getattr(mark, name) for name in COLUMNS if hasattr(mark, name)}
    return row | {"from_lat": place.lat, "from_lon": place.lon}


def _cell(name: str, value: float | None) -> str:
    return "" if value is None else repr(_rounded(name, value))
