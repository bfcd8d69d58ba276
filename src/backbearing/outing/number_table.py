"""Tables of numbers as people write them: comma-separated, a line of column names first."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING, NamedTuple

from backbearing.base.errors import OutingError
from backbearing.base.input_files import MB, read_text
from backbearing.base.limits import shown

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.base.limits import Limit


class NumberTable(NamedTuple):
    """What a table must and may hold.

    Attributes
    ----------
    what : str
        What it is a table of, as in "skyline marks".
    columns : mapping of str to Limit
        Every column that is known, and what its numbers may be.
    header : str
        A line of column names to begin with.
    most_rows : int
    key : str
        Of the outing, for errors; may be empty.
    """

    what: str
    columns: Mapping[str, Limit]
    header: str
    most_rows: int
    key: str = ""

    def wrong(self, path: Path, what: str, hint: str) -> OutingError:
        """Build the error that names the table."""
        return OutingError(f"{path.name} {what}", hint=hint, file=str(path), key=self.key)

    def read(self, path: Path) -> list[tuple[int, dict[str, float]]]:
        """Read it: each row's line in the file, and its numbers by column; empty cells left out.

        Lines that begin with # are left out too.

        Raises
        ------
        OutingError
            One sentence that names the file, the line and the column.
        """
        text = read_text(path, self.what, largest_bytes=MB)
        lines = [
            (number, line)
            for number, line in enumerate(text.splitlines(), start=1)
            if line.strip() and not line.lstrip().startswith("#")
        ]
        hint = f"begin with a line such as {self.header}"
        if not lines:
            raise self.wrong(path, "has no line of column names", hint)
        names = self._names(path, lines[0][1])
        if len(lines) - 1 > self.most_rows:
            raise self.wrong(
                path, f"has {len(lines) - 1:,} rows", f"keep at most {self.most_rows:,} of them"
            )
        return [(number, self._row(path, names, number, line)) for number, line in lines[1:]]

    def names(self, path: Path) -> list[str]:
        """Read the names of its columns alone.

        Raises
        ------
        OutingError
            For a table that cannot be read, or columns that are not known.
        """
        text = read_text(path, self.what, largest_bytes=MB)
        lines = (one for one in text.splitlines() if one.strip() and not one.startswith("#"))
        return self._names(path, next(lines, ""))

    def _names(self, path: Path, line: str) -> list[str]:
        if ";" in line or "\t" in line:
            raise self.wrong(
                path, "is not separated by commas",
                "save it with commas between the columns and points in the numbers",
            )  # fmt: skip
        names = [name.strip() for name in self._cells(path, 1, line)]
        strange = [name for name in names if name not in self.columns]
        if strange:
            raise self.wrong(
                path, f"has the column {shown(strange[0])}",
                f"the columns are {', '.join(self.columns)}",
            )  # fmt: skip
        if len(set(names)) < len(names):
            raise self.wrong(path, "has a column twice", "keep one of them")
        return names

    def _row(self, path: Path, names: list[str], number: int, line: str) -> dict[str, float]:
        cells = self._cells(path, number, line)
        if len(cells) != len(names):
            raise self.wrong(
                path, f"has {len(cells)} cells in line {number}", f"write {len(names)} of them"
            )
        return {
            name: self._number(path, number, name, cell.strip())
            for name, cell in zip(names, cells, strict=True)
            if cell.strip()
        }

    def _cells(self, path: Path, number: int, line: str) -> list[str]:
        try:
            return next(csv.reader([line], strict=True), [])
        except csv.Error:
            raise self.wrong(
                path, f"cannot be read in line {number}", "write plain numbers and commas"
            ) from None

    def _number(self, path: Path, line: int, name: str, cell: str) -> float:
        limit = self.columns[name]
        try:
            value = float(cell) if cell.isascii() and "_" not in cell else float("nan")
        except ValueError:
            value = float("nan")
        if not limit.holds(value):
            raise self.wrong(path, f"has {shown(cell)} as {name} in line {line}", limit.hint)
        return value
