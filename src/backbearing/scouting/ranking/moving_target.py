"""A target that moves among the stars (the Moon, a planet) over many candidates, night by night.

Where a stand is hangs on the target's azimuth alone, so stands and skylines are solved once at
evenly spaced azimuths; where the body is hangs on the moment, so that it is looked up every few
minutes of every night, from the candidate itself: the Moon stands up to a degree elsewhere for
somebody than for the Earth's centre.

Minutes are counted by the same kernels as those of a fixed target. Their nodes are moments then,
night after night, and not hour angles.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.target_place import PER_DEG
from backbearing.base.angles import wrap_360_deg
from backbearing.scouting.ranking.candidate_stands import GridStands, near_places
from backbearing.scouting.ranking.dark_minutes import DarkStretches, good_part
from backbearing.scouting.ranking.dark_times import TURN_S_PER_DEG, cell_of
from backbearing.scouting.ranking.hour_angle_grid import seen_altitude_deg
from backbearing.scouting.ranking.lens_grid import (
    CLEAR_ENOUGH_DEG,
    LensGrid,
    fit_for_a_tripod,
    frame_room,
)
from backbearing.sky.directions import FixedOnEarth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.candidate_stands import CandidateGroup, LensQuestion
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.dark_times import DarkTimes

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.intp]

STEP_MINUTES: Final = 4.0
"""From one moment to the next: about what an hour angle's node takes."""

AZIMUTHS: Final = 360
"""Evenly spaced azimuths at which stands and skylines are solved."""

LOWEST_DEG: Final = -1.0
"""Below this the body is not looked at."""

GRAIN: Final = 2.0**-20
"""Places in nodes are rounded to this, 0.2 ms: sums of them are exact, and so do not depend on
what other nights and candidates are in the array."""

AT_ONCE: Final = 16
"""Candidates whose moments are held in memory together."""


class Sight(NamedTuple):
    """Where the body stands for whom and when; arrays of shape (p,), a row a looking.

    Attributes
    ----------
    candidate, node : ndarray of int
    azimuth_deg, altitude_deg : ndarray
        From the candidate, the altitude as seen.
    """

    candidate: Ints
    node: Ints
    azimuth_deg: Floats
    altitude_deg: Floats

    def between(self, table: Floats) -> Floats:
        """Values at their azimuths, linear between those of a table (n, AZIMUTHS)."""
        left = np.floor(self.azimuth_deg).astype(np.intp)
        part = self.azimuth_deg - left
        low = table[self.candidate, left % AZIMUTHS]
        high = table[self.candidate, (left + 1) % AZIMUTHS]
        return np.asarray(low + (high - low) * part)

    def beside(self, count: int) -> Flags:
        """Azimuths on either side of any of them, shape (count, AZIMUTHS)."""
        met = np.zeros((count, AZIMUTHS), dtype=np.bool_)
        left = np.floor(self.azimuth_deg).astype(np.intp)
        for one in (left, left + 1):
            met[self.candidate, one % AZIMUTHS] = True
        return met

    def where(self, kept: Flags) -> Sight:
        """Some of the lookings."""
        return Sight(
            self.candidate[kept],
            self.node[kept],
            self.azimuth_deg[kept],
            self.altitude_deg[kept],
        )


@dataclass(frozen=True)
class MovingSky:
    """The body in the dark of n candidates.

    Attributes
    ----------
    stretches : DarkStretches
    nodes : int
        How many moments.
    sight : Sight
    up : ndarray of bool, shape (n,)
        Whether the body is ever up in the dark.
    """

    stretches: DarkStretches
    nodes: int
    sight: Sight
    up: Flags


def moving_sky(context: Context, group: CandidateGroup) -> MovingSky:
    """Find where the body stands in and next to the candidates' dark."""
    from backbearing.scouting.ranking._minute_kernels import mark_dark

    stretches, times = _dark_moments(context, group)
    dark = np.zeros((len(group.lat), len(times)), dtype=np.bool_)
    if len(times):
        mark_dark(stretches.first, stretches.start, stretches.end, dark)
    candidate, node = np.nonzero(dark & np.isfinite(group.ground_m)[:, None])
    body = FixedOnEarth.of(context.task.target, times)
    height = group.ground_m[candidate]
    azimuth, true = body[node].seen_from(
        lat=group.lat[candidate], lon=group.lon[candidate], height_m=height, refraction=False
    )
    every = Sight(candidate, node, azimuth, seen_altitude_deg(true, height))
    sight = every.where(every.altitude_deg >= LOWEST_DEG)
    up = np.zeros(len(group.lat), dtype=np.bool_)
    up[sight.candidate] = True
    return MovingSky(stretches, len(times), sight, up)


def _dark_moments(
    context: Context, group: CandidateGroup
) -> tuple[DarkStretches, NDArray[np.datetime64]]:
    """Dark stretches in nodes, and the moments of the nodes: each night's, one after another."""
    rows, cols = cell_of(lat=group.lat, lon=group.lon)
    found: list[DarkTimes] = [
        context.dark_times(row, col) for row, col in zip(rows.tolist(), cols.tolist(), strict=True)
    ]
    ahead = [(lon - one.lon) * TURN_S_PER_DEG for lon, one in zip(group.lon, found, strict=True)]
    night = np.concatenate([one.night for one in found])
    begin, end = (
        np.round(
            np.concatenate([getattr(one, side) - a for one, a in zip(found, ahead, strict=True)])
            / (60.0 * STEP_MINUTES)
            / GRAIN
        )
        * GRAIN
        for side in ("start_s", "end_s")
    )
    # A node before each night's dark and one after it, of whichever candidate.
    nights = len(context.clock.utc)
    low, high = np.full(nights, np.inf), np.full(nights, -np.inf)
    np.minimum.at(low, night, np.floor(begin) - 1.0)
    np.maximum.at(high, night, np.ceil(end) + 1.0)
    has = np.isfinite(low)
    count = np.where(has, high - low + 1.0, 0.0)
    offset = np.cumsum(count) - count
    shift = np.where(has, offset - np.where(has, low, 0.0), 0.0)[night]
    steps = [
        moment + np.arange(a, b + 1.0).astype(np.int64) * np.timedelta64(int(STEP_MINUTES), "m")
        for moment, a, b in zip(context.clock.utc[has], low[has], high[has], strict=True)
    ]
    nothing = np.zeros(0, dtype="datetime64[us]")
    stretches = DarkStretches(
        first=np.cumsum([0, *(len(one.night) for one in found)]),
        night=night.astype(np.int32),
        start_s=begin * 60.0 * STEP_MINUTES,
        start=begin + shift,
        end=end + shift,
        darkness=np.array([one.darkness for one in found]),
        minutes_per_node=STEP_MINUTES,
    )
    return stretches, np.concatenate([nothing, *steps])


def look_at_moments(context: Context, question: LensQuestion, sky: MovingSky) -> LensGrid:
    """Look at one lens's stands at all moments of the body; as `look_over_grid`."""
    sight, group = sky.sight, question.group
    n, offset_deg = len(group.lat), question.fit.framing.offset_deg
    back = np.broadcast_to(
        wrap_360_deg(np.arange(float(AZIMUTHS)) - offset_deg + 180.0), (n, AZIMUTHS)
    )
    stands = question.stands(back, sight.beside(n))
    lat, lon = near_places(group, back, stands.distance_m)
    fit_ground = fit_for_a_tripod(context, question, stands, lat, lon)
    here = GridStands(
        *(
            sight.between(getattr(stands, name))
            for name in (
                "distance_m",
                "ground_m",
                "slope_deg",
                "base_altitude_deg",
                "top_altitude_deg",
            )
        )
    )
    inside_by, fit = frame_room(
        question.fit,
        group.width_m[sight.candidate],
        here,
        azimuth_deg=sight.azimuth_deg,
        altitude_deg=sight.altitude_deg,
    )
    nearest = np.rint(sight.azimuth_deg).astype(np.intp) % AZIMUTHS
    held = np.minimum(inside_by, PER_DEG * sight.altitude_deg)
    held = np.where(fit_ground[sight.candidate, nearest], held, np.nan)
    clearance = _clearance(context, sky, held, lat, lon)
    room = clearance - context.task.night.clear_by_deg
    low, high = good_part(*(_on_nodes(sky, n, values) for values in (held, room)))
    clear_fit = np.clip(room / CLEAR_ENOUGH_DEG, 0.0, 1.0)
    inside = held >= 0.0
    framed, most = np.zeros(n, dtype=np.bool_), np.full(n, np.nan)
    framed[sight.candidate[inside]] = True
    np.fmax.at(most, sight.candidate[inside], clearance[inside])
    return LensGrid(
        np.round(low / GRAIN) * GRAIN,
        np.round(high / GRAIN) * GRAIN,
        worth=_on_nodes(sky, n, 0.5 * (fit + clear_fit)),
        fit=_on_nodes(sky, n, fit),
        solved=np.asarray(np.isfinite(stands.distance_m).any(axis=1)),
        feasible=np.asarray(fit_ground.any(axis=1)),
        framed=framed,
        most_clear_deg=most,
    )


def _clearance(context: Context, sky: MovingSky, held: Floats, lat: Floats, lon: Floats) -> Floats:
    """Clearance over the skyline where the frame holds the body, and one moment beyond."""
    n, sight = len(lat), sky.sight
    inside = _on_nodes(sky, n, held) >= 0.0
    near = inside | np.roll(inside, 1, axis=1) | np.roll(inside, -1, axis=1)
    look = near[sight.candidate, sight.node] & np.isfinite(held)
    clearance = np.full(held.shape, np.nan)
    wanted = sight.where(look).beside(n) & np.isfinite(lat)
    if not wanted.any():
        return clearance
    seen = context.elevation.skylines(
        lat=lat[wanted],
        lon=lon[wanted],
        azimuths_deg=np.nonzero(wanted)[1].astype(np.float64),
        eye_height_m=context.task.framing.eye_height_m,
        max_distance_m=context.task.ground.reach_m,
        refraction_k=context.task.ground.refraction_k,
    )
    skyline = np.full(lat.shape, np.nan)
    skyline[wanted] = seen.altitudes_deg
    clearance[look] = (sight.altitude_deg - sight.between(skyline))[look]
    return clearance


def _on_nodes(sky: MovingSky, candidates: int, values: Floats) -> Floats:
    """Values of the lookings as values at all moments, (n, nodes); NaN elsewhere."""
    out = np.full((candidates, sky.nodes), np.nan)
    out[sky.sight.candidate, sky.sight.node] = values
    return out
