"""The sky: where a target stands, when it is dark, what the clock and compass say.

Names load on first use, so importing this package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.sky.darkness import dark_windows
    from backbearing.sky.directions import direction
    from backbearing.sky.hour_angles import altitude_passages, azimuth_passages, transits
    from backbearing.sky.lean import lean_deg
    from backbearing.sky.magnetic import MagneticDeclination, magnetic_declination
    from backbearing.sky.moonlight import Moonlight, light_side, moonlight_at
    from backbearing.sky.nights import NightEvent, NightEvents, night_events
    from backbearing.sky.targets import CORE, Target
    from backbearing.sky.windows import DarkWindow, DarkWindows

_HOMES = {
    "CORE": "targets",
    "DarkWindow": "windows",
    "DarkWindows": "windows",
    "MagneticDeclination": "magnetic",
    "Moonlight": "moonlight",
    "NightEvent": "nights",
    "NightEvents": "nights",
    "Target": "targets",
    "altitude_passages": "hour_angles",
    "azimuth_passages": "hour_angles",
    "dark_windows": "darkness",
    "direction": "directions",
    "lean_deg": "lean",
    "light_side": "moonlight",
    "magnetic_declination": "magnetic",
    "moonlight_at": "moonlight",
    "night_events": "nights",
    "transits": "hour_angles",
}

__all__ = [
    "CORE",
    "DarkWindow",
    "DarkWindows",
    "MagneticDeclination",
    "Moonlight",
    "NightEvent",
    "NightEvents",
    "Target",
    "altitude_passages",
    "azimuth_passages",
    "dark_windows",
    "direction",
    "lean_deg",
    "light_side",
    "magnetic_declination",
    "moonlight_at",
    "night_events",
    "transits",
]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
