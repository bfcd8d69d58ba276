"""``backbearing new``: write a commented starter outing file."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import click

from backbearing.base.files import write_file
from backbearing.cli.common import json_switch, overwrite_switch, print_json


@click.command("new", help="Write a commented starter outing file.")
@click.argument("outing", type=click.Path(path_type=Path), default=Path("outing.toml"))
@overwrite_switch
@json_switch
def command(outing: Path, overwrite: bool, as_json: bool) -> None:  # noqa: D103

    starter = resources.files("backbearing").joinpath("data", "starter_outing.toml")
    written = write_file(outing, starter.read_text(encoding="utf-8"), overwrite=overwrite)
    if as_json:
        print_json({"format": "backbearing-new", "version": 1, "written": str(written)})
        return
    click.echo(f"Wrote {written}. Set the raster, the subject and the night in it.")
    click.echo(f"Next: backbearing stand {written}")
