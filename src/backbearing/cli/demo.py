"""``backbearing demo``: the whole job on the sample ground, written to maps/."""

from __future__ import annotations

import time
from pathlib import Path

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.numbers import counted, num
from backbearing.cli.common import all_switch, json_switch, print_json
from backbearing.cli.demo_story import print_story
from backbearing.cli.plan_answer import print_answer
from backbearing.cli.plan_table import print_plan
from backbearing.cli.screen import Screen
from backbearing.outing.load import load_outing
from backbearing.workflows.write_all import write_all


@click.command("demo", help="Do the whole job on the sample ground and write to maps/.")
@click.option(
    "--outing",
    type=click.Path(path_type=Path),
    default=Path("sample_terrain/outing.toml"),
    show_default=True,
    help="The outing to do.",
)
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    default=Path("maps"),
    show_default=True,
    help="The folder to write to; what an earlier demo wrote there is replaced.",
)
@all_switch
@json_switch
def command(outing: Path, into: Path, everything: bool, as_json: bool) -> int:  # noqa: D103

    started = time.perf_counter()
    asked = load_outing(outing)
    elevation = open_elevation(asked)
    plan = plan_night(asked, elevation, processes=2)
    written = write_all(
        plan, elevation, into, units=asked.units, outing=asked, overwrite=True, processes=2
    )
    if as_json:
        print_json(
            {"format": "backbearing-demo", "version": 1, "written": [str(path) for path in written]}
        )
        return 0

    out = Screen()
    then = f"open {written[0]} in a browser"
    if plan.session is not None and plan.session.shots:
        print_story(out, plan, plan.session, units=asked.units, then=then)
    else:
        print_answer(out, plan, then=then, units=asked.units, lines=21)
    took = num(time.perf_counter() - started, 1)
    files = counted(len(written), "files")
    out.say(f"Wrote {files} into {into} (page, sheet, pictures, exports) in {took} s.", hang=2)
    if everything:
        print_plan(out, plan, asked.units)
        for path in written:
            out.say(f"wrote {path}")
    out.show()
    return 0
