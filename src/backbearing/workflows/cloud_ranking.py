"""A ranking in order for one night, by the cloud of a forecast."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation, zone_of
from backbearing.alignment.stand.cloud_seen import figures
from backbearing.base.numbers import per_cent
from backbearing.sky.zones import named_zone
from backbearing.weather.reading.read import read_forecast
from backbearing.weather.told import DOUBT, origin_words

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking
    from backbearing.weather.forecast import CloudForecast

WITHIN_M: Final = 1_000_000.0
"""Points of a forecast's grid farther from the outing's subject are left out."""


def first_evening(asked: Outing, forecast: Path) -> dt.date:
    """Evening of the night that a forecast's first moment belongs to, from noon to noon.

    Raises
    ------
    SkyError
        In one sentence, what of the forecast cannot be read or believed.
    """
    first: dt.datetime = _read(asked, forecast).times[0].astype("datetime64[us]").item()
    local = first.replace(tzinfo=dt.UTC).astimezone(named_zone(zone_of(asked)))
    return (local.replace(tzinfo=None) - dt.timedelta(hours=12)).date()


def _read(asked: Outing, forecast: Path) -> CloudForecast:
    here = asked.subject
    return read_forecast(forecast.absolute(), lat=here.lat, lon=here.lon, within_m=WITHIN_M)


def ranked_by_cloud(ranking: Ranking, asked: Outing, forecast: Path) -> Ranking:
    """Order candidates by their score and what a forecast leaves clear towards the target.

    By the product of the two; or, where ``cloud`` has a weight, by the score with what is left
    clear as one more part of it.

    Each at its own best minute and stand. Those for which the cloud is unknown come after, in
    their own order; failures stay last. Two columns are added, ``cloud_site`` and
    ``cloud_towards``, 0 to 1 and NaN where unknown, and a reason.

    Raises
    ------
    SkyError
        In one sentence, what of the forecast cannot be read or believed.
    """
    read = _read(asked, forecast)
    frame = ranking.frame.copy()
    there = np.flatnonzero(np.isfinite(np.asarray(frame["stand_lat"], dtype=np.float64)))
    rows = frame.iloc[there]
    lat, lon = (np.asarray(rows[f"stand_{key}"], dtype=np.float64) for key in ("lat", "lon"))
    told = figures(
        read,
        lat=lat.tolist(),
        lon=lon.tolist(),
        height_m=np.asarray(open_elevation(asked).height_at(lat=lat, lon=lon)).tolist(),
        azimuth_deg=rows["target_azimuth_deg"].tolist(),
        altitude_deg=rows["target_altitude_deg"].tolist(),
        times=[dt.datetime.fromisoformat(str(time)) for time in rows["best_time"]],
    )
    for name in ("site", "towards"):
        column = np.full(len(frame), np.nan)
        column[there] = [getattr(one, name) for one in told]
        frame[f"cloud_{name}"] = column
    weights = asked.scouting.weights
    if weights.cloud > 0.0:
        frame["part_cloud"] = 1.0 - frame["cloud_towards"]
        frame["score"] = _with_cloud(frame, sum(weights.values()), weights.cloud)
    order = _order(frame, ranking.ranked, as_part=weights.cloud > 0.0)
    frame = frame.iloc[order].reset_index(drop=True)
    frame.loc[: ranking.ranked - 1, "rank"] = np.arange(1, ranking.ranked + 1)
    frame["reasons"] = [
        _with_reason(str(said), towards)
        for said, towards in zip(frame["reasons"], frame["cloud_towards"], strict=True)
    ]
    notes = (*ranking.notes, f"In order by cloud. {origin_words(read)} ({read.name}). {DOUBT}")
    return replace(ranking, frame=frame, minutes=ranking.minutes[order], notes=notes)


def _with_cloud(frame: pd.DataFrame, others: float, weight: float) -> np.ndarray:
    """The score with the clear share as one more part; as it was where the cloud is unknown."""
    score = np.asarray(frame["score"], dtype=np.float64)
    clear = np.asarray(frame["part_cloud"], dtype=np.float64)
    have = (1.0 - np.asarray(frame["unknown_weight"], dtype=np.float64)) * others
    joined = (score * have + 100.0 * weight * clear) / (have + weight)
    return np.where(np.isfinite(clear), joined, score)


def _order(frame: pd.DataFrame, ranked: int, *, as_part: bool) -> np.ndarray:
    """Rows in their new order: known cloud by what is left of the score, unknown, failures."""
    score = np.asarray(frame["score"], dtype=np.float64)[:ranked]
    towards = np.asarray(frame["cloud_towards"], dtype=np.float64)[:ranked]
    left = np.where(np.isfinite(towards), score, np.nan) if as_part else score * (1.0 - towards)
    known = np.isfinite(left)
    first = np.lexsort((np.arange(ranked), -np.where(known, left, 0.0), ~known))
    return np.concatenate([first, np.arange(ranked, len(frame))])


def _with_reason(said: str, towards: float) -> str:
    cloud = per_cent(towards) if np.isfinite(towards) else "unknown"
    return f"forecast: cloud {cloud} towards the target; {said}" if said else said
