"""``backbearing kit``: bodies, lenses and lights by name, listed and checked."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING, Any

import click

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import made_folder, write_file
from backbearing.base.lazy import Later
from backbearing.base.numbers import num
from backbearing.cli.common import all_switch, json_switch, kit_option, print_json
from backbearing.cli.screen import Screen
from backbearing.outing.kit_place import kit_file

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.outing import kit as kits
    from backbearing.outing.kit import Kit
else:
    # The example is printed without them.
    kits = Later("backbearing.outing.kit")

SHOWN_ROWS = 6
"""Of bodies, lenses or lights on one screen."""


@click.command("kit", help="Your bodies, lenses and lights by name, listed and checked.")
@kit_option
@click.option("--example", is_flag=True, help="Print a short commented kit.")
@click.option("--write", is_flag=True, help="Write that kit where yours should lie.")
@all_switch
@json_switch
def command(example: bool, write: bool, everything: bool, as_json: bool) -> None:  # noqa: D103
    if example or write:
        text = resources.files("backbearing").joinpath("data", "example_kit.toml")
        _give(text.read_text(encoding="utf-8"), write=write)
        return
    kit = kits.load_kit()
    if as_json:
        things = {name: getattr(kit, name) for name in ("body", "lens", "light", "me")}
        print_json({"format": "backbearing-kit", "version": 1, "file": str(kit.path), **things})
        return
    out = Screen()
    _print(out, kit, everything=everything)
    out.show()


def _give(example: str, *, write: bool) -> None:
    """Print the example, or write it, but never over a kit that is there."""
    if not write:
        click.echo(example, nl=False)
        return
    file = kit_file()
    if file.exists():
        raise WriteRefusedError(
            f"{file} is already there and was left as it is", hint="change it in an editor"
        )
    made_folder(file.parent)
    click.echo(f"Wrote {write_file(file, example)}. Change it to what you have.")
    click.echo("Next: backbearing kit")


def _print(out: Screen, kit: Kit, *, everything: bool) -> None:
    """List what the kit holds, and how an outing uses it."""
    out.title(f"Kit {kit.path}: all of it can be used")
    most = None if everything else SHOWN_ROWS
    bodies = [(name, _size(keys), _pixels(keys), _sensor(keys)) for name, keys in kit.body.items()]
    _listed(out, ("body", "sensor", "pixels", "besides"), bodies, most)
    lenses = [(name, _focal(keys), f"f/{num(keys.get('f_number'))}" if "f_number" in keys else "")
              for name, keys in kit.lens.items()]  # fmt: skip
    _listed(out, ("lens", "focal length", "opens to"), lenses, most)
    lights = [
        (name, f"{num(keys['width_m'])} x {num(keys['height_m'])} m",
         f"{num(keys['lumens'])} lm" if keys.get("lumens") is not None else "")
        for name, keys in kit.light.items()
    ]  # fmt: skip
    _listed(out, ("light", "wide x high", "gives"), lights, most)
    if kit.me:
        out.labelled("me", ", ".join(f"{key} {num(value)}" for key, value in kit.me.items()))
    empty = not (kit.body or kit.lens or kit.light)
    out.blank()
    if empty:
        out.say("Next: put something into it; backbearing kit --example shows how.")
        return
    first = next(iter(kit.body), "my body")
    out.say(f'Next: use = "{first}" under [camera] of an outing, or backbearing new', hang=2)


def _listed(
    out: Screen, names: Sequence[str], rows: Sequence[Sequence[str]], most: int | None
) -> None:
    if not rows:
        return
    out.listing(names, rows[:most], left=names, words=names[-1:])
    if most is not None and len(rows) > most:
        out.say(f"and {len(rows) - most} more: --all", indent=2)


def _size(keys: Mapping[str, Any]) -> str:
    if keys.get("sensor_format") is not None:
        return str(keys["sensor_format"])
    return f"{num(keys['sensor_width_mm'])} x {num(keys['sensor_height_mm'])} mm"


def _pixels(keys: Mapping[str, Any]) -> str:
    high = keys.get("height_px")
    return f"{num(keys['width_px'])} x {num(high)}" if high else f"{num(keys['width_px'])} wide"


def _sensor(keys: Mapping[str, Any]) -> str:
    """Say what else the kit tells of a body, by its keys."""
    apart = {"sensor_format", "sensor_width_mm", "sensor_height_mm", "width_px", "height_px"}
    return ", ".join(f"{key} {num(keys[key])}" for key in keys if key not in apart)


def _focal(keys: Mapping[str, Any]) -> str:
    kind = " fisheye" if keys.get("projection") == "equisolid" else ""
    return f"{num(keys['focal_length_mm'])} mm{kind}"
