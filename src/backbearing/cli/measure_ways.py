"""The commands of ``backbearing measure`` made from the table of ways: flags, questions, answer."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from backbearing.base.units import METRIC
from backbearing.cli.common import print_json
from backbearing.cli.measure_answer import print_visit
from backbearing.cli.measure_asking import ask, asking
from backbearing.outing.load import load_outing
from backbearing.outing.toml_edit import Noted
from backbearing.workflows.visit import PERCENT, also, measured, read_notebook, write_visit
from backbearing.workflows.visit_ways import WAYS, Asked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.workflows.visit import Keys, Visit
    from backbearing.workflows.visit_ways import Way, What

    Reading = tuple[str, dict[str, Any]]

NUMBERS = {"spot": ("COLUMN", "ROW"), "sightings": ("LAT", "LON", "DEG")}
"""Answers of several numbers."""


def ways_group(what: What, line: str) -> click.Group:
    """Make the group of all ways to measure something."""

    def on_its_own(ctx: click.Context, /, notebook: Path | None, **common: Any) -> int | None:
        if ctx.invoked_subcommand is not None:
            if notebook is not None:
                raise click.UsageError("--notebook holds the readings: leave the way out.")
            if any(common.values()):
                raise click.UsageError(f"Write options behind the way, {ctx.invoked_subcommand}.")
            return None
        if notebook is not None:
            return _finish(what, read_notebook(notebook, what), **common)
        if not asking():
            click.echo(ctx.get_help())
            return 2
        name = click.prompt(
            f"Which way ({', '.join(WAYS[what])})",
            type=click.Choice(list(WAYS[what])),
            show_choices=False,
            err=True,
        )
        with_outing = common["outing"] is not None or common["write"] is not None
        readings = _gathered(name, WAYS[what][name], {}, with_outing=with_outing)
        return _finish(what, readings, **common)

    group = click.Group(
        what,
        callback=click.pass_context(on_its_own),
        help=line,
        invoke_without_command=True,
        params=[
            click.Option(
                ["--notebook"],
                type=click.Path(path_type=Path),
                metavar="FILE",
                help=f"Readings from a TOML file, a section [[{what}]] each.",
            ),
            *_common(what),
        ],
    )
    for name, way in WAYS[what].items():
        group.add_command(way_command(what, name, way, name))
    return group


def way_command(what: What, way_name: str, way: Way, command_name: str) -> click.Command:
    """Make the command of one way."""

    def run(**options: Any) -> int:
        shared = ("also_m", "lens", "outing", "write", "as_json")
        common = {key: options.pop(key) for key in shared if key in options}
        with_outing = common["outing"] is not None or common["write"] is not None
        readings = _gathered(way_name, way, options, with_outing=with_outing)
        return _finish(what, readings, **common)

    params: list[click.Parameter] = [one for asked in way.asked for one in _options(asked)]
    return click.Command(command_name, callback=run, help=way.line, params=params + _common(what))


def _told_keys(keys: Keys) -> dict[str, dict[str, Any]]:
    """Keys and values as JSON has them, without notes."""
    return {
        section: {k: v.value if isinstance(v, Noted) else v for k, v in values.items()}
        for section, values in keys.items()
    }


def _options(asked: Asked) -> list[click.Parameter]:
    flag = f"--{asked.key.replace('_', '-')}"
    told: dict[str, Any] = {"help": f"{asked.words[0].upper()}{asked.words[1:]}."}
    if asked.kind in NUMBERS:
        metavar = " ".join(NUMBERS[asked.kind])
        told |= {"type": float, "nargs": len(NUMBERS[asked.kind]), "metavar": metavar}
    elif asked.kind in ("number", "angle"):
        told |= {"type": float, "metavar": "N"}
    elif asked.kind == "date":
        told |= {"type": click.DateTime(["%Y-%m-%d"]), "metavar": "DATE"}
    else:
        metavar = {"path": "FILE", "place": "PLACE"}.get(asked.kind, "TEXT")
        told |= {"type": str, "metavar": metavar}
    made: list[click.Parameter] = [click.Option([flag, asked.key], multiple=True, **told)]
    if asked.kind == "angle":
        key = f"{asked.key.removesuffix('_deg')}{PERCENT}"
        said = "The same, read off the percent scale."
        made.append(
            click.Option([f"--{key.replace('_', '-')}", key], multiple=True, type=float,
                         metavar="N", help=said)
        )  # fmt: skip
    return made


def _common(what: What) -> list[click.Parameter]:
    """Options of every command: another result, an outing to ask, one to write, JSON."""
    path = click.Path(path_type=Path)
    outing = "Ask this outing for the subject's place and the camera."
    written = "Put the result into this outing file; nothing else in it changes."
    made: list[click.Parameter] = [
        click.Option(["--outing"], type=path, metavar="OUTING", help=outing),
        click.Option(["--write"], type=path, metavar="OUTING", help=written),
        click.Option(["--json", "as_json"], is_flag=True, help="Print JSON instead of text."),
    ]
    if what in ("height", "width"):
        said = "A result from elsewhere to join in: metres, one sigma. Repeat for more."
        made.insert(0, click.Option(["--also-m"], type=float, nargs=2, multiple=True,
                                    metavar="N SIGMA", help=said))  # fmt: skip
    if what == "drop":
        said = "With --write: of the outing's lens with this number, from 1; of all when left out."
        made.append(click.Option(["--lens"], type=click.IntRange(1, 999), metavar="N", help=said))
    return made


def _gathered(
    name: str, way: Way, options: Mapping[str, tuple[Any, ...]], *, with_outing: bool
) -> list[Reading]:
    """The readings that flags tell, or the one that a person is asked for."""
    given = {key: values for key, values in options.items() if values}
    whole = {one.key for one in way.asked if one.kind == "sightings"}
    count = max([len(v) for key, v in given.items() if key not in whole], default=1)
    for key, values in given.items():
        if key not in whole and len(values) not in (1, count):
            flag = f"--{key.replace('_', '-')}"
            raise click.UsageError(
                f"{flag} is given {len(values)} times and another {count} times: give it once for "
                "all readings, or once for each."
            )
    readings = [
        {
            key: list(values) if key in whole else values[i if len(values) > 1 else 0]
            for key, values in given.items()
        }
        for i in range(count)
    ]
    missing = [one for one in way.asked if one.is_needed(with_outing=with_outing)]
    missing = [one for one in missing if not _told(one, given)]
    if missing and not asking():
        flags = ", ".join(f"--{one.key.replace('_', '-')}" for one in missing)
        raise click.UsageError(f"{way.line} It needs {flags}.")
    made = [{key: _day(value) for key, value in answers.items()} for answers in readings]
    if missing:
        offered = [one for one in way.asked if one.offered and not _told(one, given)]
        for answers in made:
            ask([*missing, *offered], answers)
        every = [one for one in way.asked if one in missing or one.needed or one.offered]
        while not whole and click.confirm("Another reading", default=False, err=True):
            made.append(ask(every, {}))
    return [(name, answers) for answers in made]


def _told(asked: Asked, given: Mapping[str, Any]) -> bool:
    return asked.key in given or f"{asked.key.removesuffix('_deg')}{PERCENT}" in given


def _day(value: Any) -> Any:
    """A day for the moment that click makes of one."""
    return value.date() if isinstance(value, dt.datetime) else value


def _finish(
    what: What,
    readings: Sequence[Reading],
    *,
    also_m: Sequence[tuple[float, float]] = (),
    outing: Path | None = None,
    write: Path | None = None,
    lens: int | None = None,
    as_json: bool = False,
) -> int:
    """Measure, write where asked to, and answer."""
    if lens is not None and write is None:
        raise click.UsageError("--lens says which lens to write to: add --write OUTING.")
    asked = outing or write
    known = None if asked is None else load_outing(asked)
    visit: Visit = also(measured(what, readings, known), also_m)
    written = None if write is None else write_visit(write, visit, lens=lens)
    if as_json:
        document: dict[str, Any] = {
            "format": "backbearing-measure",
            "version": 1,
            "measured": visit,
        }
        if written is not None:
            document |= {"written": str(written[0]), "keys": _told_keys(written[1])}
        print_json(document)
    else:
        print_visit(visit, written, METRIC if known is None else known.units)
    return 0
