"""What ``backbearing measure`` says: the result with its doubt, what the doubt is made of, care."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.cautions import VISIT
from backbearing.base.numbers import num, per_cent
from backbearing.cli.screen import Screen
from backbearing.measuring.places import MeasuredPlace
from backbearing.measuring.readings import Measured
from backbearing.outing.toml_edit import toml_value

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.workflows.visit import Keys, Visit

MOST_ROWS = 8
MOST_PARTS = 3


def print_visit(visit: Visit, written: tuple[Path, Keys] | None) -> None:
    """Print the answer on one screen."""
    out = Screen()
    result = visit.result
    if isinstance(result, MeasuredPlace):
        _place(out, result)
    else:
        _length(out, visit, result)
    out.some([f"{note[0].upper()}{note[1:]}." for note in result.notes], 8)
    out.blank()
    out.labelled("Care", VISIT)
    if written is None:
        keys = "lat, lon and position_sigma_m" if visit.what == "place" else visit.what
        out.say(
            f"Next: the same with --write outing.toml puts {_keys(visit, keys)} into it", hang=2
        )
    else:
        said = ", ".join(
            f"[{section}] {key} = {toml_value(value)}"
            for section, values in written[1].items()
            for key, value in values.items()
        )
        out.say(f"Wrote {written[0]}: {said}.", hang=2)
        out.say(f"Next: backbearing stand {written[0]}", hang=2)
    out.show()


def _keys(visit: Visit, otherwise: str) -> str:
    if visit.what == "drop":
        return "stand_drop_m"
    return otherwise if visit.what == "place" else f"{visit.what}_m and {visit.what}_sigma_m"


def _length(out: Screen, visit: Visit, result: Measured) -> None:
    name = {"height": "Height", "width": "Width"}.get(visit.what)
    if name is None:
        side = "below" if result.value >= 0.0 else "above"
        out.title(
            f"The ground at the stand lies {num(abs(result.value), 2)} m {side} the subject's, "
            f"give or take {num(result.sigma, 2)} m"
        )
    else:
        out.title(f"{name} {num(result.value, 2)} m, give or take {num(result.sigma, 2)} m")
    out.say(f"One standard deviation; by {result.way}.")
    if len(visit.readings) > 1:
        out.blank()
        rows = [
            (f"{number}", one.way, f"{num(one.value, 2)} m", f"{num(one.sigma, 2)} m")
            for number, one in enumerate(visit.readings[:MOST_ROWS], 1)
            if isinstance(one, Measured)
        ]
        out.listing(("", "by", "result", "one sigma"), rows, left={"by"}, words={"by"})
        if len(visit.readings) > MOST_ROWS:
            out.say(f"and {len(visit.readings) - MOST_ROWS} more: --json")
        return
    parts = sorted(result.shares.items(), key=lambda part: -part[1])[:MOST_PARTS]
    said = ", ".join(f"{name} {per_cent(share)}" for name, share in parts if share >= 0.005)
    if said:
        out.say(f"Most of the doubt is in {said}.")


def _place(out: Screen, place: MeasuredPlace) -> None:
    out.title(f"{num(place.lat, 6)}, {num(place.lon, 6)} within {num(place.sigma_m, 1)} m")
    out.say(f"One standard deviation, east and north alike; by {place.way}.")
    out.say(
        f"Error ellipse {num(place.major_m, 1)} m by {num(place.minor_m, 1)} m, its long axis "
        f"towards {num(place.major_azimuth_deg, 0)}°; 95% of errors lie within 2.4 times as much."
    )
