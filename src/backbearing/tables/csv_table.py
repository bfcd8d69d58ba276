"""Tables in CSV, by [RFC4180]_: UTF-8, commas, decimal points, a header line."""

from __future__ import annotations

import csv
from contextlib import contextmanager
from itertools import islice
from typing import TYPE_CHECKING, Final, NamedTuple

from backbearing.base.errors import OutingError
from backbearing.tables.raw_table import MOST_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path
    from typing import TextIO

MOST_COLUMNS: Final = 500
LONGEST_LINE: Final = 200_000
"""Letters of one line; a longer one is no row of a table of places."""


def _bounded(text: TextIO, file: Path) -> Iterator[str]:
    """Give a file's lines, none longer than a row may be."""
    number = 0
    while line := text.readline(LONGEST_LINE + 1):
        number += 1
        if len(line) > LONGEST_LINE:
            raise _refuse(
                file,
                f"has more than {LONGEST_LINE:,} letters near line {number}, more than any row; "
                "break the line up",
            )
        yield line


class Row(NamedTuple):
    """Cells as long as the header, the line on which they begin, and what is wrong with them."""

    line: int
    cells: list[str]
    fault: str


@contextmanager
def opened_table(file: Path, needed: Sequence[str]) -> Iterator[tuple[list[str], Iterator[Row]]]:
    """Open a CSV file: its header, and its rows one by one.

    Raises
    ------
    OutingError
        For what is no such table; also while rows are asked for.
    """
    with file.open(encoding="utf-8-sig", newline="") as text:
        reader = csv.reader(_bounded(text, file), strict=True)
        try:
            header = _header(file, next(reader, []), needed)
            yield header, _rows(reader, len(header))
        except UnicodeDecodeError as problem:
            raise _refuse(file, "is not UTF-8 text; save it as CSV in UTF-8") from problem
        except csv.Error as problem:
            line = reader.line_num
            raise _refuse(
                file, f"cannot be read as CSV near line {line} ({problem}); close its quotes"
            ) from problem


def _rows(reader: csv._reader, width: int) -> Iterator[Row]:  # type: ignore[name-defined]
    """Give rows as long as the header; note those that were not."""
    began = reader.line_num + 1
    for row in reader:
        line, began = began, reader.line_num + 1
        if not any(row):
            continue
        if len(row) == width:
            yield Row(line, row, "")
        else:
            yield Row(line, (row + [""] * width)[:width], _uneven(len(row), width))


class Cells:
    """A header and some rows, by column."""

    def __init__(self, header: list[str], rows: Sequence[Row], known: Sequence[str]) -> None:
        self.lines = [row.line for row in rows]
        self.faults = {i: row.fault for i, row in enumerate(rows) if row.fault}
        self.unread = [name for name in header if name and name not in known]
        across = list(zip(*(row.cells for row in rows), strict=True)) or [() for _ in header]
        self._columns = dict(zip(header, across, strict=True))

    def __len__(self) -> int:
        return len(self.lines)

    def column(self, name: str) -> list[str]:
        """Give a column's cells; empty ones where there is no such column."""
        return list(self._columns.get(name, ("",) * len(self)))


class Table(Cells):
    """A whole CSV file's header and cells, each row with the line on which it begins."""

    def __init__(self, file: Path, known: Sequence[str], needed: Sequence[str]) -> None:
        self.file = file
        with opened_table(file, needed) as (header, rows):
            found = list(islice(rows, MOST_ROWS + 1))
        if len(found) > MOST_ROWS:
            raise _refuse(file, f"has more than {MOST_ROWS:,} rows; split it")
        super().__init__(header, found, known)


def _header(file: Path, cells: list[str], needed: Sequence[str]) -> list[str]:
    if len(cells) > MOST_COLUMNS:
        raise _refuse(file, f"has more than {MOST_COLUMNS:,} columns; keep those that are read")
    header = [cell.strip().lower() for cell in cells]
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if len(header) == 1 and mark in header[0]:
            raise _refuse(
                file,
                f"separates its columns by {name}; save it with commas between columns and "
                "decimal points in numbers",
            )
    missing = [name for name in needed if name not in header]
    if missing:
        raise _refuse(
            file,
            f"has no column {' and none '.join(missing)}; begin it with a header line such as "
            f"{','.join(('name', *needed))}",
        )
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        raise _refuse(file, f"has the column {twice[0]} twice; keep one of them")
    # Nameless columns must not fall together.
    return [name or f" {i}" for i, name in enumerate(header)]


def _uneven(found: int, wanted: int) -> str:
    if found > wanted:
        return (
            f"it has {found} cells and the header {wanted}; put a name with commas in quotes, and "
            "write numbers with a decimal point"
        )
    return f"it has {found} cells and the header {wanted}; write every comma"


def _refuse(file: Path, what: str) -> OutingError:
    return OutingError(f"{file.name} {what}.", file=str(file))
