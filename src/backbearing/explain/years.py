"""Rows of `explain` for the numbers of a year's answer.

A name is the chosen night by its rank (``1``; ``spare1`` for one to spare), then the subject by its
number in the year, then the lens: ``1.counted_minutes``, ``1.2.counted_minutes``,
``1.2.24mm.minutes``. One more number of a chosen night is one more row here.
"""

from __future__ import annotations

from typing import Final

from backbearing.explain.plan import Fact

_ASKED: Final = ("rule.enough_minutes", "rule.whole_kit", "rule.one_subject")
_STAND: Final = ("at", "subject_lat", "subject_lon", "target_name")

NIGHT_FACTS_OF_YEAR: Final[dict[str, Fact]] = {
    "counted_minutes": Fact(
        "minutes a lens", "what the night gave of what was lacking, by which it was chosen",
        "sum over the subjects of the mean over its lenses of min(good minutes, what the lens "
        "still lacked of enough_minutes); with one_subject the largest of them alone",
        _ASKED, (), "half a minute a lens, as two plans of one night may differ; weather and "
        "access are in no number",
    ),
}  # fmt: skip
"""Of a chosen night."""

SUBJECT_FACTS_OF_YEAR: Final[dict[str, Fact]] = {
    "counted_minutes": Fact(
        "minutes a lens", "what the night gave of what this subject's lenses lacked",
        "mean over its lenses of min(good minutes, what the lens still lacked)", _ASKED,
    ),
    "whole_kit": Fact(
        "", "whether every lens has its minutes on the night",
        "every longest good stretch is at least wanted_minutes", ("rule.least_minutes",),
    ),
    "moon.lit": Fact(
        "of 1", "lit part of the Moon in the middle of the night",
        "(1 + cos i) / 2 with the phase angle i from the Earth's centre", ("zone",),
        ("Meeus1998", "DE421"),
    ),
}  # fmt: skip
"""Of one subject on a chosen night."""

LENS_FACTS_OF_YEAR: Final[dict[str, Fact]] = {
    "minutes": Fact(
        "minutes", "good minutes of the lens on the night",
        "usable stretches of the plan of that night, added up: one turn of the sky settled by the "
        "plan's own rules and laid over the night's dark (a moving target: the night itself)",
        ("subject_lat", "subject_lon", "target_name", "zone"), ("Skyfield", "DE421", "USNO"),
        "within half a minute of that night's plan",
    ),
    "wanted_minutes": Fact(
        "minutes", "so long a stretch it wants to have its minutes",
        "frames_minutes of the outing's session, or least_minutes", ("rule.least_minutes",),
    ),
    "at": Fact(
        "UTC", "its best minute", "whole minute nearest to the middle of the longest good stretch, "
        "moved off closed ground as the plan does", ("minutes",),
    ),
    "distance_m": Fact(
        "metres", "from the stand of that minute to the subject",
        "as lens.distance_m of the plan", _STAND, ("Karney2013",),
    ),
    "bearing_deg": Fact(
        "degrees true", "from that stand to the subject",
        "as lens.bearing_deg of the plan", _STAND, ("Karney2013",),
    ),
    "altitude_deg": Fact(
        "degrees", "the target as seen from that stand then",
        "apparent place of date turned to the local horizon, raised by refraction", _STAND,
        ("Skyfield", "DE421", "Bennett1982"),
    ),
    "clearance_deg": Fact(
        "degrees", "the target over the terrain skyline then",
        "its altitude less the skyline's at its azimuth", ("altitude_deg", "at"),
        ("Ghilani2012", "Brunner1984"), "the plan of the night has its doubt",
    ),
}  # fmt: skip
"""Of one lens of a subject on a chosen night."""
