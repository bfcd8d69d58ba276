"""ASCII grids held to their letter: every cell a number, or a void by name or mark.

The driver that reads them takes the digits that a cell begins with and drops the rest, so that
``1,234`` becomes 1.234 and ``400m`` or ``4oo`` pass; here such a cell is found first. Its header
has six lines or so and is read by the driver itself.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import TerrainError

if TYPE_CHECKING:
    from pathlib import Path

AS_DOUBLES: Final = {"DATATYPE": "Float64"}
"""How the driver must open it: as whole numbers it would read ``nan`` as 0."""

PIECE_BYTES: Final = 4_000_000
LONGEST_CELL: Final = 64
"""Letters of one cell; a longer run without a space is no number."""

_KEYWORD: Final = re.compile(rb"\s*([A-Za-z_]+)\s+(\S+)[ \t]*(?:\r\n|\r|\n)")
_WRONG: Final = re.compile(
    rb"(?<!\S)"
    rb"(?!(?:[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?|nan|NaN)(?:\s|\Z))"
    rb"\S+"
)


def check_cells(path: Path) -> None:
    """Refuse a grid with a cell that is no number.

    Raises
    ------
    TerrainError
        Names line and column, as an editor counts them, and the cell.
    """
    found = path.stat()
    _check_once(path, found.st_mtime_ns, found.st_size)


@lru_cache(maxsize=64)
def _check_once(path: Path, _changed_ns: int, _size_bytes: int) -> None:
    with path.open("rb") as file:
        piece = file.read(PIECE_BYTES)
        start = _after_header(piece)
        line, column = piece.count(b"\n", 0, start) + 1, 1
        piece, more = piece[start:], b"?"
        while more:
            more = file.read(PIECE_BYTES)
            whole = len(piece) if not more else _last_gap(piece)
            if not whole and len(piece) > LONGEST_CELL:
                raise _refuse(path, line, column, piece[:LONGEST_CELL])
            wrong = _WRONG.search(piece, 0, whole)
            if wrong:
                before = piece[: wrong.start()]
                newline = before.rfind(b"\n")
                column = column + len(before) if newline < 0 else len(before) - newline
                raise _refuse(path, line + before.count(b"\n"), column, wrong.group())
            done = piece[:whole]
            newline = done.rfind(b"\n")
            column = column + whole if newline < 0 else whole - newline
            line += done.count(b"\n")
            piece = piece[whole:] + more


def _after_header(piece: bytes) -> int:
    """Where the cells begin: after the lines of a word and its value."""
    at = 0
    while (line := _KEYWORD.match(piece, at)) and line.group(1).lower() != b"nan":
        at = line.end()
    return at


def _last_gap(piece: bytes) -> int:
    """Where the last cell that may go on in the next piece begins."""
    return max(piece.rfind(b" "), piece.rfind(b"\n"), piece.rfind(b"\t"), piece.rfind(b"\r")) + 1


def _refuse(path: Path, line: int, column: int, cell: bytes) -> TerrainError:
    written = cell[:20].decode("ascii", "backslashreplace")
    more = "..." if len(cell) > 20 else ""
    comma = b"," in cell
    return TerrainError(
        f"{path.name}, line {line}, column {column}: the cell '{written}{more}' is no number",
        hint=(
            "write decimals with a point and thousands without a mark"
            if comma
            else "write metres as digits alone, or the grid's NODATA_value where there is no height"
        ),
        path=str(path),
        line=line,
        column=column,
    )
