"""``backbearing doctor``: versions, data, spans and zone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.base.numbers import counted
from backbearing.cli.common import all_switch, json_switch, kit_option, print_json
from backbearing.cli.screen import Screen
from backbearing.workflows.health import examine

if TYPE_CHECKING:
    from backbearing.workflows.health import Finding


@click.command("doctor", help="Versions, data, spans and zone: is everything in place?")
@click.argument("outing", type=click.Path(path_type=Path), required=False)
@kit_option
@all_switch
@json_switch
def command(outing: Path | None, everything: bool, as_json: bool) -> int:  # noqa: D103

    if outing is None and Path("outing.toml").is_file():
        outing = Path("outing.toml")
    findings = examine(outing)
    if as_json:
        print_json({"format": "backbearing-doctor", "version": 1, "findings": findings})
    else:
        _print(findings, everything=everything, outing=outing)
    return 0 if all(finding.good for finding in findings) else 1


def _print(findings: list[Finding], *, everything: bool, outing: Path | None) -> None:
    """Say what is wrong, then in one line what is not, or each of them when asked."""
    out = Screen()
    wrong = [one for one in findings if not one.good]
    good = [one for one in findings if one.good]
    for one in wrong:
        out.say(f"WRONG {one.what}: {one.found}", hang=6)
    for one in good:
        if one.care:
            out.say(f"CARE  {one.what}: {one.found}", hang=6)
    if everything:
        for one in (one for one in good if not one.care):
            out.say(f"ok    {one.what}: {one.found}", hang=6)
    else:
        version = next(one.found for one in findings if one.what == "backbearing")
        out.say(f"backbearing {version}: {counted(len(good), 'things')} in order. Each: --all")
    if wrong:
        out.say("Next: mend that, then backbearing doctor again.")
    else:
        out.say(f"Next: backbearing {f'stand {outing}' if outing else 'new outing.toml'}")
    out.show()
