"""One weighted least-squares adjustment over the night's frames, which share subject and clock.

A camera's clock that is wrong turns all that its frames saw about the pole. In one frame that looks
like a turn of the camera; over stands that are known by themselves it does not, since each would
have to have been elsewhere by another length.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, east_north_up, wrap_180_deg
from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.review.where_stood import (
    CLOCK_S,
    HEIGHT_SHARE,
    STEP_M,
    Adjusted,
    Sighting,
    Stood,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

ELSEWHERE_SIGMAS: Final = 3.0
"""From so many doubts of both on a receiver's place stands against the planned one."""

_FREE_M: Final = 1e4


def turned_by_clock(
    azimuth_deg: ArrayLike, altitude_deg: ArrayLike, *, lat_deg: ArrayLike, ahead_s: ArrayLike
) -> tuple[Floats, Floats]:
    """Directions found by stars at the time that was given, for a clock that was ahead; degrees.

    The sky was not yet so far round: all of it turns back about the pole, (n,).
    """
    lat = np.radians(np.broadcast_to(lat_deg, np.shape(azimuth_deg)))
    turn = SIDEREAL_RATE_RAD_S * np.asarray(ahead_s, dtype=np.float64)
    seen = east_north_up(azimuth_deg=azimuth_deg, altitude_deg=altitude_deg)
    pole = np.stack([np.zeros_like(lat), np.cos(lat), np.sin(lat)])
    along = (pole * seen).sum(axis=0) * (1.0 - np.cos(turn))
    across = np.cross(pole, seen, axis=0)
    return azimuth_altitude_of(*(seen * np.cos(turn) + across * np.sin(turn) + pole * along))


class _Before(NamedTuple):
    """What was known of subject and clock before any frame; metres, seconds."""

    height_m: float
    height_sigma_m: float
    width_m: float
    width_sigma_m: float
    clock_s: float


class _Known(NamedTuple):
    """What the sightings hold as arrays (n,), and what was known beforehand; metres, radians."""

    azimuth_deg: Floats
    side_deg: Floats
    top_deg: Floats
    sigma: Floats
    aside_sigma: Floats
    wide: Floats
    wide_sigma: Floats
    planned_deg: Floats
    planned_m: Floats
    eye_m: Floats
    near_m: Floats
    lat_deg: Floats
    aside_m: Floats
    fix: Floats
    before: _Before

    def turned(self, ahead_s: float) -> tuple[Floats, Floats]:
        """How far the subject stood clockwise of the plan, and its top; radians."""
        ahead = np.where(np.isfinite(self.lat_deg), ahead_s, 0.0)
        lat = np.nan_to_num(self.lat_deg)
        azimuth, _ = turned_by_clock(self.azimuth_deg, self.side_deg, lat_deg=lat, ahead_s=ahead)
        _, top = turned_by_clock(self.azimuth_deg, self.top_deg, lat_deg=lat, ahead_s=ahead)
        return np.radians(wrap_180_deg(azimuth - self.planned_deg)), np.radians(top)

    def off(self, p: Floats) -> Floats:
        """How far everything is off, in its own doubts."""
        count = len(self.planned_m)
        high, across, ahead = p[:3]
        away, step = np.maximum(p[3 : 3 + count], 0.1), p[3 + count :]
        turn, top = self.turned(ahead * self.before.clock_s)
        left, back = away * np.sin(turn), away * np.cos(turn) - self.planned_m
        was = self.before
        fix_back, fix_left, fix_sigma = self.fix
        fixed, near = np.isfinite(fix_sigma), np.isfinite(self.aside_m)
        worth = np.hypot(fix_sigma, away * self.aside_sigma)
        parts = [
            [
                (high - was.height_m) / was.height_sigma_m,
                (across - was.width_m) / was.width_sigma_m,
                ahead,
            ],
            back / self.near_m,
            step / STEP_M,
            (np.arctan2(high - self.eye_m - step, away) - top) / self.sigma,
            (2.0 * np.arctan2(across / 2.0, away) - self.wide) / self.wide_sigma,
            (left / np.hypot(self.aside_m, away * self.aside_sigma))[near],
            ((left - fix_left) / worth)[fixed],
            ((back - fix_back) / worth)[fixed],
        ]
        parts[4] = parts[4][np.isfinite(self.wide)]
        return np.concatenate(parts)


def adjust(
    sightings: Sequence[Sighting],
    *,
    height_m: float,
    height_sigma_m: float,
    width_m: float,
    width_sigma_m: float,
    clock_sigma_s: float = CLOCK_S,
) -> Adjusted:
    """Settle heights, distances and the clock so that frames and what was known agree best.

    Parameters
    ----------
    sightings : sequence of Sighting
        One or more.
    height_m, height_sigma_m : float
        What was known of the subject's height; a sigma of 0 takes `HEIGHT_SHARE`.
    width_m, width_sigma_m : float
        The same of its width; NaN where nothing is known of it.
    clock_sigma_s : float
        How well the time that was given is known, seconds.

    Raises
    ------
    ValueError
        Without a sighting.
    """
    from scipy.optimize import least_squares

    if not sightings:
        raise ValueError("no sightings")
    doubt = height_sigma_m or HEIGHT_SHARE * height_m
    broad = width_m if math.isfinite(width_m) else height_m / 2.0
    vague = (width_sigma_m or HEIGHT_SHARE * broad) if math.isfinite(width_m) else 10.0 * broad
    elsewhere = np.array([_is_elsewhere(one) for one in sightings])
    before = _Before(height_m, doubt, broad, vague, clock_sigma_s)
    known = _known(sightings, elsewhere, before)
    count = len(sightings)
    start = np.concatenate([[height_m, broad, 0.0], _first_m(known, elsewhere), np.zeros(count)])
    done = least_squares(known.off, start, x_scale="jac")
    spread = np.linalg.inv(done.jac.T @ done.jac)
    sigma = np.sqrt(np.diag(spread))
    wide = bool(np.isfinite(known.wide).any())
    doubted = bool(np.isfinite(known.lat_deg).any())
    return Adjusted(
        height_m=float(done.x[0]),
        height_sigma_m=float(sigma[0]),
        width_m=float(done.x[1]) if wide else math.nan,
        width_sigma_m=float(sigma[1]) if wide else math.nan,
        stood=tuple(_stood(known, done.x, spread, i, bool(elsewhere[i])) for i in range(count)),
        told_by_frames=1.0 - float(sigma[0]) / doubt,
        clock_ahead_s=float(done.x[2]) * clock_sigma_s if doubted else math.nan,
        clock_sigma_s=float(sigma[2]) * clock_sigma_s if doubted else math.nan,
        clock_told=1.0 - float(sigma[2]) if doubted else 0.0,
    )


def _is_elsewhere(one: Sighting) -> bool:
    """Whether a receiver says that the frame was taken far from the planned stand."""
    if not one.fix.known or math.isfinite(one.aside_sigma_m):
        return False
    return abs(one.fix.back_m) > ELSEWHERE_SIGMAS * math.hypot(
        one.distance_sigma_m, one.fix.sigma_m
    )


def _known(
    sightings: Sequence[Sighting],
    elsewhere: NDArray[np.bool_],
    before: _Before,
) -> _Known:
    def column(name: str) -> Floats:
        return np.array([getattr(one, name) for one in sightings], dtype=np.float64)

    fixes = [one.fix if one.fix.known else (math.nan,) * 3 for one in sightings]
    return _Known(
        azimuth_deg=column("azimuth_deg"),
        side_deg=_or(column("side_deg"), column("top_deg")),
        top_deg=column("top_deg"),
        sigma=np.radians(column("top_sigma_deg")),
        aside_sigma=np.radians(_or(column("azimuth_sigma_deg"), column("top_sigma_deg"))),
        wide=np.radians(column("width_deg")),
        wide_sigma=np.radians(column("width_sigma_deg")),
        planned_deg=column("planned_azimuth_deg"),
        planned_m=column("planned_distance_m"),
        eye_m=column("eye_m"),
        near_m=np.where(elsewhere, _FREE_M, column("distance_sigma_m")),
        lat_deg=column("lat"),
        aside_m=column("aside_sigma_m"),
        fix=np.array(fixes, dtype=np.float64).T,
        before=before,
    )


def _or(values: Floats, others: Floats) -> Floats:
    return np.where(np.isfinite(values), values, others)


def _first_m(known: _Known, elsewhere: NDArray[np.bool_]) -> Floats:
    """Distances to begin with: as planned, or as a receiver says that the plan was left."""
    return np.where(
        elsewhere, np.maximum(known.planned_m + np.nan_to_num(known.fix[0]), 1.0), known.planned_m
    )


def _stood(known: _Known, p: Floats, spread: Floats, i: int, elsewhere: bool) -> Stood:
    """One frame's place, with what the doubts of distance and clock do to it."""
    count = len(known.planned_m)
    away, ahead = float(p[3 + i]), float(p[2])
    turn = float(known.turned(ahead * known.before.clock_s)[0][i])
    # A subject seen farther clockwise is seen from farther left.
    rate = float(known.turned((ahead + 1e-3) * known.before.clock_s)[0][i] - turn) / 1e-3
    pair = spread[np.ix_([3 + i, 2], [3 + i, 2])]
    left = np.array([math.sin(turn), away * math.cos(turn) * rate])
    farther = np.array([math.cos(turn), -away * math.sin(turn) * rate])
    sighted = float(away * known.aside_sigma[i])
    return Stood(
        distance_m=away,
        distance_sigma_m=math.sqrt(float(pair[0, 0])),
        bearing_deg=(float(known.planned_deg[i]) + math.degrees(turn)) % 360.0,
        left_m=away * math.sin(turn),
        left_sigma_m=math.sqrt(float(left @ pair @ left) + sighted**2),
        farther_m=away * math.cos(turn) - float(known.planned_m[i]),
        farther_sigma_m=math.sqrt(float(farther @ pair @ farther)),
        higher_m=float(p[3 + count + i]),
        higher_sigma_m=math.sqrt(float(spread[3 + count + i, 3 + count + i])),
        by_receiver=elsewhere,
    )
