"""The upright walls that marks stand for, and how an eye anywhere sees their tops.

Two marks no farther apart than `WIDEST_GAP_DEG`, as read, are joined by a straight edge in
space between their tops: seen from where they were read it runs straight from one to the other,
whatever their distances, and from elsewhere as that edge would. Each mark also stands for a
little to either side, so that a lone one counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np

from backbearing.base.geodesy import altitude_of, curvature_drop_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.marks.mark_set import MarkSet

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]
    At = Literal["near", "mid", "far"]

WIDEST_GAP_DEG: Final = 3.0
"""Marks farther apart than this say nothing of what is between: there the raster stands."""

EDGE_DEG: Final = 0.25
"""How far to either side a mark holds by itself, though never past its neighbour."""

ONE_THING: Final = 2.0
"""Neighbours whose distances differ by more than this factor are two things: what lies between
them is put as far away as the farther one."""

AT_ONCE: Final = 2_000_000
"""Pairs of a ray and a wall that are looked at in one go, to bound memory."""


class Seen(NamedTuple):
    """What rays see of walls; shape (n,), NaN (and wall -1) where they meet none."""

    altitude_deg: Floats
    distance_m: Floats
    wall: Ints
    share: Floats


class Eyes(NamedTuple):
    """Eyes about the place of the readings and their rays; arrays of shape (n,).

    ``east_m`` and ``north_m`` of that place, ``height_m`` above sea level, ``azimuth_deg`` in its
    plane, and between which distances is looked.
    """

    east_m: Floats
    north_m: Floats
    height_m: Floats
    azimuth_deg: Floats
    min_distance_m: Floats
    max_distance_m: Floats


class Ends(NamedTuple):
    """One value for either end of walls, arrays of shape (p, 2)."""

    azimuth_deg: Floats
    altitude_deg: Floats
    near_m: Floats
    mid_m: Floats
    far_m: Floats
    sigma_deg: Floats


@dataclass(frozen=True, eq=False)
class Walls:
    """Walls from the readings of one eye.

    Attributes
    ----------
    ends : Ends
    is_told : ndarray, shape (p,)
        Whether the distances of both ends were told.
    slope : ndarray, shape (p,)
        How steeply the skyline runs there, degrees of altitude for one of azimuth.
    azimuth_sigma_deg : ndarray, shape (p,)
    eye_m : float
        Of the reader, above sea level.
    """

    ends: Ends
    is_told: Flags
    slope: Floats
    azimuth_sigma_deg: Floats
    eye_m: float

    @classmethod
    def of(cls, marks: MarkSet) -> Walls:
        """Raise the walls of a set of marks."""
        n = len(marks)
        each = np.arange(n)
        gap = np.mod(np.roll(marks.azimuths_deg, -1) - marks.azimuths_deg, 360.0)
        if n == 1:
            gap = np.array([360.0])
        joined = np.flatnonzero(gap <= WIDEST_GAP_DEG)
        after = (joined + 1) % n
        mid = np.where(marks.is_told, marks.distances_m, marks.far_m)
        told = marks.is_told
        steep = (marks.altitudes_deg[after] - marks.altitudes_deg[joined]) / gap[joined]
        own = _steepest(n, joined, after, np.abs(steep))
        left, right = np.minimum(EDGE_DEG, np.roll(gap, 1)), np.minimum(EDGE_DEG, gap)
        first = np.concatenate([joined, each])
        last = np.concatenate([after, each])
        azimuth = np.stack(
            [
                np.concatenate([marks.azimuths_deg[joined], marks.azimuths_deg - left]),
                np.concatenate(
                    [marks.azimuths_deg[joined] + gap[joined], marks.azimuths_deg + right]
                ),
            ],
            axis=1,
        )
        pair = np.stack([first, last], axis=1)
        ends = Ends(
            azimuth,
            marks.altitudes_deg[pair],
            _of_one_thing(marks.near_m[pair]),
            _of_one_thing(mid[pair]),
            _of_one_thing(marks.far_m[pair]),
            marks.sigmas_deg[pair],
        )
        slope = np.concatenate([np.abs(steep), own])
        return cls(
            ends,
            told[first] & told[last],
            slope,
            np.fmax(marks.azimuth_sigmas_deg[first], marks.azimuth_sigmas_deg[last]),
            marks.eye_m,
        )

    def seen(self, eyes: Eyes, at: At, refraction_k: float, *, wanted: Flags) -> Seen:
        """The highest wall top on each ray.

        Parameters
        ----------
        eyes : Eyes
            n of them.
        at : {"near", "mid", "far"}
            Where the things are taken to be.
        refraction_k : float
        wanted : ndarray of bool, shape (n,)
            Eyes so far from where they were read that only told distances count have False.
        """
        n = len(eyes.azimuth_deg)
        found = Seen(
            np.full(n, np.nan), np.full(n, np.nan), np.full(n, -1, dtype=np.int64), np.zeros(n)
        )
        first, count = self._candidates(eyes, at)
        before = np.concatenate([[0], np.cumsum(count)])
        start = 0
        while start < n:
            stop = int(np.searchsorted(before, before[start] + AT_ONCE, side="right")) - 1
            stop = max(stop, start + 1)
            part = slice(start, stop)
            ray = np.repeat(np.arange(start, stop), count[part])
            nth = np.arange(len(ray)) - (before[ray] - before[start])
            wall = self._by_azimuth[(first[ray] + nth) % len(self.slope)]
            self._look_at(found, eyes, at, refraction_k, (ray, wall), wanted)
            start = stop
        return found

    @cached_property
    def _by_azimuth(self) -> Ints:
        """Walls in order of where they begin, clockwise."""
        return np.argsort(np.mod(self.ends.azimuth_deg[:, 0], 360.0), kind="stable")

    def _on_the_plane(self, at: At) -> tuple[Floats, Floats, Floats, Floats]:
        """Where walls begin and how they run, metres east and north, shape (p,)."""
        away: Floats = getattr(self.ends, f"{at}_m")
        turn = np.radians(self.ends.azimuth_deg)
        x, y = away * np.sin(turn), away * np.cos(turn)
        return x[:, 0], y[:, 0], x[:, 1] - x[:, 0], y[:, 1] - y[:, 0]

    def _candidates(self, eyes: Eyes, at: At) -> tuple[Ints, Ints]:
        """The first wall of `_by_azimuth` that each ray may meet, and how many from there on.

        An eye so far from where marks were read sees a thing at a known distance turned by no
        more than the arc sine of their ratio.
        """
        away: Floats = getattr(self.ends, f"{at}_m")
        begins = np.mod(self.ends.azimuth_deg[self._by_azimuth, 0], 360.0)
        round_and_round = np.concatenate([begins - 360.0, begins, begins + 360.0])
        wide = float(np.max(self.ends.azimuth_deg[:, 1] - self.ends.azimuth_deg[:, 0]))
        offset = np.hypot(eyes.east_m, eyes.north_m)
        turned = np.degrees(np.arcsin(np.minimum(offset / away.min(), 1.0)))
        turned = np.where(turned > 85.0, 180.0, turned) + SPARE_DEG
        azimuth = np.mod(eyes.azimuth_deg, 360.0)
        known = np.isfinite(azimuth) & np.isfinite(offset)
        azimuth, turned = np.where(known, azimuth, 0.0), np.where(known, turned, 0.0)
        first = np.searchsorted(round_and_round, azimuth - turned - wide, side="left")
        last = np.searchsorted(round_and_round, azimuth + turned, side="right")
        count = np.where(known, np.minimum(last - first, len(begins)), 0)
        return first.astype(np.int64), count.astype(np.int64)

    def _look_at(
        self,
        found: Seen,
        eyes: Eyes,
        at: At,
        refraction_k: float,
        pairs: tuple[Ints, Ints],
        wanted: Flags,
    ) -> None:
        """Look from rays at walls, pair by pair, and keep for each ray its highest; in place."""
        ray, wall = pairs
        x, y, wx, wy = self._on_the_plane(at)
        ahead = np.radians(eyes.azimuth_deg)
        ux, uy = np.sin(ahead)[ray], np.cos(ahead)[ray]
        ax, ay = x[wall] - eyes.east_m[ray], y[wall] - eyes.north_m[ray]
        wx, wy = wx[wall], wy[wall]
        # The ray e + s u meets the wall a + t w.
        cross = ux * wy - uy * wx
        with np.errstate(divide="ignore", invalid="ignore"):
            s = (ax * wy - ay * wx) / cross
            t = (ax * uy - ay * ux) / cross
            met = (s > 0.0) & (t >= -SLACK) & (t <= 1.0 + SLACK)
        met &= wanted[ray] | self.is_told[wall]
        ray, wall, s, t = ray[met], wall[met], s[met], np.clip(t[met], 0.0, 1.0)
        asked = (s >= eyes.min_distance_m[ray]) & (s <= eyes.max_distance_m[ray])
        ray, wall, s, t = ray[asked], wall[asked], s[asked], t[asked]
        away: Floats = getattr(self.ends, f"{at}_m")[wall]
        rise = away * np.tan(np.radians(self.ends.altitude_deg[wall]))
        top = self.eye_m + rise + curvature_drop_m(away, refraction_k)
        height = top[:, 0] + t * (top[:, 1] - top[:, 0]) - eyes.height_m[ray]
        altitude = altitude_of(height, s, refraction_k)
        # The last of equals to be written stays: the highest, of equals the first wall.
        order = np.lexsort((-wall, altitude))
        columns = (altitude, s, wall, t)
        for column, values in zip(found, columns, strict=True):
            column[ray[order]] = values[order]


SPARE_DEG: Final = 1e-6
"""How much farther aside than it can stand a wall is looked for."""

SLACK: Final = 1e-9
"""Share of a wall's length that a ray may miss its end by, so that a mark's own azimuth counts."""


def _of_one_thing(away_m: Floats) -> Floats:
    """Distances of the ends of walls, (p, 2): where they are two things, the farther one's."""
    far = away_m.max(axis=1, keepdims=True)
    return np.where(far > ONE_THING * away_m.min(axis=1, keepdims=True), far, away_m)


def _steepest(n: int, joined: Ints, after: Ints, steep: Floats) -> Floats:
    """The steepest edge that leaves each of n marks; nought where it is joined to none."""
    found = np.zeros(n)
    np.maximum.at(found, joined, steep)
    np.maximum.at(found, after, steep)
    return found
