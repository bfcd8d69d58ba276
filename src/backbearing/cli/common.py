"""What the commands share: the outing argument, the --json switch, and printing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from backbearing.base.plain import plain
from backbearing.exports.plan_json import dumps

if TYPE_CHECKING:
    from rich.console import Console

_F = TypeVar("_F", bound=Callable[..., Any])

outing_argument: Callable[[_F], _F] = click.argument(
    "outing", type=click.Path(path_type=Path), default=Path("outing.toml")
)
json_switch: Callable[[_F], _F] = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of text."
)
at_option: Callable[[_F], _F] = click.option(
    "--at", metavar="HH:MM", help="This local minute instead of the file's or the best one."
)
overwrite_switch: Callable[[_F], _F] = click.option(
    "--overwrite", is_flag=True, help="Replace a file that is in the way."
)


def print_json(document: Any) -> None:
    """Print a JSON document and nothing else."""
    click.echo(dumps(plain(document)), nl=False)


def console() -> Console:
    """Make a console that interprets nothing it is given as markup."""
    from rich.console import Console

    return Console(markup=False, highlight=False, emoji=False)
