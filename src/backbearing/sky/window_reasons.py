"""Why a night has no dark window, in one plain sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from backbearing.base.numbers import num
from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from backbearing.sky.nights import NightSpan
    from backbearing.sky.outcomes import Outcome
    from backbearing.sky.targets import Target
    from backbearing.sky.windows import Skyline

PARTLY_UNKNOWN = "The skyline is not known for part of the dark time; that part is left out."

MOON_IS_TARGET = "The Moon is the target, and does not count as what spoils its own night."
"""Said where a Moon that is down was asked for: of its own sky that means nothing."""

LOWEST_SKYLINE_DEG = -3.0
"""Even from 8 km above a plain the skyline is no lower: what stays below this never rises."""


class State(NamedTuple):
    """What happened in the dark of one night."""

    dark: bool
    dark_and_moon_out: bool
    dark_and_clear: bool
    dark_and_unknown: bool


@dataclass(frozen=True)
class Asked:
    """The search as asked, for the sentences."""

    span: NightSpan
    target: Target
    sun_below_deg: float
    moon: Literal["down", "any"] | float
    min_altitude_deg: float
    horizon: Skyline | None = None
    moon_adds_mag: float | None = None


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


def outcome(state: State, asked: Asked, target_highest_deg: float) -> Outcome:
    """What took the window from a night, the first cause first."""
    if not state.dark:
        return "no darkness"
    if target_highest_deg < _needed_deg(asked):
        return "never so high"
    if not state.dark_and_clear:
        return "skyline unknown" if state.dark_and_unknown else "below the skyline"
    return "moon while clear" if state.dark_and_moon_out else "moon"


def reason(  # noqa: PLR0911  # one return for each cause
    why: Outcome, asked: Asked, sun_lowest_deg: float, target_highest_deg: float
) -> str:
    """One plain sentence for a night without a window."""
    name = asked.target.name
    edge = "horizon" if asked.horizon is None else "skyline"
    if why == "no darkness":
        depth = "astronomical darkness" if asked.sun_below_deg == -18.0 else "darkness as asked"
        said = (
            f"No {depth}: the Sun goes no lower than {num(sun_lowest_deg, 1)}°, "
            f"and {num(asked.sun_below_deg)}° was asked."
        )
        # A darker season would not help either.
        if target_highest_deg < _needed_deg(asked):
            said += f" {_never_up(asked, target_highest_deg)}"
        return said
    if why == "never so high":
        return _never_up(asked, target_highest_deg)
    if why == "skyline unknown":
        return f"The skyline where {name} stands in the dark time is not known."
    if why == "below the skyline":
        if asked.min_altitude_deg > 0.0:
            return (
                f"{name} never stands {num(asked.min_altitude_deg)}° clear of the {edge} in the "
                "dark time."
            )
        return f"{name} stays below the {edge} all the dark time."
    bright = asked.moon_adds_mag is not None or not isinstance(asked.moon, str)
    too_bright = " and brighter than asked" if bright else ""
    if why == "moon":
        return f"The Moon is up{too_bright} all the dark time."
    return f"{name} stands above the {edge} only while the Moon is up{too_bright}."


def _needed_deg(asked: Asked) -> float:
    """Altitude that a target must reach to be seen at all."""
    return asked.min_altitude_deg if asked.horizon is None else LOWEST_SKYLINE_DEG


def _never_up(asked: Asked, target_highest_deg: float) -> str:
    name, most = asked.target.name, f"it reaches {num(target_highest_deg, 1)}° at most"
    if asked.horizon is not None:
        return f"{name} never rises here: {most}."
    return f"{name} never climbs to {num(asked.min_altitude_deg)}° here: {most}."
