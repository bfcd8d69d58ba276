"""Why a night has no dark window, in one plain sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from backbearing.sky.nights import Span
    from backbearing.sky.targets import Target

PARTLY_UNKNOWN = "The skyline is not known for part of the dark time; that part is left out."


class State(NamedTuple):
    """What happened in the dark of one night."""

    dark: bool
    dark_and_moon_out: bool
    dark_and_clear: bool
    dark_and_unknown: bool


@dataclass(frozen=True)
class Asked:
    """The search as asked, for the sentences."""

    span: Span
    target: Target
    sun_below_deg: float
    moon: Literal["down", "any"] | float
    min_altitude_deg: float
    has_skyline: bool


def highest_deg(asked: Asked) -> float:
    """Highest apparent altitude that a fixed target reaches here, degrees; NaN for a body."""
    if not asked.target.is_fixed:
        return float("nan")
    span = asked.span
    day = span.noons[0] + np.arange(0, 1441, 4) * np.timedelta64(60, "s")
    _, altitude = direction(
        asked.target, lat=span.lat, lon=span.lon, height_m=span.height_m, times=day
    )
    return float(altitude.max())


def reason(state: State, asked: Asked, sun_lowest_deg: float, target_highest_deg: float) -> str:
    """One plain sentence for a night without a window."""
    name, edge = asked.target.name, "skyline" if asked.has_skyline else "horizon"
    if not state.dark:
        depth = "astronomical darkness" if asked.sun_below_deg == -18.0 else "darkness as asked"
        return (
            f"No {depth}: the Sun goes no lower than {sun_lowest_deg:.1f}°, "
            f"and {asked.sun_below_deg:g}° was asked."
        )
    if target_highest_deg < asked.min_altitude_deg and not asked.has_skyline:
        return (
            f"{name} never climbs to {asked.min_altitude_deg:g}° here: "
            f"it reaches {target_highest_deg:.1f}° at most."
        )
    if not state.dark_and_clear:
        if state.dark_and_unknown:
            return f"The skyline where {name} stands in the dark time is not known."
        return f"{name} stays below the {edge} all the dark time."
    too_bright = "" if isinstance(asked.moon, str) else " and brighter than asked"
    if not state.dark_and_moon_out:
        return f"The Moon is up{too_bright} all the dark time."
    return f"{name} stands above the {edge} only while the Moon is up{too_bright}."
