"""Results as HTML for a notebook's cell: a line, a table, notes; every text is escaped."""

from __future__ import annotations

import datetime as dt
import html
import math
from typing import TYPE_CHECKING, Any

from backbearing.base.numbers import num
from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


def table_html(
    said: str, names: Sequence[str], rows: Iterable[Sequence[Any]], notes: Iterable[str]
) -> str:
    """Set a line, a table and notes as HTML.

    Parameters
    ----------
    said : str
        The line above the table.
    names : sequence of str
        Heads of the columns.
    rows : iterable of sequences
        Cells; numbers get one decimal, what is unknown stays empty.
    notes : iterable of str
        A list below.

    Returns
    -------
    str
        HTML in which nothing of the texts is markup.
    """
    head = "".join(f"<th>{html.escape(name)}</th>" for name in names)
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(cell_words(cell))}</td>" for cell in row) + "</tr>"
        for row in rows
    )
    below = "".join(f"<li>{html.escape(note)}</li>" for note in notes)
    return (
        f"<p>{html.escape(said)}</p><table><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table><ul>{below}</ul>"
    )


def cell_words(value: Any) -> str:
    """One cell's words: numbers with one decimal, clock times, nothing for the unknown."""
    if value is None:
        return ""
    if isinstance(value, float):
        return num(value, 1) if math.isfinite(value) else ""
    if isinstance(value, dt.datetime):
        return f"{value:%Y-%m-%d} {hm(value)}"
    return str(value)
