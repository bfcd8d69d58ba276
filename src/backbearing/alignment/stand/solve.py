"""Distance, pitch and back bearing solved together: the numbers behind a stand.

Everything here is arrays of shape ``(n,)``, one entry for each moment, for one lens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.geodesy import altitude_of, point_along

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.outing.subject import Framing, Subject
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

TRIALS = 96
"""Distances tried along each back bearing before the roots are polished."""

POLISH_ROUNDS = 60
EXACT_DEG = 1e-11

SPREAD = 6.0
"""Trial distances run from the level-ground distance over this, to it times this."""


@dataclass(frozen=True, slots=True)
class Places:
    """Solved stands, shape ``(n,)`` each; NaN where there is none."""

    lat: Floats
    lon: Floats
    ground_m: Floats
    distance_m: Floats
    bearing_deg: Floats
    base_altitude_deg: Floats
    top_altitude_deg: Floats


def level_distance_m(angle_deg: float, height_m: float, base_above_eye_m: float) -> float:
    """Farthest distance at which an upright height fills an angle, on level ground.

    From ``tan(top - base) = H d / (d^2 + u v)`` with u and v the heights of top and
    base above the eye: the larger root of a quadratic. NaN when no distance does it.
    """
    tangent = np.tan(np.radians(angle_deg))
    product = (base_above_eye_m + height_m) * base_above_eye_m
    inside = height_m**2 - 4.0 * product * tangent**2
    if inside < 0.0 or tangent <= 0.0:
        return float("nan")
    return float((height_m + np.sqrt(inside)) / (2.0 * tangent))


@dataclass(frozen=True, slots=True)
class StandProblem:
    """One lens's question, free of cameras: fill this angle on this ground.

    Parameters
    ----------
    subject, framing
        As asked.
    subject_ground_m : float
        Ground elevation at the subject, metres.
    angle_deg : float
        Angle between the subject's base and top that gives the asked share.
    refraction_k : float
        Terrestrial refraction coefficient.
    ground : Elevation or None
        Raster; None for level ground.
    excess : callable, optional
        From distances and the altitudes of base and top, all of one shape, to how much
        larger than asked the subject looks, in any unit; by ``angle_deg`` when not given.
    guess_m : float, optional
        Distance about which to seek with an ``excess`` of one's own.
    """

    subject: Subject
    framing: Framing
    subject_ground_m: float
    angle_deg: float
    refraction_k: float
    ground: Elevation | None
    excess: Callable[[Floats, Floats, Floats], Floats] | None = None
    guess_m: float | None = None

    def solve(self, wanted_azimuth_deg: Callable[[Floats, Floats], Floats], n: int) -> Places:
        """Find the stands whose azimuth to the subject is the wanted one there.

        Parameters
        ----------
        wanted_azimuth_deg : callable
            From stand latitudes and longitudes, shape ``(n,)``, to the azimuth at
            which the subject must be seen from there, degrees.
        n : int
            How many moments.
        """
        here = np.full(n, self.subject.lat), np.full(n, self.subject.lon)
        back = (wanted_azimuth_deg(*here) + 180.0) % 360.0
        low, high = self._brackets(back, self.level_distance())
        distance = self._polish(back, low, high)
        # The azimuth asked for changes with the place, and the place with it: each round
        # shrinks what is left by the distance over the Earth's radius.
        for _ in range(2):
            end = point_along(
                lat=here[0], lon=here[1], azimuth_deg=back, distance_m=np.nan_to_num(distance)
            )
            seen = (end.azimuth_deg + 180.0) % 360.0
            miss = (wanted_azimuth_deg(end.lat, end.lon) - seen + 180.0) % 360.0 - 180.0
            back = (back + miss) % 360.0
        distance = self._polish(back, low, high)
        return self._places(back, distance)

    def level_distance(self) -> float:
        """Distance that would do on level ground, metres; NaN when none does."""
        if self.guess_m is not None:
            return self.guess_m
        return level_distance_m(self.angle_deg, self.subject.height_m, self._base_above_eye_m())

    def _base_above_eye_m(self) -> float:
        """How high the subject's base stands over the eye, on level ground, metres."""
        above = self.subject.base_height_m - self.framing.eye_height_m
        if self.framing.stand_drop_m is not None:
            above += self.framing.stand_drop_m
        return above

    def _trials(self, level_m: float) -> Floats:
        """Distances to try, that at which the subject looks tallest among them.

        Seen from above its top (or below its base) a subject is tallest at the mean
        proportional of the two heights, and just below that may fill the angle on a
        stretch shorter than a step.
        """
        trial = level_m * SPREAD ** np.linspace(-1.0, 1.0, TRIALS)
        base = self._base_above_eye_m()
        product = base * (base + self.subject.height_m)
        return trial if product <= 0.0 else np.sort(np.append(trial, np.sqrt(product)))

    def _ground_along(self, back_deg: Floats, distance_m: Floats) -> Floats:
        """Ground height at the stand for each back bearing and distance, metres."""
        if self.framing.stand_drop_m is not None:
            level = self.subject_ground_m - self.framing.stand_drop_m
            return np.full(np.broadcast(back_deg, distance_m).shape, level)
        if self.ground is None:
            return np.full(np.broadcast(back_deg, distance_m).shape, self.subject_ground_m)
        reach = SPREAD * self.level_distance()
        about = self.ground.about(lat=self.subject.lat, lon=self.subject.lon, reach_m=reach)
        return about.height_along(back_deg, distance_m)

    def _altitudes(self, ground_m: Floats, distance_m: Floats) -> tuple[Floats, Floats]:
        """Altitudes of the subject's base and top, degrees, seen from the stand."""
        base = self.subject_ground_m + self.subject.base_height_m
        rise = base - (ground_m + self.framing.eye_height_m)
        return (
            altitude_of(rise, distance_m, self.refraction_k),
            altitude_of(rise + self.subject.height_m, distance_m, self.refraction_k),
        )

    def _excess(self, back_deg: Floats, distance_m: Floats) -> Floats:
        """How much larger than asked the subject looks, degrees or the caller's unit."""
        base, top = self._altitudes(self._ground_along(back_deg, distance_m), distance_m)
        if self.excess is not None:
            shape = np.broadcast_shapes(np.shape(base), np.shape(distance_m))
            return self.excess(np.broadcast_to(distance_m, shape), base, top)
        return top - base - self.angle_deg

    def _brackets(self, back_deg: Floats, level_m: float) -> tuple[Floats, Floats]:
        """Bracket the root nearest to the level-ground distance, for each bearing."""
        if not np.isfinite(level_m):
            nothing = np.full(back_deg.shape, np.nan)
            return nothing, nothing
        trial = self._trials(level_m)
        excess = self._excess(back_deg[:, None], trial[None, :])
        falls = (excess[:, :-1] >= 0.0) & (excess[:, 1:] < 0.0)
        off = np.abs(np.log(trial[:-1] / level_m))
        best = np.where(falls, off[None, :], np.inf).argmin(axis=1)
        found = falls.any(axis=1)
        return (
            np.where(found, trial[best], np.nan),
            np.where(found, trial[best + 1], np.nan),
        )

    def _polish(self, back_deg: Floats, low_m: Floats, high_m: Floats) -> Floats:
        """Close in on the roots to a hundredth of a micrometre; NaN stays NaN.

        The false position of Dowell and Jarratt [Dowell1971]_ ("Illinois"): the bracket is
        kept, and an end that stays put twice counts half.
        """
        distance = np.full(back_deg.shape, np.nan)
        known = np.isfinite(low_m)
        if not known.any():
            return distance
        back, low, high = back_deg[known], low_m[known], high_m[known]
        f_low, f_high = self._excess(back, low), self._excess(back, high)
        for _ in range(POLISH_ROUNDS):
            middle = (low * f_high - high * f_low) / (f_high - f_low)
            f = self._excess(back, middle)
            distance[known] = middle
            if np.all(np.abs(f) < EXACT_DEG):
                break
            crossed = (f > 0.0) != (f_high > 0.0)
            low, f_low = np.where(crossed, high, low), np.where(crossed, f_high, 0.5 * f_low)
            high, f_high = middle, np.where(f == 0.0, -np.finfo(np.float64).tiny, f)
        return distance

    def _places(self, back_deg: Floats, distance_m: Floats) -> Places:
        end = point_along(
            lat=self.subject.lat,
            lon=self.subject.lon,
            azimuth_deg=back_deg,
            distance_m=np.nan_to_num(distance_m),
        )
        ground = self._ground_along(back_deg, np.nan_to_num(distance_m))
        base, top = self._altitudes(ground, distance_m)
        none = ~np.isfinite(distance_m)
        return Places(
            lat=np.where(none, np.nan, end.lat),
            lon=np.where(none, np.nan, end.lon),
            ground_m=np.where(none, np.nan, ground),
            distance_m=distance_m,
            bearing_deg=np.where(none, np.nan, (end.azimuth_deg + 180.0) % 360.0),
            base_altitude_deg=base,
            top_altitude_deg=top,
        )
