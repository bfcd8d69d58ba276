"""``backbearing stand``: where to stand for each lens, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backbearing.cli.common import at_option, console, json_switch, outing_argument, print_json

if TYPE_CHECKING:
    from pathlib import Path


@click.command("stand", help="Where to stand for each lens, and when.")
@outing_argument
@at_option
@json_switch
def command(outing: Path, at: str | None, as_json: bool) -> int:  # noqa: D103
    from backbearing.alignment import plan_night
    from backbearing.outing import load_outing

    plan = plan_night(load_outing(outing), at=at)
    if as_json:
        from backbearing.exports.plan_json import plan_document

        print_json(plan_document(plan))
    else:
        from backbearing.cli.plan_table import print_plan

        print_plan(console(), plan)
    return 0 if any(lens.stand is not None for lens in plan.lenses) else 3
