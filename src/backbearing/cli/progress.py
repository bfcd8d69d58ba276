"""A bar of what is done and the time left, on standard error, where somebody is looking."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

_T = TypeVar("_T")

Told = Callable[[int, int], None]
"""Told how many are done, and of how many."""


def with_progress(
    work: Callable[[Told | None], _T], *, doing: str, things: str, quiet: bool = False
) -> _T:
    """Do some work with a bar; without one where nobody looks, or when asked to be quiet.

    Parameters
    ----------
    work : callable
        Takes whom to tell, or None.
    doing, things : str
        What it does, and what it counts: "Scouting", "candidates".
    quiet : bool
    """
    if quiet or not sys.stderr.isatty():
        return work(None)
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn(doing),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn(f"{things}, done in"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(doing, total=None)

        def tell(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        return work(tell)
