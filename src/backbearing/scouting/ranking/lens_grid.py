"""One lens over many candidates at many hour angles: stands, frames, skylines, margins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.scouting.ranking.dark_minutes import good_part
from backbearing.scouting.ranking.frame_margins import PER_DEG, framed
from backbearing.scouting.ranking.hour_angle_grid import NODES
from backbearing.scouting.ranking.stand_solver import near_places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.hour_angle_grid import Sight
    from backbearing.scouting.ranking.stand_solver import ManyProblem, ManyStands

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

CLEAR_ENOUGH_DEG = 5.0
"""So far above the asked margin, more clearance makes a minute no better (our own choice)."""


@dataclass(frozen=True)
class LensNodes:
    """One lens, n candidates: what is good between the nodes, and what spoils the rest.

    Attributes
    ----------
    low, high : ndarray, shape (n, NODES)
        Good part of the way from each node to the next.
    worth, fit : ndarray, shape (n, NODES)
        Worth of a minute there, 0 to 1; how well the target sits in the frame.
    solved, feasible, framed : ndarray of bool, shape (n,)
        Whether there is a stand at all, one on ground fit for a tripod, one whose frame
        holds the target.
    most_clear_deg : ndarray, shape (n,)
        Largest clearance in a held frame; NaN when none was looked at.
    """

    low: Floats
    high: Floats
    worth: Floats
    fit: Floats
    solved: Flags
    feasible: Flags
    framed: Flags
    most_clear_deg: Floats


def lens_nodes(context: Context, problem: ManyProblem, sight: Sight, active: Flags) -> LensNodes:
    """Look at one lens's stands where they are wanted.

    Parameters
    ----------
    active : ndarray of bool, shape (n, m)
        Nodes of the sight that matter for each candidate.
    """
    task = context.task
    bearing = sight.azimuth_deg - problem.framing.offset_deg
    back = wrap_360_deg(bearing + 180.0)
    stands = problem.stands(back, active)
    lat, lon = near_places(problem.group, back, stands.distance_m)
    fit_ground = _fit_for_a_tripod(context, problem, stands, lat, lon)
    shown = framed(
        problem,
        bearing_deg=bearing,
        azimuth_deg=sight.azimuth_deg,
        altitude_deg=sight.altitude_deg,
        base_altitude_deg=stands.base_altitude_deg,
        top_altitude_deg=stands.top_altitude_deg,
    )
    up = np.minimum(shown.margin, PER_DEG * sight.altitude_deg)
    held = np.where(fit_ground, up, np.nan)
    clearance = _clearance(context, sight, lat, lon, held)
    room = clearance - task.night.clear_by_deg
    low, high = good_part(*(_on_circle(sight, values) for values in (held, room)))
    clear_fit = np.clip(room / CLEAR_ENOUGH_DEG, 0.0, 1.0)
    inside = held >= 0.0
    with np.errstate(invalid="ignore"):
        most = np.where(inside, clearance, -np.inf).max(axis=1, initial=-np.inf)
    return LensNodes(
        low,
        high,
        worth=_on_circle(sight, 0.5 * (shown.fit + clear_fit)),
        fit=_on_circle(sight, shown.fit),
        solved=np.asarray(np.isfinite(stands.distance_m).any(axis=1)),
        feasible=np.asarray(fit_ground.any(axis=1)),
        framed=np.asarray(inside.any(axis=1)),
        most_clear_deg=np.where(np.isneginf(most), np.nan, most),
    )


def _fit_for_a_tripod(
    context: Context, problem: ManyProblem, stands: ManyStands, lat: Floats, lon: Floats
) -> Flags:
    """Whether the ground at stands is known, not too steep, and not marked against it."""
    good = np.isfinite(stands.ground_m) & (stands.slope_deg <= context.task.request.steepest_deg)
    reach = np.where(good, stands.distance_m, 0.0).max(axis=1, initial=0.0)
    group = problem.group
    near = context.site.near_closed_ground(lat=group.lat, lon=group.lon, reach_m=reach)
    asked = good & near[:, None]
    if asked.any():
        good[asked] = ~context.site.on_closed_ground(lat=lat[asked], lon=lon[asked])
    return np.asarray(good)


def _clearance(context: Context, sight: Sight, lat: Floats, lon: Floats, held: Floats) -> Floats:
    """Clearance over the skyline where the frame holds the target, and one node beyond."""
    inside = _on_circle(sight, held) >= 0.0
    beside = inside | np.roll(inside, 1, axis=1) | np.roll(inside, -1, axis=1)
    look = beside[:, sight.nodes] & np.isfinite(held)
    clearance = np.full(held.shape, np.nan)
    if look.any():
        seen = context.elevation.skylines(
            lat=lat[look],
            lon=lon[look],
            azimuths_deg=sight.azimuth_deg[look],
            eye_height_m=context.task.framing.eye_height_m,
            max_distance_m=context.task.ground.reach_m,
            refraction_k=context.task.ground.refraction_k,
        )
        clearance[look] = sight.altitude_deg[look] - seen.altitudes_deg
    return clearance


def _on_circle(sight: Sight, values: Floats) -> Floats:
    """Values at some nodes as values at all of them, NaN elsewhere."""
    out = np.full((values.shape[0], NODES), np.nan)
    out[:, sight.nodes] = values
    return out
