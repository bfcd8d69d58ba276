"""``backbearing measure``: the subject on a visit by day, each length with its doubt."""

from __future__ import annotations

from typing import Final

import click

from backbearing.cli.lazy_group import LazyGroup

MEASURES: Final[dict[str, str]] = {
    "height": "The subject's height, by clinometer, laser, pole, picture or shadow.",
    "width": "The subject's width across the line of sight.",
    "place": "Where the subject stands: a receiver's track, bearings, or from a stand.",
    "drop": "The ground at the stand against the subject's.",
    "skyline": "Marks of the true skyline: by clinometer, phone or a daytime frame.",
}
"""What can be measured: each is a module ``cli/measure_NAME.py`` with a ``command``."""


@click.command(
    "measure",
    cls=LazyGroup,
    lines=MEASURES,
    prefix="measure_",
    epilog="Readings are flags, or are asked for on a terminal. Each command takes --json; "
    "--write OUTING puts the result into an outing file.",
)
def command() -> None:
    """Measure the subject on a visit by day, each result with its doubt."""
