"""The command line: one small module for each command, loaded only when it is called."""

from __future__ import annotations

import sys
import warnings
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from backbearing.base.errors import BackbearingError
from backbearing.base.kept_code import when_compiling
from backbearing.base.text import terminal_safe
from backbearing.base.version import __version__
from backbearing.cli.lazy_group import LazyGroup
from backbearing.cli.terminal import flushed, steady_streams

if TYPE_CHECKING:
    from typing import TextIO

COMMANDS = {
    "desk": "The whole job on a page of this computer, by hand and eye.",
    "new": "A first outing from five answers, and its plan at once.",
    "ground": "The elevation for a place: which tiles, how large, and bring them.",
    "kit": "Your bodies, lenses and lights by name, listed and checked.",
    "measure": "The subject on a visit by day: each length with its doubt.",
    "targets": "What may stand behind the subject, by the names that [target] takes.",
    "scout": "Which of many candidates are worth the drive, and on which night.",
    "ranked": "The first, a page or a province of a ranking from scout --into.",
    "nights": "Which nights are dark with the target clear of the ridge, and when.",
    "year": "Which three nights of the year are best, over many subjects and lenses.",
    "stand": "Where to stand for each lens, and when.",
    "ridge": "The skyline from a stand, with the target's path over it.",
    "sheet": "One or two printed pages for the night, as PDF and as HTML.",
    "review": "After the night: your frames beside the plan, their star trails measured.",
    "explain": "Inputs, formula and source behind any number of the plan.",
    "doctor": "Versions, data, spans and zone: is everything in place?",
    "demo": "Do the whole job on the sample ground and write to maps/.",
}


@click.command(
    cls=LazyGroup,
    lines=COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Each command takes the outing file first (./outing.toml when left out) and --json. "
    "Exit codes: 0 found, 1 error, 2 usage, 3 nothing found.",
)
@click.version_option(__version__, prog_name="backbearing")
def group() -> None:
    """Settle a nightscape before the drive: where the tripod goes for each lens, and the
    minute the Milky Way's core stands behind a lone subject.
    """  # noqa: D205


def main() -> None:
    """Run the command line and exit with its code."""
    steady_streams()
    when_compiling(lambda saying: click.echo(f"backbearing: {saying}", err=True))
    with warnings.catch_warnings():
        warnings.showwarning = _told
        code, said = _run()
    if said:
        with suppress(OSError, ValueError):
            click.echo(said, err=True)
    unsaid = flushed()
    if unsaid and not code:
        code = 1
        with suppress(OSError, ValueError):
            click.echo(f"backbearing: what was found could not be printed ({unsaid}).", err=True)
    sys.exit(code)


def _told(
    message: Warning | str,
    category: type[Warning],
    filename: str,  # as Python calls it
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    """Say what was mended or looks wrong in a sentence, without Python's line of code."""
    if issubclass(category, UserWarning):
        click.echo(f"backbearing: note: {terminal_safe(str(message))}", err=True)


def _run() -> tuple[int, str]:
    """Run a command; give its exit code, and the sentence to say where it failed."""
    try:
        code = group(standalone_mode=False)
    except click.ClickException as problem:
        problem.show()
        return problem.exit_code, ""
    except click.Abort:
        return 1, "Stopped."
    except BackbearingError as problem:
        return problem.exit_code, f"backbearing: {terminal_safe(str(problem))}"
    except (OSError, MemoryError) as problem:
        return _machine_trouble(problem)
    return (code if isinstance(code, int) else 0), ""


def _machine_trouble(problem: OSError | MemoryError) -> tuple[int, str]:
    """Give code and sentence for what the machine refuses; a closed pager is no trouble."""
    if isinstance(problem, BrokenPipeError):
        return 0, ""
    if isinstance(problem, MemoryError):
        return 1, "backbearing: there is not enough memory for this; ask for less at once."
    where = f" ({terminal_safe(str(problem.filename))})" if problem.filename else ""
    return 1, f"backbearing: {problem.strerror or problem}{where}; nothing more was done."
