"""How a command shares its work out, and shows how far it is."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from backbearing.base.errors import BackbearingError
from backbearing.cluster.shared_work import Sharing

if TYPE_CHECKING:
    from backbearing.cluster.kept import Progress

_F = TypeVar("_F", bound=Callable[..., Any])
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class SharingAsked:
    """How the work is to be shared, as typed."""

    keep: Path | None
    processes: int | None
    scheduler: str | None

    @property
    def sharing(self) -> Sharing | None:
        """The same as a value; None where nothing of it was asked."""
        if self.keep is None and self.processes is None and self.scheduler is None:
            return None
        processes = (2 if self.scheduler else 1) if self.processes is None else self.processes
        return Sharing(processes, self.scheduler, self.keep)


def sharing_options(processes: int | None = 2) -> Callable[[_F], _F]:
    """Take how the work is shared: ``keep``, ``processes`` and ``scheduler``.

    Parameters
    ----------
    processes : int or None
        How many when none are named.
    """
    options = (
        click.option(
            "--keep",
            type=click.Path(path_type=Path),
            metavar="FOLDER",
            help="Keep finished parts here; the same task goes on from there.",
        ),
        click.option(
            "--processes",
            type=click.IntRange(1, 64),
            default=processes,
            show_default=processes is not None,
            help="Share the work among so many processes (one, where the system does not fork: "
            "anything but Linux).",
        ),
        click.option(
            "--scheduler",
            metavar="ADDRESS",
            help="Share the work over the Dask cluster at this address, or 'local' for one of its "
            "own.",
        ),
    )

    def decorate(command: _F) -> _F:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


def watched(
    work: Callable[[Progress | None], _T],
    doing: str,
    what: str,
    *,
    keep: Path | None,
    quiet: bool,
) -> _T:
    """Work with a bar of what is done and the time left, on standard error.

    Parameters
    ----------
    work : callable
        Given who is to be told.
    doing, what : str
        Such as "Scouting" and "candidates".
    keep : Path or None
        Where finished parts are kept, for the sentence of a stop.
    quiet : bool
        No bar; nor is there one where nobody looks.
    """
    try:
        return with_bar(work, doing, what, quiet=quiet)
    except KeyboardInterrupt:
        kept = (
            f"What was finished is kept in {keep}; the same command goes on from there."
            if keep is not None
            else "Nothing was kept; with --keep FOLDER a stopped run can be taken up again."
        )
        raise BackbearingError(f"Stopped. {kept}") from None


def with_bar(
    work: Callable[[Progress | None], _T], doing: str, what: str, *, quiet: bool = False
) -> _T:
    """Work with a bar where somebody looks: as `watched`, for work that is never kept."""
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
        TextColumn(f"{what}, done in"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(doing, total=None)

        def tell(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        return work(tell)
