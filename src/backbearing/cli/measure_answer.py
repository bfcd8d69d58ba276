"""What ``backbearing measure`` says: the result with its doubt, what the doubt is made of, care."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.base.cautions import VISIT
from backbearing.base.numbers import num, per_cent
from backbearing.cli.screen import Screen
from backbearing.measuring.places import MeasuredPlace
from backbearing.measuring.readings import Measured
from backbearing.outing.toml_edit import Noted, toml_value

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.base.units import Units
    from backbearing.workflows.visit import Keys, Visit

MOST_ROWS = 8
MOST_PARTS = 3


def print_visit(visit: Visit, written: tuple[Path, Keys] | None, units: Units) -> None:
    """Print the answer on one screen."""
    out = Screen()
    result = visit.result
    if isinstance(result, MeasuredPlace):
        _place(out, result, units)
    else:
        _length(out, visit, result, units)
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
            f"{_section(section)} {key} = {toml_value(_bare(value))}"
            for section, values in written[1].items()
            for key, value in values.items()
        )
        out.say(f"Wrote {written[0]}: {said}.", hang=2)
        out.say(f"Next: backbearing stand {written[0]}", hang=2)
    out.show()


def _bare(value: Any) -> Any:
    return value.value if isinstance(value, Noted) else value


def _section(name: str) -> str:
    """A section as a reader of the file would name it."""
    several, _, number = name.removesuffix("]").partition("[")
    return f"[[{several}]] number {number}" if number else f"[{name}]"


def _keys(visit: Visit, otherwise: str) -> str:
    if visit.what == "drop":
        return "stand_drop_m"
    return otherwise if visit.what == "place" else f"{visit.what}_m and {visit.what}_sigma_m"


def _length(out: Screen, visit: Visit, result: Measured, units: Units) -> None:
    length, sigma = units.small(abs(result.value_m), 2), units.small(result.sigma_m, 2)
    if visit.what == "drop":
        side = "below" if result.value_m >= 0.0 else "above"
        out.title(
            f"The ground at the stand lies {length} {side} the subject's, give or take {sigma}"
        )
    else:
        out.title(f"{visit.what.capitalize()} {length}, give or take {sigma}")
    out.say(f"One standard deviation; by {result.way}.")
    if len(visit.readings) > 1:
        _table(out, visit, units)
        return
    parts = sorted(result.shares.items(), key=lambda part: -part[1])[:MOST_PARTS]
    said = ", ".join(f"{name} {per_cent(share)}" for name, share in parts if share >= 0.005)
    if said:
        out.say(f"Most of the doubt is in {said}.")


def _table(out: Screen, visit: Visit, units: Units) -> None:
    out.blank()
    rows = [
        (str(number), one.way, *(units.small(v, 2) for v in (one.value_m, one.sigma_m)))
        for number, one in enumerate(visit.readings[:MOST_ROWS], 1)
        if isinstance(one, Measured)
    ]
    out.listing(("", "by", "result", "one sigma"), rows, left={"by"}, words={"by"})
    if len(visit.readings) > MOST_ROWS:
        out.say(f"and {len(visit.readings) - MOST_ROWS} more: --json")


def _place(out: Screen, place: MeasuredPlace, units: Units) -> None:
    out.title(f"{num(place.lat, 6)}, {num(place.lon, 6)} within {units.small(place.sigma_m)}")
    out.say(f"One standard deviation, east and north alike; by {place.way}.")
    out.say(
        f"Error ellipse {units.small(place.major_m)} by {units.small(place.minor_m)}, its long "
        f"axis towards {num(place.major_azimuth_deg, 0)}°; 95% of errors lie within 2.4 times as "
        "much."
    )
