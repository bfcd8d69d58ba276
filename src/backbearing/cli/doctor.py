"""``backbearing doctor``: versions, data, spans and zone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.base.text import terminal_safe
from backbearing.cli.common import json_switch, print_json
from backbearing.workflows.health import examine

if TYPE_CHECKING:
    from backbearing.workflows.health import Finding


@click.command("doctor", help="Versions, data, spans and zone: is everything in place?")
@click.argument("outing", type=click.Path(path_type=Path), required=False)
@json_switch
def command(outing: Path | None, as_json: bool) -> int:  # noqa: D103

    if outing is None and Path("outing.toml").is_file():
        outing = Path("outing.toml")
    findings = examine(outing)
    if as_json:
        print_json({"format": "backbearing-doctor", "version": 1, "findings": findings})
    else:
        _print(findings)
    return 0 if all(finding.good for finding in findings) else 1


def _print(findings: list[Finding]) -> None:

    for finding in findings:
        mark = "ok   " if finding.good else "WRONG"
        click.echo(f"{mark} {finding.what:22} {terminal_safe(finding.found)}")
