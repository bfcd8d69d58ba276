"""Asking on a terminal for the readings that no flag told."""

from __future__ import annotations

import datetime as dt
import sys
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from backbearing.workflows.visit import PERCENT

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backbearing.workflows.visit_ways import Asked


def asking() -> bool:
    """Whether somebody sits there who can be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask(wanted: Sequence[Asked], answers: dict[str, Any]) -> dict[str, Any]:
    """Ask for answers, each until it is one; an angle may be a percentage.

    What is only offered may be passed over by saying nothing.
    """
    for asked in wanted:
        words = f"{asked.words[0].upper()}{asked.words[1:]}"
        if asked.kind == "sightings":
            answers[asked.key] = _ask_rows(words)
            continue
        read = _reader(asked)
        taken = (
            _prompt(words, partial(_or_nothing, read=read))
            if asked.offered
            else click.prompt(words, value_proc=read, err=True)
        )
        key = asked.key
        if isinstance(taken, tuple) and asked.kind == "angle":
            key, taken = f"{key.removesuffix('_deg')}{PERCENT}", taken[0]
        if taken is not None:
            answers[key] = taken
    return answers


def _prompt(words: str, read: Callable[[str], Any]) -> Any:
    """Ask for what may be nothing."""
    return click.prompt(words, default="", show_default=False, value_proc=read, err=True)


def _or_nothing(text: str, read: Callable[[str], Any]) -> Any:
    return read(text) if text.strip() else None


def _ask_rows(words: str) -> list[tuple[float, ...]]:
    """Ask for rows of three numbers until nothing is said."""
    rows: list[tuple[float, ...]] = []
    while True:
        row = partial(_numbers, count=3)
        said = _prompt(f"{words}, or nothing to end", partial(_or_nothing, read=row))
        if not said:
            return rows
        rows.append(said)


def _reader(asked: Asked) -> Callable[[str], Any]:
    if asked.kind == "spot":
        return partial(_numbers, count=2)
    if asked.kind == "angle":
        return _angle
    if asked.kind == "date":
        return _date
    if asked.kind == "number":
        return lambda text: _numbers(text, 1)[0]
    return str.strip


def _angle(text: str) -> Any:
    """Degrees, or a percentage as a tuple of one."""
    if text.strip().endswith("%"):
        return _numbers(text.strip().removesuffix("%"), 1)
    return _numbers(text, 1)[0]


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise click.UsageError("Write a date, such as 2027-03-04.") from None


def _numbers(text: str, count: int) -> tuple[float, ...]:
    try:
        found = tuple(float(part) for part in text.replace(",", " ").split())
    except ValueError:
        found = ()
    if len(found) != count:
        wanted = "a number, with a point for decimals" if count == 1 else f"{count} numbers"
        raise click.UsageError(f"Write {wanted}.")
    return found
