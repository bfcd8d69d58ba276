"""Where terrain, sky and camera meet: stands, the minutes that work, and the plan.

Names load on first use, so importing this package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.alignment.night import plan_night
    from backbearing.alignment.plan import Plan, Stand
    from backbearing.alignment.stands import find_stands
    from backbearing.alignment.subject import Framing, Subject

_HOMES = {
    "Framing": "subject",
    "Plan": "plan",
    "Stand": "plan",
    "Subject": "subject",
    "find_stands": "stands",
    "plan_night": "night",
}

__all__ = ["Framing", "Plan", "Stand", "Subject", "find_stands", "plan_night"]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
