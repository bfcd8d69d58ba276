"""What a forecast says of cloud, in sentences: never as a promise."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.numbers import num, per_cent
from backbearing.weather.forecast import LAYERS, TOTAL, CloudForecast, CloudSeen, together

if TYPE_CHECKING:
    from numpy.typing import NDArray

DOUBT: Final = (
    "A forecast is no promise: cloud comes hours sooner or later than told, thin high cloud is "
    "often missed, and a low line of sight meets more of broken cloud than its share of the sky."
)
"""Common practice, no source."""


def age_h(forecast: CloudForecast, time: dt.datetime) -> float:
    """Hours from the forecast's run to a moment; NaN where the run is unknown."""
    if forecast.run is None:
        return math.nan
    return (time - forecast.run).total_seconds() / 3600.0


def moment_words(time: dt.datetime) -> str:
    """A moment as forecasts name it: ``5 June 2027, 18:00 UTC``."""
    utc = time.astimezone(dt.UTC)
    return f"{utc.day} {utc:%B %Y, %H:%M} UTC"


def origin_words(forecast: CloudForecast) -> str:
    """Which forecast it is, and how old."""
    if forecast.run is not None:
        return f"Forecast of {moment_words(forecast.run)}"
    first = moment_words(_aware(forecast.times[0]))
    return f"Forecast of unknown age, first for {first}"


def cloud_words(
    forecast: CloudForecast, seen: CloudSeen, i: int, time: dt.datetime, altitude_deg: float
) -> str:
    """What a forecast says of one moment, in a sentence; why nothing where it does not."""
    origin, age = origin_words(forecast), age_h(forecast, time)
    if math.isfinite(age):
        origin += f" ({num(age, 0)} h before)" if age >= 0.0 else " (begun after this moment)"
    if seen.beyond[i]:
        first, last = (moment_words(_aware(forecast.times[k])) for k in (0, -1))
        return f"{origin}: cloud is unknown then; {forecast.name} tells of {first} to {last}."
    site = _share(float(together(seen.site)[i]))
    if altitude_deg <= 0.0:
        return f"{origin}: cloud {site} over the place; the target is down."
    parts = [
        f"{layer} {per_cent(share)} ({num(float(seen.away_m[layer][i]) / 1000.0, 0)} km away)"
        for layer in LAYERS
        for share in [float(seen.towards[layer][i])]
        if math.isfinite(share)
    ]
    missing = [layer for layer in LAYERS if not math.isfinite(float(seen.towards[layer][i]))]
    total = float(together(seen.towards)[i])
    if not parts:
        if not math.isfinite(total):
            return f"{origin}: cloud {site} over the place, unknown towards the target."
        away = num(float(seen.away_m[TOTAL][i]) / 1000.0, 0)
        return (
            f"{origin}: cloud {site} over the place, {per_cent(total)} towards the target "
            f"({away} km away; no layers told)."
        )
    unknown = f", {' and '.join(missing)} unknown" if missing else ""
    return (
        f"{origin}: cloud {site} over the place; towards the target {', '.join(parts)}{unknown}, "
        f"together {_share(total)}."
    )


def moments(times: list[dt.datetime]) -> NDArray[np.datetime64]:
    """Aware moments as numpy's, UTC."""
    return np.array(
        [t.astimezone(dt.UTC).replace(tzinfo=None) for t in times], dtype="datetime64[us]"
    )


def _share(value: float) -> str:
    return per_cent(value) if math.isfinite(value) else "unknown"


def _aware(time: np.datetime64) -> dt.datetime:
    found: dt.datetime = time.astype("datetime64[us]").item()
    return found.replace(tzinfo=dt.UTC)
