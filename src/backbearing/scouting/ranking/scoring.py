"""Parts of a score, each from 0 to 1 or NaN where it is unknown, and the facts behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.text import night_label
from backbearing.outing.score_limits import (
    BEST_NIGHTS,
    BRIGHT_SKY_MAG,
    DARK_SKY_MAG,
    DIM_AIR_MAG,
    FAINT_GLOW_MAG,
    FULL_MINUTES,
    LEAST_LEVEL_SHARE,
    LEVEL_DEG,
)
from backbearing.outing.scouting_request import PARTS
from backbearing.scouting.ranking.columns import ChunkResult
from backbearing.scouting.ranking.failures import failures
from backbearing.scouting.ranking.reasons import cautions_of, reasons_of
from backbearing.scouting.ranking.stand_facts import gather_facts
from backbearing.sky.zones import local

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas
    from numpy.typing import NDArray

    from backbearing.outing.scouting_request import Weights
    from backbearing.scouting.ranking.candidate_stands import CandidateGroup
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.stand_facts import StandFacts
    from backbearing.scouting.ranking.tally import Tallied
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.site.site import SiteData

    Floats = NDArray[np.float64]


def scored(
    context: Context, frame: geopandas.GeoDataFrame, group: CandidateGroup, tallied: Tallied
) -> ChunkResult:
    """Settle the best minutes, score the parts and word the reasons."""
    task, facts = context.task, gather_facts(context, group, tallied)
    own = [str(v) for v in frame["access"]] if "access" in frame else ["unknown"] * len(frame)
    closed = np.array([a == "closed" for a in own]) | _on_closed_land(context.site, group)
    failed = [
        said or ("" if settled else "The stand of its best minute cannot be settled.")
        for said, settled in zip(
            failures(context, group, tallied, closed), np.isfinite(facts.best.lat), strict=True
        )
    ]
    parts = parts_of(task, group, tallied, facts)
    lost = np.array([bool(said) for said in failed], dtype=np.bool_)
    score, unknown = weighed(task.request.weights, parts)
    columns: dict[str, Any] = {
        "score": score,
        "failure": failed,
        "access": accesses(own, facts.land.access, closed),
        **{f"part_{name}": parts[name] for name in PARTS},
        "unknown_weight": unknown,
        **_best_columns(task, facts),
        **_fact_columns(facts),
        **_lens_columns(task.lens_names, tallied, facts),
        "reasons": reasons_of(context, frame, tallied, facts, parts, failed),
        "cautions": cautions_of(task, frame, facts, own),
    }
    plain = {name: _without(lost, name, values) for name, values in columns.items()}
    return ChunkResult(plain, tallied.minutes)


def accesses(own: list[str], land: list[str], closed: NDArray[np.bool_]) -> list[str]:
    """Join the file's word on each candidate with that on the land under its stand.

    The graver of two words counts; where one of them says nothing, the other.
    """
    joined = []
    for said, ground, barred in zip(own, land, closed, strict=True):
        words = {said, ground} - {"", "unknown"}
        told = next((word for word in ("closed", "ask first", "open") if word in words), "unknown")
        joined.append("closed" if barred else told)
    return joined


def _without(lost: NDArray[np.bool_], name: str, values: Any) -> NDArray[Any]:
    """Leave a hard failure no stand and no score, so that nothing of it is taken for one."""
    if isinstance(values, list):
        texts = np.array(values, dtype=object)
        return texts if name in ("failure", "access") else np.where(lost, "", texts)
    return np.where(lost, np.nan, values) if values.dtype.kind == "f" else np.asarray(values)


def _on_closed_land(site: SiteData, group: CandidateGroup) -> NDArray[np.bool_]:
    land = site.land_of(lat=group.lat, lon=group.lon)
    if land is None:
        return np.zeros(len(group.lat), dtype=np.bool_)
    return np.asarray(land.access == "closed")


def parts_of(
    task: ScoutTask, group: CandidateGroup, tallied: Tallied, facts: StandFacts
) -> dict[str, Floats]:
    """Score every part, 0 to 1; NaN where it is unknown."""
    request, at = task.request, facts.best
    some = np.isfinite(at.lat)
    slope = 1.0 - (facts.ground.slope_deg - LEVEL_DEG) / max(request.steepest_deg - LEVEL_DEG, 1e-9)
    walk = (
        1.0 - facts.way.metres / request.longest_walk_m
        if request.longest_walk_m > 0
        else (
            np.where(
                np.isnan(facts.way.metres), np.nan, np.asarray(facts.way.metres <= 0.0, dtype=float)
            )
        )
    )
    parts = {
        "dark": dark_part(facts.night_minutes),
        "altitude": np.nan_to_num(tallied.best_fit).mean(axis=1),
        "skyline_break": break_part(
            facts.break_deg / (at.top_altitude_deg - at.base_altitude_deg),
            height_m=group.height_m,
            eye_height_m=task.framing.eye_height_m,
        ),
        "isolation": 1.0 / (1.0 + facts.clutter.load),
        "ground": 0.5 * np.clip(slope, 0.0, 1.0) + 0.5 * facts.feasible_share,
        "walk": walk,
        "town_glow": 1.0 - facts.sky.glow_mag / FAINT_GLOW_MAG,
        "sky": (facts.sky.zenith_mag - BRIGHT_SKY_MAG) / (DARK_SKY_MAG - BRIGHT_SKY_MAG),
        "air": 1.0 - facts.sky.air_mag / DIM_AIR_MAG,
        "behind": (facts.sky.behind_mag - BRIGHT_SKY_MAG) / (DARK_SKY_MAG - BRIGHT_SKY_MAG),
    }
    return {k: np.where(some, np.clip(v, 0.0, 1.0), np.nan) for k, v in parts.items()}


def dark_part(minutes: NDArray[np.uint16]) -> Floats:
    """Mean of the best ten nights' minutes over two hours, each night at most 1.

    Parameters
    ----------
    minutes : ndarray, shape (n, nights)
        Dark minutes with the target clear, by the best lens of each night.
    """
    count = min(BEST_NIGHTS, minutes.shape[1])
    best = np.sort(minutes, axis=1)[:, -count:]
    return np.asarray(np.minimum(best / FULL_MINUTES, 1.0).mean(axis=1))


def break_part(share: Floats, *, height_m: Floats, eye_height_m: float) -> Floats:
    """Share of the subject against the sky, over the share that level ground leaves there.

    Level ground reaches up to the height of the eye, and hides as much of the subject even
    at the best of places. No subject is asked for less than a tenth.
    """
    level = np.maximum(1.0 - eye_height_m / height_m, LEAST_LEVEL_SHARE)
    return np.asarray(share / level)


def weighed(weights: Weights, parts: dict[str, Floats]) -> tuple[Floats, Floats]:
    """Score from 0 to 100, and the share of the weights that stands on nothing known."""
    each = weights.values()
    total = np.zeros(len(parts[PARTS[0]]))
    have = np.zeros(len(total))
    # One part after another: a sum over an axis may round differently with another length.
    for name, weight in zip(PARTS, each, strict=True):
        known = np.isfinite(parts[name])
        have += np.where(known, weight, 0.0)
        total += np.where(known, weight * np.nan_to_num(parts[name]), 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return 100.0 * total / have, 1.0 - have / sum(each)


def _best_columns(task: ScoutTask, facts: StandFacts) -> dict[str, Any]:
    import datetime as dt
    from zoneinfo import ZoneInfo

    at = facts.best
    zone = ZoneInfo(task.zone)
    evening, label, time = [], [], []
    for night, moment in zip(at.night.tolist(), at.utc, strict=True):
        if np.isnat(moment):
            evening.append("")
            label.append("")
            time.append("")
            continue
        day = task.first_night + dt.timedelta(days=night)
        evening.append(day.isoformat())
        label.append(night_label(day))
        time.append(local(moment, zone).replace(microsecond=0).isoformat())
    least = task.request.least_minutes
    lens = np.array(task.lenses_mm)[facts.which]
    return {
        "best_night": evening,
        "night_label": label,
        "best_time": time,
        "best_lens_mm": np.where(np.isfinite(at.lat), lens, np.nan),
        "total_minutes": facts.night_minutes.sum(axis=1, dtype=np.int64),
        "good_nights": (facts.night_minutes >= least).sum(axis=1),
    }


def _fact_columns(facts: StandFacts) -> dict[str, Any]:
    at = facts.best
    return {
        "clearance_deg": at.clearance_deg,
        "clearance_sigma_deg": facts.doubt.sigma_deg,
        "clearance_bias_deg": facts.doubt.rise_deg,
        "target_altitude_deg": at.target_altitude_deg,
        "target_azimuth_deg": at.target_azimuth_deg,
        "back_bearing_deg": wrap_360_deg(at.bearing_deg + 180.0),
        "distance_m": at.distance_m,
        "stand_lat": at.lat,
        "stand_lon": at.lon,
        "subject_deg": at.top_altitude_deg - at.base_altitude_deg,
        "skyline_break_deg": facts.break_deg,
        "isolation_count": facts.clutter.count,
        "isolation_load": np.where(np.isfinite(at.lat), facts.clutter.load, np.nan),
        "feasible_share": facts.feasible_share,
        "slope_deg": facts.ground.slope_deg,
        "walk_m": facts.way.metres,
        "town_glow_mag": facts.sky.glow_mag,
        "sky_mag_arcsec2": facts.sky.zenith_mag,
        "air_mag": facts.sky.air_mag,
        "air_sigma_mag": facts.sky.air_sigma_mag,
        "behind_mag_arcsec2": facts.sky.behind_mag,
        "behind_sigma_mag": facts.sky.behind_sigma_mag,
        "unknown_share": np.where(np.isfinite(at.lat), at.unknown_share, np.nan),
    }


def _lens_columns(names: Sequence[str], tallied: Tallied, facts: StandFacts) -> dict[str, Any]:
    columns: dict[str, Any] = {}
    for i, name in enumerate(names):
        columns[f"{name}_minutes"] = tallied.minutes[:, :, i].sum(axis=1, dtype=np.int64)
        columns[f"{name}_distance_m"] = facts.each[i].distance_m
        columns[f"{name}_clearance_deg"] = facts.each[i].clearance_deg
        columns[f"{name}_fit"] = np.nan_to_num(tallied.best_fit[:, i])
    return columns
