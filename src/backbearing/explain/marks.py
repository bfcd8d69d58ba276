"""Where the numbers of skyline marks come from: the same kind of data as for a plan."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import num
from backbearing.base.plain import plain
from backbearing.explain.plan import Fact
from backbearing.explain.told import told

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.explain.plan import Explanation
    from backbearing.plan.marks import MarksFromEye
    from backbearing.plan.plan import Plan

_FIT = (
    "mean of the posterior over tilt and turn; a reading shows the raster's ground with noise, or "
    "something above it (a mixture, heights exponential)"
)
_FIT_SIGMA = "standard deviation of the same posterior"
_READ = ("marks.read_from", "marks.readings", "marks.sigma_deg", "elevation")
_SOURCES = ("Hogg2010", "Grushka1972")

MARK_FACTS: Final[dict[str, Fact]] = {
    "marks.read_from": Fact("", "where the marks were read", "as asked", ()),
    "marks.readings": Fact("readings", "skyline marks of the outing", "counted", ()),
    "marks.sigma_deg": Fact(
        "degrees", "one standard deviation of a reading, in the mean",
        "as written; with what a correction leaves doubtful, in quadrature", ("marks.read_from",),
    ),
    "marks.highest_over_deg": Fact(
        "degrees", "most that a mark stands over the raster, beyond 2.5 doubts of both",
        "mark less the bare raster's skyline on its azimuth from the same eye",
        _READ, ("Ghilani2012",),
    ),
    "marks.highest_azimuth_deg": Fact(
        "degrees true", "azimuth of that mark",
        "as read; by compass plus the declination, less what was taken off", _READ, ("WMM2025",),
    ),
    "marks.tilt_deg": Fact(
        "degrees", "how much too high all altitudes were read", _FIT, _READ, _SOURCES
    ),
    "marks.tilt_sigma_deg": Fact(
        "degrees", "one standard deviation of that tilt",
        _FIT_SIGMA + ", with the error of the ground under the eye", _READ, _SOURCES,
    ),
    "marks.turn_deg": Fact(
        "degrees", "how far clockwise all azimuths were read", _FIT, _READ, _SOURCES
    ),
    "marks.turn_sigma_deg": Fact(
        "degrees", "one standard deviation of that turn", _FIT_SIGMA, _READ, _SOURCES
    ),
    "marks.tilt_taken_deg": Fact(
        "degrees", "what the plan took off all altitudes", "marks_correct or marks_tilt_deg", ()
    ),
    "marks.turn_taken_deg": Fact(
        "degrees", "what the plan took off all azimuths", "marks_correct or marks_turn_deg", ()
    ),
    "marks.holds_within_m": Fact(
        "m", "how far from where it was read a mark without a distance holds",
        "half of 100 m, from which on a thing need not have its distance measured", (),
    ),
    "marks.raises_deg": Fact(
        "degrees", "what a mark adds to the skyline below the target at each lens's stand",
        "top of the wall between neighbouring marks as the stand sees it, less the raster's "
        "skyline; of an untold distance the higher of 100 m and the farthest for a thing 50 m tall",
        ("marks.holds_within_m",), ("Ghilani2012", "JCGM100"),
    ),
}  # fmt: skip
"""Of an outing with marks from several places, a number of each stands in a list."""

_OF_SET: Final[dict[str, Callable[[MarksFromEye], Any]]] = {
    "marks.read_from": lambda one: one.read_from,
    "marks.readings": lambda one: len(one.marks),
    "marks.sigma_deg": lambda one: sum(m.sigma_deg for m in one.marks) / len(one.marks),
    "marks.tilt_deg": lambda one: one.errors.tilt_deg,
    "marks.tilt_sigma_deg": lambda one: one.errors.tilt_sigma_deg,
    "marks.turn_deg": lambda one: one.errors.turn_deg,
    "marks.turn_sigma_deg": lambda one: one.errors.turn_sigma_deg,
    "marks.tilt_taken_deg": lambda one: one.errors.tilt_taken_deg,
    "marks.turn_taken_deg": lambda one: one.errors.turn_taken_deg,
}


def marks_explanations(plan: Plan) -> dict[str, Explanation]:
    """Explain every number of a plan's skyline marks, keyed ``marks.tilt_deg``; none without."""
    marks = plan.land.marks
    if marks is None:
        return {}
    values: dict[str, Any] = {"elevation": plan.ground.source}
    for name, of in _OF_SET.items():
        each = [plain(of(one)) for one in marks.sets]
        values[name] = each[0] if len(each) == 1 else each
    highest = marks.highest
    values["marks.highest_over_deg"] = None if highest is None else highest.over_deg
    values["marks.highest_azimuth_deg"] = None if highest is None else highest.azimuth_deg
    values["marks.holds_within_m"] = marks.holds_within_m
    values["marks.raises_deg"] = ", ".join(
        f"{at.lens}: {num(at.raises_deg, 2)}"
        for at in marks.at_stands
        if math.isfinite(at.raises_deg)
    )
    return told(MARK_FACTS, values, within="marks.")
