"""Where terrain, sky and camera meet: stands, the minutes that work, and the plan.

Names load on first use, so importing this package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.alignment.crossings import Crossing, Crossings, crossing_times
    from backbearing.alignment.night import plan_night
    from backbearing.alignment.plan import Plan, Stand
    from backbearing.alignment.season import plan_season
    from backbearing.alignment.season_plan import Season
    from backbearing.alignment.stands import find_stands
    from backbearing.alignment.subject import Framing, Subject

_HOMES = {
    "Crossing": "crossings",
    "Crossings": "crossings",
    "Framing": "subject",
    "Plan": "plan",
    "Season": "season_plan",
    "Stand": "plan",
    "Subject": "subject",
    "crossing_times": "crossings",
    "find_stands": "stands",
    "plan_night": "night",
    "plan_season": "season",
}

__all__ = [
    "Crossing",
    "Crossings",
    "Framing",
    "Plan",
    "Season",
    "Stand",
    "Subject",
    "crossing_times",
    "find_stands",
    "plan_night",
    "plan_season",
]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
