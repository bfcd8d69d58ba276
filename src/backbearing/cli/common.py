"""What the commands share: the outing argument, the --json switch, and printing."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

from backbearing.base.lazy import Later
from backbearing.base.plain import plain
from backbearing.outing.kit_place import KIT_VARIABLE

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    from backbearing.exports import plan_json
else:
    plan_json = Later("backbearing.exports.plan_json")

_F = TypeVar("_F", bound=Callable[..., Any])


def _use_kit(ctx: click.Context, _param: click.Parameter, named: Path | None) -> None:
    """Name another kit to this command, and to the processes that it starts."""
    if named is None:
        return
    before = os.environ.get(KIT_VARIABLE)

    @ctx.call_on_close
    def restore() -> None:
        if before is None:
            os.environ.pop(KIT_VARIABLE, None)
        else:
            os.environ[KIT_VARIABLE] = before

    os.environ[KIT_VARIABLE] = str(named.absolute())


kit_option: Callable[[_F], _F] = click.option(
    "--kit",
    type=click.Path(path_type=Path),
    metavar="FILE",
    expose_value=False,
    callback=_use_kit,
    help="Another kit than your usual one.",
)


def outing_argument(command: _F) -> _F:
    """Take the outing file first, and with it the kit that it may use."""
    argument = click.argument(
        "outing", type=click.Path(path_type=Path), default=Path("outing.toml")
    )
    return argument(kit_option(command))


json_switch: Callable[[_F], _F] = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of text."
)
all_switch: Callable[[_F], _F] = click.option(
    "--all", "everything", is_flag=True, help="Say everything, not one screen of it."
)
at_option: Callable[[_F], _F] = click.option(
    "--at", metavar="HH:MM", help="This local minute instead of the file's or the best one."
)
overwrite_switch: Callable[[_F], _F] = click.option(
    "--overwrite", is_flag=True, help="Replace a file that is in the way."
)


def gathered(**kinds: type[DataclassInstance]) -> Callable[[_F], _F]:
    """Hand a command its options as values: each takes those that it has fields for.

    Parameters
    ----------
    **kinds : type
        For each argument of the command the dataclass that it is.
    """

    def decorate(command: _F) -> _F:
        @wraps(command)
        def with_values(**options: Any) -> Any:
            for name, kind in kinds.items():
                fields = [field.name for field in dataclasses.fields(kind)]
                options[name] = kind(**{field: options.pop(field) for field in fields})
            return command(**options)

        return cast("_F", with_values)

    return decorate


def print_json(document: Any) -> None:
    """Print a JSON document and nothing else."""
    click.echo(plan_json.dumps(plain(document)), nl=False)
