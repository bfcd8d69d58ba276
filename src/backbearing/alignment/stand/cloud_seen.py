"""Cloud of the outing's forecast at stands' moments, beside what is worked out of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.base.lazy import Later
from backbearing.plan.cloud import CloudFigures

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.outing.request import Outing
    from backbearing.plan.stand import Stand
    from backbearing.weather import forecast as forecasts
    from backbearing.weather import told
    from backbearing.weather.forecast import CloudForecast
    from backbearing.weather.reading import read
else:
    # Few outings name a forecast.
    forecasts = Later("backbearing.weather.forecast")
    read = Later("backbearing.weather.reading.read")
    told = Later("backbearing.weather.told")


def forecast_of(outing: Outing) -> CloudForecast | None:
    """Read the outing's forecast, if it names one.

    Raises
    ------
    SkyError
        In one sentence, what cannot be read or believed.
    """
    path = outing.night.forecast
    if path is None:
        return None
    try:
        return read.read_forecast(path, lat=outing.subject.lat, lon=outing.subject.lon)
    except BackbearingError as problem:
        problem.at(outing.place("[night]", "forecast"))
        raise


def figures(
    forecast: CloudForecast,
    *,
    lat: Sequence[float],
    lon: Sequence[float],
    height_m: Sequence[float],
    azimuth_deg: Sequence[float],
    altitude_deg: Sequence[float],
    times: Sequence[dt.datetime],
) -> list[CloudFigures]:
    """What a forecast says for n lines of sight from places at moments."""
    if not times:
        return []
    seen = forecast.seen(
        lat=lat,
        lon=lon,
        height_m=np.nan_to_num(np.asarray(height_m, dtype=np.float64)),
        azimuth_deg=azimuth_deg,
        altitude_deg=altitude_deg,
        times=told.moments(list(times)),
    )
    site, towards = forecasts.together(seen.site), forecasts.together(seen.towards)
    return [
        CloudFigures(
            float(site[i]),
            float(towards[i]),
            told.cloud_words(forecast, seen, i, time, float(altitude_deg[i])),
            told.age_h(forecast, time),
        )
        for i, time in enumerate(times)
    ]


def cloud_towards(
    forecast: CloudForecast,
    *,
    lat: Floats,
    lon: Floats,
    height_m: float,
    azimuth_deg: Floats,
    altitude_deg: Floats,
    times: Sequence[dt.datetime],
) -> Floats:
    """Share of cloud in n lines of sight at moments, 0 to 1; NaN where the file does not say."""
    seen = forecast.seen(
        lat=lat,
        lon=lon,
        height_m=height_m,
        azimuth_deg=azimuth_deg,
        altitude_deg=altitude_deg,
        times=told.moments(list(times)),
    )
    return np.asarray(forecasts.together(seen.towards))


def with_cloud(stands: Sequence[Stand], forecast: CloudForecast | None) -> list[Stand]:
    """Return stands with what a forecast says of them, a caution each; as they are without one."""
    placed = [i for i, one in enumerate(stands) if np.isfinite(one.lat)]
    said = list(stands)
    if forecast is None or not placed:
        return said
    found = figures(
        forecast,
        lat=[stands[i].lat for i in placed],
        lon=[stands[i].lon for i in placed],
        height_m=[stands[i].ground_m for i in placed],
        azimuth_deg=[stands[i].target_azimuth_deg for i in placed],
        altitude_deg=[stands[i].target_altitude_deg for i in placed],
        times=[stands[i].time for i in placed],
    )
    for i, cloud in zip(placed, found, strict=True):
        cautions = (*said[i].cautions, cloud.words)
        said[i] = replace(said[i], cloud=cloud, cautions=cautions)
    return said


def forecast_notes(forecast: CloudForecast | None) -> list[str]:
    """What a plan says of its forecast; nothing without one."""
    if forecast is None:
        return []
    return [f"Cloud is that of {forecast.name}. {told.DOUBT}"]
