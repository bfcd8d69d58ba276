"""One lens over many candidates at many hour angles: stands, frames, skylines, margins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.behind_subject import SeenBox, asked_behind, room_off_box_deg
from backbearing.alignment.stand.target_place import PER_DEG, PlaceInFrame, room_in_place
from backbearing.base.angles import wrap_360_deg
from backbearing.camera.framing import frame_position
from backbearing.scouting.ranking.candidate_stands import near_places
from backbearing.scouting.ranking.dark_minutes import good_part
from backbearing.scouting.ranking.hour_angle_grid import NODES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.framing_fit import FramingFit
    from backbearing.scouting.ranking.candidate_stands import GridStands, LensQuestion
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.hour_angle_grid import TargetGrid

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

CLEAR_ENOUGH_DEG = 5.0
"""So far above the asked margin, more clearance makes a minute no better (our own choice)."""


@dataclass(frozen=True)
class LensGrid:
    """One lens, n candidates: what is good between the nodes, and what spoils the rest.

    Attributes
    ----------
    low, high : ndarray, shape (n, nodes)
        Good part of the way from each node to the next.
    worth, fit : ndarray, shape (n, nodes)
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


def look_over_grid(
    context: Context, question: LensQuestion, grid: TargetGrid, active: Flags
) -> LensGrid:
    """Look at one lens's stands where they are wanted.

    Parameters
    ----------
    active : ndarray of bool, shape (n, m)
        Nodes of the grid that matter for each candidate.
    """
    task = context.task
    back = wrap_360_deg(grid.azimuth_deg - question.fit.framing.offset_deg + 180.0)
    stands = question.stands(back, active)
    lat, lon = near_places(question.group, back, stands.distance_m)
    fit_ground = fit_for_a_tripod(context, question, stands, lat, lon)
    inside_by, fit = frame_room(
        question.fit,
        question.group.width_m[:, None],
        stands,
        azimuth_deg=grid.azimuth_deg,
        altitude_deg=grid.altitude_deg,
    )
    up = np.minimum(inside_by, PER_DEG * grid.altitude_deg)
    held = np.where(fit_ground, up, np.nan)
    clearance = _clearance(context, grid, lat, lon, held)
    room = clearance - task.night.clear_by_deg
    low, high = good_part(*(_on_circle(grid, values) for values in (held, room)))
    clear_fit = np.clip(room / CLEAR_ENOUGH_DEG, 0.0, 1.0)
    inside = held >= 0.0
    with np.errstate(invalid="ignore"):
        most = np.where(inside, clearance, -np.inf).max(axis=1, initial=-np.inf)
    return LensGrid(
        low,
        high,
        worth=_on_circle(grid, 0.5 * (fit + clear_fit)),
        fit=_on_circle(grid, fit),
        solved=np.asarray(np.isfinite(stands.distance_m).any(axis=1)),
        feasible=np.asarray(fit_ground.any(axis=1)),
        framed=np.asarray(inside.any(axis=1)),
        most_clear_deg=np.where(np.isneginf(most), np.nan, most),
    )


def fit_for_a_tripod(
    context: Context, question: LensQuestion, stands: GridStands, lat: Floats, lon: Floats
) -> Flags:
    """Whether the ground at stands is known, not too steep, and not marked against it."""
    good = np.isfinite(stands.ground_m) & (stands.slope_deg <= context.task.request.steepest_deg)
    reach = np.where(good, stands.distance_m, 0.0).max(axis=1, initial=0.0)
    group = question.group
    near = context.site.near_closed_ground(lat=group.lat, lon=group.lon, reach_m=reach)
    asked = good & near[:, None]
    if asked.any():
        good[asked] = ~context.site.on_closed_ground(lat=lat[asked], lon=lon[asked])
    return np.asarray(good)


def frame_room(
    fit: FramingFit,
    width_m: Floats,
    stands: GridStands,
    *,
    azimuth_deg: Floats,
    altitude_deg: Floats,
) -> tuple[Floats, Floats]:
    """How far inside its place the target stands, and how well: 1 midway, 0 at a limit.

    Behind the subject itself it is outside, unless that is asked for. Midway between the
    subject's top (or the place asked for it) and the upper limit of the frame; NaN without a
    stand. All arrays are of one shape, or broadcast.
    """
    pitch, framing = fit.pitch_deg(stands.base_altitude_deg), fit.framing
    bearing_deg = azimuth_deg - framing.offset_deg

    def place(azimuth: Floats, altitude: Floats) -> tuple[Floats, Floats]:
        return frame_position(
            fit.camera,
            fit.lens,
            axis_azimuth_deg=bearing_deg,
            pitch_deg=pitch,
            azimuth_deg=azimuth,
            altitude_deg=altitude,
        )

    x, y = place(azimuth_deg, altitude_deg)
    above = altitude_deg - stands.top_altitude_deg
    room = room_in_place(framing, x, y, above)
    _, top_y = place(bearing_deg, stands.top_altitude_deg)
    box = SeenBox(width_m, stands.distance_m, stands.top_altitude_deg)
    off_box = PER_DEG * room_off_box_deg(framing, box, altitude_deg)
    room = np.where(asked_behind(framing, top_y), room, np.minimum(room, off_box))
    if framing.above_top_deg is not None:
        midway = 1.0 - np.abs(above - framing.above_top_deg) / framing.play_deg
        return room, np.asarray(np.clip(midway, 0.0, 1.0))
    limits = PlaceInFrame.asked_by(framing)
    low = np.full_like(y, limits.bottom) if framing.target_box else np.maximum(top_y, limits.bottom)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (y - low) / (limits.top - low)
        midway = np.where(limits.top > low, 1.0 - np.abs(2.0 * along - 1.0), 0.0)
    return room, np.asarray(np.where(np.isnan(y), np.nan, np.clip(midway, 0.0, 1.0)))


def _clearance(
    context: Context, grid: TargetGrid, lat: Floats, lon: Floats, held: Floats
) -> Floats:
    """Clearance over the skyline where the frame holds the target, and one node beyond."""
    inside = _on_circle(grid, held) >= 0.0
    beside = inside | np.roll(inside, 1, axis=1) | np.roll(inside, -1, axis=1)
    look = beside[:, grid.nodes] & np.isfinite(held)
    clearance = np.full(held.shape, np.nan)
    if look.any():
        seen = context.elevation.skylines(
            lat=lat[look],
            lon=lon[look],
            azimuths_deg=grid.azimuth_deg[look],
            eye_height_m=context.task.framing.eye_height_m,
            max_distance_m=context.task.ground.reach_m,
            refraction_k=context.task.ground.refraction_k,
        )
        clearance[look] = grid.altitude_deg[look] - seen.altitudes_deg
    return clearance


def _on_circle(grid: TargetGrid, values: Floats) -> Floats:
    """Values at some nodes as values at all of them, NaN elsewhere."""
    out = np.full((values.shape[0], NODES), np.nan)
    out[:, grid.nodes] = values
    return out
