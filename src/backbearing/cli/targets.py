"""``backbearing targets``: what may stand behind the subject, and under which name."""

from __future__ import annotations

import click

from backbearing.base.numbers import num
from backbearing.cli.common import json_switch, print_json
from backbearing.sky.stars import STARS
from backbearing.sky.targets import BODIES, CORE_PLACES, Target


@click.command(
    "targets", help="What may stand behind the subject, by the names that [target] takes."
)
@json_switch
def command(as_json: bool) -> None:  # noqa: D103

    stars = [Target.star(star.name) for star in STARS.values()]
    if as_json:
        print_json(
            {
                "format": "backbearing-targets",
                "version": 1,
                "places": CORE_PLACES,
                "bodies": list(BODIES),
                "stars": stars,
            }
        )
        return
    click.echo("[target] takes one of these lines, or ra_deg and dec_deg, or galactic_l_deg and")
    click.echo("galactic_b_deg. Degrees are ICRS at J2000.")
    click.echo()
    for name, place in CORE_PLACES.items():
        click.echo(f"  {_line('name', name)}  {_degrees(place)}  {place.name}")
    click.echo()
    for body in BODIES:
        click.echo(f"  {_line('body', body)}")
    click.echo()
    for star in stars:
        click.echo(f"  {_line('star', star.name)}  {_degrees(star)}")


def _line(key: str, name: str) -> str:
    quoted = f'"{name}"'
    return f"{key} = {quoted:17}"


def _degrees(target: Target) -> str:
    ra, dec = target.ra_deg, target.dec_deg
    assert ra is not None  # noqa: S101  # asked of fixed places only
    assert dec is not None  # noqa: S101
    return f"RA {num(ra, 2):>7}°  Dec {num(dec, 2, sign=True):>7}°"
