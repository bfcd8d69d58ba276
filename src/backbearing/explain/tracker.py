"""Where the numbers of a tracking mount come from: the same kind of data as for a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import figures
from backbearing.explain.plan import Fact
from backbearing.explain.told import told
from backbearing.plan.turns import as_planned

if TYPE_CHECKING:
    from backbearing.explain.plan import Explanation
    from backbearing.plan.plan import Plan

TRACKER_FACTS: Final[dict[str, Fact]] = {
    "tracker.polar_error_arcmin": Fact(
        "arcmin", "how far the mount's axis may stand off the pole", "as asked", (),
    ),
    "tracker.polar_drift_arcsec_min": Fact(
        "arcsec a minute", "fastest drift that the polar error makes", "2 w sin(e / 2)",
        ("tracker.polar_error_arcmin",), ("Hook1989", "Covington1999"),
    ),
    "tracker.air_drift_arcsec_min": Fact(
        "arcsec a minute", "what refraction adds as the target climbs or sinks",
        "change of apparent less true altitude over the minute", (), ("Bennett1982",),
    ),
    "tracker.pixel_s": Fact(
        "s", "until both together have drifted a pixel in the middle of the frame, at worst",
        "atan(p / f) / (polar + air)",
        ("tracker.polar_drift_arcsec_min", "tracker.air_drift_arcsec_min"),
    ),
    "tracker.tracked_shutter_s": Fact(
        "s", "longest marked shutter within that", "whole seconds beyond 30",
        ("tracker.pixel_s",),
    ),
    "tracker.land_smear_px": Fact(
        "px", "how far the land moves in the tracked frame", "w cos(declination) t / atan(p / f)",
        ("tracker.tracked_shutter_s",),
    ),
}  # fmt: skip
"""Of several lenses, a number of each stands in a list, at its turn where it has one."""


def tracker_explanations(plan: Plan) -> dict[str, Explanation]:
    """Explain every number of a mount, keyed ``tracker.pixel_s``; none without a [tracker]."""
    lenses = [one for one in as_planned(plan).lenses if one.stand is not None and one.tracker]
    if not lenses:
        return {}
    values: dict[str, Any] = {}
    for name in TRACKER_FACTS:
        key = name.removeprefix("tracker.")
        values[name] = ", ".join(
            f"{one.lens.label}: {figures(getattr(one.tracker, key), 3)}" for one in lenses
        )
    return told(TRACKER_FACTS, values, within="tracker.")
