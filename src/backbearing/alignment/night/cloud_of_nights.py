"""Cloud of the outing's forecast for the nights that it reaches."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backbearing.alignment.stand.cloud_seen import figures
from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.plan.season import Night
    from backbearing.sky.window_reasons import Asked
    from backbearing.weather.forecast import CloudForecast


def nights_with_cloud(
    nights: Sequence[Night], asked: Asked, forecast: CloudForecast | None
) -> tuple[Night, ...]:
    """Return nights with what a forecast says of the middle of their longest window.

    A night beyond the forecast's time keeps no figures: of a season hardly one lies within it.
    """
    if forecast is None:
        return tuple(nights)
    found = list(nights)
    for i, night in enumerate(nights):
        stretches = night.windows or night.moonlit
        if not stretches:
            continue
        longest = max(stretches, key=lambda one: one.minutes)
        middle = longest.start + (longest.end - longest.start) / 2
        span = asked.span
        azimuth, altitude = direction(
            asked.target, lat=span.lat, lon=span.lon, height_m=span.height_m, times=[middle]
        )
        [cloud] = figures(
            forecast,
            lat=[span.lat],
            lon=[span.lon],
            height_m=[span.height_m],
            azimuth_deg=azimuth.tolist(),
            altitude_deg=altitude.tolist(),
            times=[middle],
        )
        if cloud.site == cloud.site or cloud.towards == cloud.towards:
            found[i] = replace(night, cloud=cloud)
    return tuple(found)
