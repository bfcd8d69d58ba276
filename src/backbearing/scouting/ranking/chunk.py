"""One chunk of candidates: every number of the ranking but the rank."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.scouting.ranking.candidate_stands import (
    LONGEST_M,
    CandidateGroup,
    LensQuestion,
)
from backbearing.scouting.ranking.columns import ChunkResult
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.dark_minutes import (
    ENOUGH_MINUTES,
    ROOM_MINUTES,
    DarkStretches,
    dark_stretches,
)
from backbearing.scouting.ranking.hour_angle_grid import NODES, TargetGrid, target_grid
from backbearing.scouting.ranking.lens_grid import LensGrid, look_over_grid
from backbearing.scouting.ranking.moving_target import AT_ONCE, look_at_moments, moving_sky
from backbearing.scouting.ranking.raster_window import RasterWindow, tiles_of
from backbearing.scouting.ranking.scoring import scored
from backbearing.scouting.ranking.tally import Tallied

if TYPE_CHECKING:
    import geopandas
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.task import ScoutTask

    Flags = NDArray[np.bool_]

__all__ = ["ChunkResult", "Context", "rank_chunk"]

LOWEST_DEG = -1.0
"""Below this the target is not looked at: one node under the horizontal or so."""


def rank_chunk(task: ScoutTask, frame: geopandas.GeoDataFrame, context: Context) -> ChunkResult:
    """Work out one slice of the candidates' frame.

    A candidate's numbers do not depend on the others of the slice, to the last bit.

    Parameters
    ----------
    task : ScoutTask
    frame : geopandas.GeoDataFrame
        Candidates, as `read_candidates` gives them; any index.
    context : Context
        Of the same task.

    Returns
    -------
    ChunkResult
        Rows as in the frame.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, read_candidates
    >>> from backbearing.scouting import Context, rank_chunk, task_of
    >>> task = task_of(load_outing(sample / "outing.toml"), lat=36.35, lon=-84.13, nights=3)
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> context = Context.of(task, candidates)
    >>> rank_chunk(task, candidates.frame.iloc[:2], context).minutes.shape
    (2, 3, 4)
    """
    lat = np.asarray(frame.geometry.y, dtype=np.float64)
    lon = np.asarray(frame.geometry.x, dtype=np.float64)
    parts, where = [], _parts(task, tiles_of(context.elevation, lat=lat, lon=lon))
    for rows in where:
        some = frame.iloc[rows]
        group = _group(some, lat[rows], lon[rows], context)
        parts.append(scored(context, some, group, _tallied(task, group, context)))
    return ChunkResult.gathered(parts, np.concatenate(where) if where else np.zeros(0, dtype=int))


def _group(frame: geopandas.GeoDataFrame, lat, lon, context: Context) -> CandidateGroup:  # type: ignore[no-untyped-def]
    window = RasterWindow.about(context.elevation, lat=lat, lon=lon, reach_m=LONGEST_M)
    return CandidateGroup(
        lat=lat,
        lon=lon,
        height_m=np.asarray(frame["height_m"], dtype=np.float64),
        width_m=np.asarray(frame["width_m"], dtype=np.float64),
        ground_m=np.asarray(context.elevation.height_at(lat=lat, lon=lon), dtype=np.float64),
        window=window,
    )


def _tallied(task: ScoutTask, group: CandidateGroup, context: Context) -> Tallied:
    """Dark minutes of every night and lens, and each lens's best minute."""
    from backbearing.scouting.ranking._minute_kernels import tally

    questions = [
        LensQuestion.of(group, task.camera, one.lens, task.framing_of(i), task.ground.refraction_k)
        for i, one in enumerate(task.lenses)
    ]
    if task.target.is_fixed:
        stretches, up, looks = _over_turn(group, context, questions)
    else:
        sky = moving_sky(context, group)
        stretches, up = sky.stretches, sky.up
        looks = [look_at_moments(context, question, sky) for question in questions]
    n, lenses = len(group.lat), len(looks)
    minutes = np.zeros((n, task.nights, lenses), dtype=np.float32)
    best, best_fit = np.empty((n, lenses, 4)), np.empty((n, lenses))
    low, high, worth, fit = (
        np.stack([getattr(one, name) for one in looks], axis=1)
        for name in ("low", "high", "worth", "fit")
    )
    tally(
        low, high, worth, fit,
        stretches.first, stretches.night, stretches.start, stretches.end,
        stretches.minutes_per_node, ENOUGH_MINUTES, ROOM_MINUTES / stretches.minutes_per_node,
        minutes, best, best_fit,
    )  # fmt: skip
    return Tallied(
        questions=questions,
        looks=looks,
        stretches=stretches,
        up=up,
        low=low,
        high=high,
        minutes=np.minimum(np.rint(minutes), 65535.0).astype(np.uint16),
        best=best,
        best_fit=best_fit,
    )


def _over_turn(
    group: CandidateGroup, context: Context, questions: list[LensQuestion]
) -> tuple[DarkStretches, Flags, list[LensGrid]]:
    """A fixed target over one turn of the sky: dark stretches, whether it is up, the lenses."""
    stretches = dark_stretches(context.clock, context.dark_times, lat=group.lat, lon=group.lon)
    grid = target_grid(
        nodes=np.flatnonzero(stretches.nodes_met()),
        dec_deg=context.clock.dec_deg,
        lat=group.lat,
        height_m=group.ground_m,
    )
    active = _active(stretches, grid)
    looks = [look_over_grid(context, question, grid, active) for question in questions]
    return stretches, np.asarray(active.any(axis=1)), looks


def _parts(task: ScoutTask, where: list[NDArray[np.intp]]) -> list[NDArray[np.intp]]:
    """Rows that are worked out together: fewer where every moment of the nights is held."""
    if task.target.is_fixed:
        return where
    return [rows[i : i + AT_ONCE] for rows in where for i in range(0, len(rows), AT_ONCE)]


def _active(stretches: DarkStretches, grid: TargetGrid) -> Flags:
    """Nodes at which the target is up, in or next to the candidate's own dark, (n, m)."""
    from backbearing.scouting.ranking._minute_kernels import mark_dark

    dark = np.zeros((len(stretches.first) - 1, NODES), dtype=np.bool_)
    mark_dark(stretches.first, stretches.start, stretches.end, dark)
    return np.asarray((grid.altitude_deg >= LOWEST_DEG) & dark[:, grid.nodes])
