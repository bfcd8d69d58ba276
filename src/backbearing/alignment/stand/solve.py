"""Distance, pitch and back bearing solved together: the numbers behind a stand.

Everything is arrays with one row for each stand sought, and rows may differ in all that is
asked: a plan asks for lenses by minutes from one subject, scouting for candidates by hour
angles. A row's answer does not depend on the other rows.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.geodesy import curvature_drop_m, point_along

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from backbearing.base.geodesy import End

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

TRIALS: Final = 96
"""Distances tried along each back bearing before the roots are polished."""

SPREAD: Final = 6.0
"""Trial distances run from the level-ground distance over this, to it times this."""

POLISH_ROUNDS: Final = 60
EXACT: Final = 1e-11
"""Degrees, or fractions of the frame, by which the subject may look too large."""

NEARLY: Final = 1e-6
"""The same for a stand that only tells the azimuth: micrometres of it are nothing to the sky."""

CLOSE: Final = 1e-5
"""Share of their distance by which stands are bracketed anew on bearings that turned a little."""

AZIMUTH_ROUNDS: Final = 2
"""Each shrinks what is left of the azimuth's miss by the distance over the Earth's radius."""

LOOKS: Final = (2, 8, TRIALS // 2 - 1)
"""Trials to either side of the level-ground distance: most roots lie within the first few."""

AT_ONCE: Final = 16_384
"""Distances looked at together: what fits in a processor's cache."""


class GroundAlong(Protocol):
    """Ground heights on the rows' back bearings, metres; NaN where unknown."""

    def __call__(self, which: Ints, distance_m: Floats, /) -> Floats:
        """Heights on some rows' bearings, at distances of a shape that broadcasts with them."""
        ...


class Excess(Protocol):
    """How much larger than asked a subject looks: degrees, or fractions of the frame."""

    def __call__(self, which: Ints, distance_m: Floats, rise_m: Floats, /) -> Floats:
        """For some rows, at distances and rises of the base that broadcast with them.

        ``rise_m`` is how high the subject's base stands over the eye's horizontal as it is
        seen, curvature and refraction taken off.
        """
        ...


@dataclass(frozen=True, slots=True)
class Brackets:
    """Distances between which roots lie, and the excess there; (n,), NaN where there is none."""

    low_m: Floats
    high_m: Floats
    excess_low: Floats
    excess_high: Floats

    def note(self, rows: Ints, at: Ints, trial_m: Floats, excess: Floats, first: Ints) -> None:
        """Write down for the rows numbered ``at`` the trials ``first`` and next."""
        rows, first = rows[at], first[at]
        self.low_m[rows], self.high_m[rows] = trial_m[at, first], trial_m[at, first + 1]
        self.excess_low[rows], self.excess_high[rows] = excess[at, first], excess[at, first + 1]


@dataclass(frozen=True, slots=True)
class StandQuestions:
    """Which stands are sought, free of cameras; arrays of shape (n,).

    Attributes
    ----------
    base_m, height_m : ndarray
        Elevation of the subject's visible base, and its height from there, metres.
    eye_height_m : ndarray
        Height of the lens above the ground at the stand.
    base_over_eye_m : ndarray
        How high the base stands over the eye on level ground.
    level_m : ndarray
        Distance that would do on level ground; NaN where none would.
    refraction_k : float
        Terrestrial refraction coefficient.
    excess : Excess
        Falls through zero where the subject looks as large as asked.
    """

    base_m: Floats
    height_m: Floats
    eye_height_m: Floats
    base_over_eye_m: Floats
    level_m: Floats
    refraction_k: float
    excess: Excess

    @property
    def reach_m(self) -> float:
        """Farthest distance tried for any of them, metres."""
        return SPREAD * float(np.nanmax(self.level_m, initial=0.0))

    def rows(self, index: Ints, excess: Excess) -> StandQuestions:
        """Ask some of the questions, each as often as it is named, with their own excess."""
        return StandQuestions(
            base_m=self.base_m[index],
            height_m=self.height_m[index],
            eye_height_m=self.eye_height_m[index],
            base_over_eye_m=self.base_over_eye_m[index],
            level_m=self.level_m[index],
            refraction_k=self.refraction_k,
            excess=excess,
        )

    def rise_m(self, which: Ints, ground_m: Floats, distance_m: Floats) -> Floats:
        """How high the base stands over the eye's horizontal from some rows' stands, metres."""
        over = self.base_m[which] - (ground_m + self.eye_height_m[which])
        return over - curvature_drop_m(distance_m, self.refraction_k)

    def altitudes_deg(
        self, which: Ints, ground_m: Floats, distance_m: Floats
    ) -> tuple[Floats, Floats]:
        """Altitudes of base and top from some rows' stands, degrees."""
        rise = self.rise_m(which, ground_m, distance_m)
        top = rise + self.height_m[which]
        return np.degrees(np.arctan2(rise, distance_m)), np.degrees(np.arctan2(top, distance_m))

    def excess_at(self, ground: GroundAlong, which: Ints, distance_m: Floats) -> Floats:
        """How much larger than asked the subject looks from distances on some rows' bearings."""
        rise = self.rise_m(which, ground(which, distance_m), distance_m)
        return self.excess(which, distance_m, rise)

    def distances_m(self, ground: GroundAlong) -> Floats:
        """Distances of the stands on the bearings that the ground is given along, (n,)."""
        return self.polished_m(ground, self.brackets(ground))

    def brackets(self, ground: GroundAlong) -> Brackets:
        """Bracket the roots nearest to the level-ground distances.

        Of two that are equally near by ratio, the nearer to the subject.
        """
        found = Brackets(*(np.full(self.level_m.shape, np.nan) for _ in range(4)))
        known = np.isfinite(self.level_m)
        tallest = self._tallest_from_m()
        plain = np.flatnonzero(known & np.isnan(tallest))
        for rows in _batches(plain, 2 * LOOKS[0] + 2):
            self._look_outwards(ground, rows, found)
        for rows in _batches(np.flatnonzero(known & ~np.isnan(tallest)), TRIALS + 1):
            self._look_everywhere(ground, rows, tallest[rows], found)
        return found

    def _tallest_from_m(self) -> Floats:
        """Distance from which the subject looks tallest, NaN where that is right before it.

        Seen from above its top (or below its base) a subject is tallest at the mean
        proportional of the two heights, and just below that may fill the angle on a stretch
        shorter than a step.
        """
        product = self.base_over_eye_m * (self.base_over_eye_m + self.height_m)
        return np.sqrt(np.where(product > 0.0, product, np.nan))

    def _look_outwards(self, ground: GroundAlong, rows: Ints, found: Brackets) -> None:
        """Try distances about the level-ground distance, farther and farther from it."""
        for reach in LOOKS:
            trial = self.level_m[rows, None] * _RATIOS[_MIDDLE - reach : _MIDDLE + reach + 2]
            excess = self.excess_at(ground, rows[:, None], trial)
            order = _nearest_first(reach)
            falls = _falls(excess)[:, order]
            there = np.flatnonzero(falls.any(axis=1))
            found.note(rows, there, trial, excess, order[falls.argmax(axis=1)])
            rows = np.delete(rows, there)
            if not rows.size:
                return

    def _look_everywhere(
        self, ground: GroundAlong, rows: Ints, tallest_m: Floats, found: Brackets
    ) -> None:
        """Try all the distances, with one more among them."""
        level = self.level_m[rows, None]
        trial = np.sort(np.concatenate([level * _RATIOS, tallest_m[:, None]], axis=1), axis=1)
        excess = self.excess_at(ground, rows[:, None], trial)
        falls = _falls(excess)
        off = np.where(falls, np.abs(np.log(trial[:, :-1] / level)), np.inf)
        there = np.flatnonzero(falls.any(axis=1))
        found.note(rows, there, trial, excess, off.argmin(axis=1))

    def polished_m(self, ground: GroundAlong, brackets: Brackets, exact: float = EXACT) -> Floats:
        """Close in on the roots, to a hundredth of a micrometre if not told less; NaN stays NaN.

        The false position of Dowell and Jarratt [Dowell1971]_ ("Illinois"): the bracket is
        kept, and an end that stays put twice counts half.
        """
        distance = np.full(self.level_m.shape, np.nan)
        for rows in _batches(np.flatnonzero(np.isfinite(brackets.low_m)), 1):
            distance[rows] = self._polish(ground, rows, brackets, exact)
        return distance

    def _polish(self, ground: GroundAlong, rows: Ints, brackets: Brackets, exact: float) -> Floats:
        low, high = brackets.low_m[rows], brackets.high_m[rows]
        f_low, f_high = brackets.excess_low[rows], brackets.excess_high[rows]
        found, left = np.full(rows.shape, np.nan), np.arange(len(rows))
        for _ in range(POLISH_ROUNDS):
            middle = (low * f_high - high * f_low) / (f_high - f_low)
            f = self.excess_at(ground, rows[left], middle)
            found[left] = np.where(np.isnan(f), np.nan, middle)
            on = np.abs(f) >= exact
            if not on.any():
                break
            crossed = (f > 0.0) != (f_high > 0.0)
            low, f_low = np.where(crossed, high, low), np.where(crossed, f_high, 0.5 * f_low)
            left, low, f_low = left[on], low[on], f_low[on]
            high, f_high = middle[on], f[on]
        return found

    def anew(self, ground: GroundAlong, brackets: Brackets, distance_m: Floats) -> Brackets:
        """Bracket roots anew on bearings that have turned a little: close about where they were.

        Where there is none so close, within the brackets as they were.
        """
        rows = np.flatnonzero(np.isfinite(distance_m))
        close = np.stack([1.0 - CLOSE, 1.0 + CLOSE])[:, None] * distance_m
        fresh = Brackets(*close, *(np.full(distance_m.shape, np.nan) for _ in range(2)))
        self._ask_ends(ground, rows, fresh)
        lost = rows[~((fresh.excess_low[rows] >= 0.0) & (fresh.excess_high[rows] < 0.0))]
        if lost.size:
            fresh.low_m[lost], fresh.high_m[lost] = brackets.low_m[lost], brackets.high_m[lost]
            self._ask_ends(ground, lost, fresh)
        return fresh

    def _ask_ends(self, ground: GroundAlong, rows: Ints, brackets: Brackets) -> None:
        for some in _batches(rows, 2):
            ends = np.stack([brackets.low_m[some], brackets.high_m[some]], axis=1)
            excess = self.excess_at(ground, some[:, None], ends)
            brackets.excess_low[some], brackets.excess_high[some] = excess.T


@dataclass(frozen=True, slots=True)
class StandPlaces:
    """Solved stands, arrays of shape (n,); NaN where there is none."""

    lat: Floats
    lon: Floats
    ground_m: Floats
    distance_m: Floats
    bearing_deg: Floats
    base_altitude_deg: Floats
    top_altitude_deg: Floats

    def rows(self, some: slice | NDArray[np.intp]) -> StandPlaces:
        """Take some of the rows."""
        return StandPlaces(*(getattr(self, one.name)[some] for one in fields(self)))

    def where(self, kept: Flags) -> StandPlaces:
        """Keep some of the stands, and NaN for the others."""
        columns = (getattr(self, one.name) for one in fields(self))
        return StandPlaces(*(np.where(kept, column, np.nan) for column in columns))


def solve_stands(
    questions: StandQuestions,
    *,
    lat: Floats,
    lon: Floats,
    ground_along: Callable[[Floats], GroundAlong],
    wanted_azimuth_deg: Callable[[Floats, Floats], Floats],
) -> StandPlaces:
    """Find the stands whose azimuth to the subject is the wanted one there.

    Parameters
    ----------
    questions : StandQuestions
        Of n stands.
    lat, lon : ndarray, shape (n,)
        The subjects, degrees.
    ground_along : callable
        From back bearings, shape (n,), to the ground along them.
    wanted_azimuth_deg : callable
        From stand latitudes and longitudes, shape (n,), to the azimuth at which the subject
        must be seen from there, degrees.
    """
    back = wrap_360_deg(wanted_azimuth_deg(lat, lon) + 180.0)
    ground = ground_along(back)
    brackets = questions.brackets(ground)
    distance = questions.polished_m(ground, brackets, NEARLY)
    # The azimuth asked for changes with the place, and the place with it.
    for _ in range(AZIMUTH_ROUNDS):
        end = _ends(lat, lon, back, distance)
        seen = end.azimuth_deg + 180.0
        back = wrap_360_deg(back + wrap_180_deg(wanted_azimuth_deg(end.lat, end.lon) - seen))
    ground = ground_along(back)
    distance = questions.polished_m(ground, questions.anew(ground, brackets, distance))
    end, none = _ends(lat, lon, back, distance), np.isnan(distance)
    every = np.arange(len(distance))
    height = np.where(none, np.nan, ground(every, np.nan_to_num(distance)))
    base, top = questions.altitudes_deg(every, height, distance)
    return StandPlaces(
        lat=np.where(none, np.nan, end.lat),
        lon=np.where(none, np.nan, end.lon),
        ground_m=height,
        distance_m=distance,
        bearing_deg=np.where(none, np.nan, wrap_360_deg(end.azimuth_deg + 180.0)),
        base_altitude_deg=base,
        top_altitude_deg=top,
    )


def _ends(lat: Floats, lon: Floats, back_deg: Floats, distance_m: Floats) -> End:
    return point_along(
        lat=lat,
        lon=lon,
        azimuth_deg=np.nan_to_num(back_deg),
        distance_m=np.nan_to_num(distance_m),
    )


def level_distance_m(
    angle_deg: ArrayLike, height_m: ArrayLike, base_over_eye_m: ArrayLike
) -> Floats:
    """Farthest distance at which an upright height fills an angle, on level ground.

    From ``tan(top - base) = H d / (d^2 + u v)`` with u and v the heights of top and
    base above the eye: the larger root of a quadratic. NaN when no distance does it.
    """
    tall, base = np.asarray(height_m), np.asarray(base_over_eye_m)
    tangent = np.tan(np.radians(angle_deg))
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(tall**2 - 4.0 * (base + tall) * base * tangent**2)
        return np.where(tangent > 0.0, (tall + root) / (2.0 * tangent), np.nan)


_RATIOS: Final = SPREAD ** np.linspace(-1.0, 1.0, TRIALS)
_MIDDLE: Final = TRIALS // 2 - 1
"""Trials run evenly by ratio, so that this one and the next are the nearest to level ground."""


def _falls(excess: Floats) -> Flags:
    """Between which trials and the next the subject begins to look too small."""
    return np.asarray((excess[:, :-1] >= 0.0) & (excess[:, 1:] < 0.0))


def _nearest_first(reach: int) -> Ints:
    """Order of brackets by how near, by ratio, their nearer ends are to level ground."""
    begin = np.arange(2 * reach + 1)
    return np.argsort(np.abs(2 * (begin - reach) - 1), kind="stable")


def _batches(rows: Ints, distances: int) -> list[Ints]:
    """Rows in parts that look at some `AT_ONCE` distances together, so many each."""
    step = max(1, AT_ONCE // distances)
    return [rows[i : i + step] for i in range(0, len(rows), step)]
