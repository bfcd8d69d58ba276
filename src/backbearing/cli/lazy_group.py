"""Commands whose modules load only when they are called, so that help stays quick."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Mapping


class LazyGroup(click.Group):
    """A group of commands, one module of ``cli/`` each, with a ``command`` in it.

    Parameters
    ----------
    lines : mapping of str to str
        For each command what its help says in one line.
    prefix : str, optional
        What stands before a command's name in its module's: ``measure_`` for ``measure height``.
    """

    def __init__(
        self, *args: Any, lines: Mapping[str, str], prefix: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines = lines
        self.prefix = prefix

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order in which one needs them."""
        del ctx
        return list(self.lines)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load a command's module."""
        del ctx
        if cmd_name not in self.lines:
            return None
        command = import_module(f"backbearing.cli.{self.prefix}{cmd_name}").command
        if not isinstance(command, click.Command):
            raise TypeError(cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without loading one."""
        del ctx
        if self.lines:
            with formatter.section("Commands"):
                formatter.write_dl(list(self.lines.items()))
