"""``backbearing targets``: what may stand behind the subject, and under which name."""

from __future__ import annotations

import click

from backbearing.base.numbers import counted, num
from backbearing.cli.common import all_switch, json_switch, print_json
from backbearing.cli.screen import Screen
from backbearing.sky.stars import STARS
from backbearing.sky.targets import BODIES, CORE_PLACES, Target


@click.command(
    "targets", help="What may stand behind the subject, by the names that [target] takes."
)
@all_switch
@json_switch
def command(everything: bool, as_json: bool) -> None:  # noqa: D103

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
    out = Screen()
    out.say(
        "[target] takes one of these lines, or ra_deg and dec_deg, or galactic_l_deg and "
        "galactic_b_deg. Degrees are ICRS at J2000."
    )
    out.blank()
    rows = [(_line("name", name), *_degrees(one), one.name) for name, one in CORE_PLACES.items()]
    rows += [(_line("body", body), "", "", "") for body in BODIES]
    if everything:
        rows += [(_line("star", star.name), *_degrees(star), "") for star in stars]
    out.listing(("line", "RA", "Dec", "what"), rows, words={"what"})
    out.blank()
    if not everything:
        out.say(
            f'Or one of {counted(len(stars), "stars")}, as star = "{stars[0].name}": --all names '
            "them."
        )
    out.say("Care: what stands behind the ridge all night is a target all the same.")
    out.say("Next: write the line into [target], then backbearing nights", hang=2)
    out.show()


def _line(key: str, name: str) -> str:
    return f'{key} = "{name}"'


def _degrees(target: Target) -> tuple[str, str]:
    ra, dec = target.ra_deg, target.dec_deg
    assert ra is not None  # noqa: S101  # asked of fixed places only
    assert dec is not None  # noqa: S101
    return f"{num(ra, 2)}°", f"{num(dec, 2, sign=True)}°"
