"""A file's rows as its reader found them: columns, nothing checked, faults noted by row."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NUMBER: Final = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_DECIMAL_COMMA: Final = re.compile(r"[-+]?\d+,\d+", re.ASCII)

MOST_ROWS: Final = 1_000_000
"""Rows of one file; a larger list is for tiles of its own."""


@dataclass
class Notes:
    """What is to be said of a whole file: sentences, and how many lines and areas were drawn."""

    said: list[str]
    drawn: int = 0


@dataclass
class Rough:
    """Columns of equal length, one entry for each row.

    ``number`` is the row's number as the file counts and ``ids`` how people are told of it
    (``row 12``). Lengths are metres, NaN where the file is silent. ``faults`` holds the first
    thing wrong with a row, by its place in the columns.
    """

    number: list[int]
    ids: list[str]
    name: list[str]
    kind: list[str]
    lat: Floats
    lon: Floats
    height_m: Floats
    width_m: Floats
    access: list[str]
    role: list[str]
    note: list[str]
    height_is_guess: NDArray[np.bool_]
    width_is_guess: NDArray[np.bool_]
    faults: dict[int, str] = field(default_factory=dict)
    notes: Notes = field(default_factory=lambda: Notes([]))

    def __len__(self) -> int:
        return len(self.ids)


class LeftOut(NamedTuple):
    """A row that is left out: its number and id as in `Rough`, and why."""

    number: int
    id: str
    reason: str


@dataclass(frozen=True)
class Batch:
    """Some rows of a file that is read a part at a time.

    Attributes
    ----------
    rough : Rough
    rows : ndarray of int64, shape (n,)
        Their places in the file, no two alike; those of a batch rise.
    late : dict
        Places of rows given before that are to be left out after all.
    """

    rough: Rough
    rows: NDArray[np.int64]
    late: dict[int, LeftOut] = field(default_factory=dict)


def counted(count: int, one: str, many: str) -> str:
    """Write a number with what is counted."""
    return f"{count:,} {one if count == 1 else many}"


def texts(values: Sequence[Any]) -> list[str]:
    """Take cells as text, whole numbers too; what is missing or anything else is empty."""
    return [
        value if isinstance(value, str) else str(value) if type(value) is int else ""
        for value in values
    ]


def numbers(values: Sequence[Any], column: str, faults: dict[int, str]) -> Floats:
    """Read cells as numbers: blank gives NaN, anything else that is no number a fault."""
    out = np.full(len(values), np.nan)
    for i, value in enumerate(values):
        if type(value) is float or type(value) is int:
            out[i] = _finite(value, i, column, faults)
        elif isinstance(value, str):
            cell = value.strip()
            if not cell:
                continue
            if _NUMBER.fullmatch(cell):
                out[i] = _finite(float(cell), i, column, faults)
            else:
                faults.setdefault(i, _no_number(cell, column))
        elif value is not None and not _is_nan(value):
            faults.setdefault(i, f"{column} is {_shown(value)}; write a number")
    return out


def _finite(value: float, i: int, column: str, faults: dict[int, str]) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if not np.isfinite(number):
        faults.setdefault(i, f"{column} is {_shown(value)}; write a finite number")
        return float("nan")
    return number


def _is_nan(value: Any) -> bool:
    return bool(value != value)  # noqa: PLR0124  # pandas' own marks of nothing differ from themselves


def _no_number(cell: str, column: str) -> str:
    if _DECIMAL_COMMA.fullmatch(cell):
        return f"{column} is {cell!r}; write a decimal point: {cell.replace(',', '.')}"
    unit = " in metres, without a unit" if column.endswith("_m") else ""
    return f"{column} is {_shown(cell)}; write a number{unit}"


def _shown(value: Any) -> str:
    text = repr(value) if not isinstance(value, int) else str(value)[:40]
    text = text.encode("ascii", "backslashreplace").decode("ascii")
    return text if len(text) <= 40 else text[:37] + "..."
