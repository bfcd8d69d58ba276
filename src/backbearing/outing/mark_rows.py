"""Skyline marks from the outing's sections and from a table of comma-separated values.

The table has a first line of column names. ``altitude_deg`` and one of ``azimuth_deg`` and
``compass_deg`` must be there; ``declination_deg``, ``sigma_deg``, ``azimuth_sigma_deg``,
``distance_m``, ``eye_height_m``, ``from_lat`` and ``from_lon`` may be, in any order, and an empty
cell is one that was not written. Lines that begin with # are left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError, Where
from backbearing.outing.marks_request import (
    MARK_LIMITS,
    MOST_MARKS,
    MarkRequest,
    MarksRequest,
    ReadFrom,
)
from backbearing.outing.number_table import NumberTable

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MARK_KEYS: Final = ("skyline_marks", "marks_correct", "marks_tilt_deg", "marks_turn_deg")
"""Keys of [ground] that belong to the marks."""

COLUMNS: Final = (
    "azimuth_deg",
    "compass_deg",
    "declination_deg",
    "altitude_deg",
    "sigma_deg",
    "azimuth_sigma_deg",
    "distance_m",
    "eye_height_m",
    "from_lat",
    "from_lon",
)

MARKS_TABLE: Final = NumberTable(
    "skyline marks",
    {name: MARK_LIMITS[name] for name in COLUMNS},
    "azimuth_deg,altitude_deg,distance_m",
    MOST_MARKS,
    "ground.skyline_marks",
)


def marks_of(
    file: Path, found: Callable[[str, str, str], Path], shape: Any, ground: dict[str, Any]
) -> MarksRequest:
    """Gather the marks of an outing, and take their keys out of its [ground].

    Raises
    ------
    OutingError
        For a table that cannot be read, too many marks, or a correction without any.
    """
    table, correct, tilt, turn = (ground.pop(key) for key in MARK_KEYS)
    readings = [_reading(one) for one in shape.skyline_mark]
    if table is not None:
        readings.extend(read_marks(found("ground", "skyline_marks", table)))
    if len(readings) > MOST_MARKS:
        raise _refuse(file, "skyline_marks", f"there are {len(readings):,} skyline marks",
                      f"write at most {MOST_MARKS:,}")  # fmt: skip
    asked = {"marks_correct": correct, "marks_tilt_deg": tilt, "marks_turn_deg": turn}
    given = [key for key, value in asked.items() if value not in (None, False)]
    if given and not readings:
        raise _refuse(
            file, given[0], "there are no skyline marks to correct",
            "write [[skyline_mark]] sections or skyline_marks, or take it out",
        )  # fmt: skip
    if correct and (tilt is not None or turn is not None):
        raise _refuse(
            file, "marks_correct", "the marks are corrected in two ways",
            "write marks_correct = true, or the values in marks_tilt_deg and marks_turn_deg",
        )  # fmt: skip
    return MarksRequest(tuple(readings), bool(correct), tilt, turn)


def _reading(shape: Any) -> MarkRequest:
    asked = shape.model_dump()
    place = asked.pop("read_from")
    place["name"] = place["name"] or ""
    return MarkRequest(**asked, read_from=ReadFrom(**place))


def _refuse(file: Path, key: str, what: str, hint: str) -> OutingError:
    return OutingError(
        what, hint=hint, where=Where(file.name, "[ground]", key), file=str(file),
        key=f"ground.{key}",
    )  # fmt: skip


def read_marks(path: Path) -> tuple[MarkRequest, ...]:
    r"""Read a table of skyline marks.

    Raises
    ------
    OutingError
        One sentence that names the file, the line and the column.

    Examples
    --------
    >>> from backbearing.outing.mark_rows import read_marks
    >>> table = folder / "marks.csv"
    >>> _ = table.write_text("azimuth_deg,altitude_deg,distance_m\n150,9.5,80\n152,11,\n")
    >>> [(one.azimuth_deg, one.altitude_deg, one.distance_m) for one in read_marks(table)]
    [(150.0, 9.5, 80.0), (152.0, 11.0, None)]
    """
    names = MARKS_TABLE.names(path)
    if "altitude_deg" not in names or not {"azimuth_deg", "compass_deg"} & set(names):
        raise MARKS_TABLE.wrong(
            path, "lacks altitude_deg, or azimuth_deg and compass_deg",
            f"begin with a line such as {MARKS_TABLE.header}",
        )  # fmt: skip
    return tuple(_mark(path, line, row) for line, row in MARKS_TABLE.read(path))


def _mark(path: Path, line: int, row: dict[str, Any]) -> MarkRequest:
    if "altitude_deg" not in row:
        raise MARKS_TABLE.wrong(
            path, f"has no altitude_deg in line {line}", "write one or take the line out"
        )
    if ("azimuth_deg" in row) == ("compass_deg" in row):
        raise MARKS_TABLE.wrong(
            path, f"has not one azimuth in line {line}",
            "write either azimuth_deg (true) or compass_deg (by the needle)",
        )  # fmt: skip
    if ("from_lat" in row) != ("from_lon" in row):
        raise MARKS_TABLE.wrong(
            path, f"has half a place in line {line}", "write from_lat and from_lon"
        )
    if "from_lat" in row:
        place = ReadFrom("", row.pop("from_lat"), row.pop("from_lon"))
        return MarkRequest(**row, read_from=place)
    return MarkRequest(**row)
