"""Sight lines over a raster: geodesics from one eye, as curves in rows and columns.

Around an eye the map from (east, north) along geodesics to (row, column) is smooth in
any reference system, so one bivariate polynomial fitted to a hundred points serves
every azimuth. Along one azimuth it is a polynomial in the distance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import angle_between_deg
from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import point_along
from backbearing.terrain.grid import Places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

DEGREES = (3, 5, 8, 12)
"""Degrees of polynomial tried in turn."""

FIT_TOLERANCE_M = 0.005
"""Misplacement of a sight line that is allowed, metres."""

FARTHEST_LAT_DEG = 89.0
"""Latitude beyond which an azimuth means too little to answer."""


@dataclass(frozen=True)
class Rays:
    """Sight lines as polynomials in distance over ``reach_m``.

    Attributes
    ----------
    rows, cols : ndarray, shape (n, degree + 1)
        Coefficients of ``(s / reach_m) ** k`` for row and column, centre-based.
    reach_m : float
        Distance over which the polynomials hold.
    """

    rows: Floats
    cols: Floats
    reach_m: float

    def edge_m(self, shape: tuple[int, int]) -> Floats:
        """Distance at which each sight line leaves the raster, at most ``reach_m``; shape (n,)."""
        return edges_m(self.rows, self.cols, np.float64(self.reach_m), shape)


def edges_m(
    rows: Floats, cols: Floats, reach_m: Floats | np.float64, shape: tuple[int, int]
) -> Floats:
    """Distance at which each line leaves a raster of such a shape, at most its reach; (n,).

    The first crossing of each side by the line's quadratic part, then polished with
    Newton's method on the whole polynomial.
    """
    margins = np.stack([rows, -rows, cols, -cols])
    margins[1, :, 0] += shape[0] - 1
    margins[3, :, 0] += shape[1] - 1
    edge: Floats = reach_m * _first_exit(margins).min(axis=0)
    return edge


@cache
def design(degree: int) -> tuple[Floats, Floats, NDArray[np.int64], Floats, Floats]:
    """Give points of the unit disc, the fit's pseudo-inverse, powers and points for checking."""
    rings = degree + 2
    radius: Floats = np.sin(np.arange(1, rings + 1) * np.pi / (2 * rings))
    spokes = 2 * degree + 3
    turn = np.arange(spokes) * 2 * np.pi / spokes
    fit: Floats = np.stack(
        [
            np.outer(radius, np.sin(turn)).ravel(),
            np.outer(radius, np.cos(turn)).ravel(),
        ]
    )
    turn = turn[::2] + np.pi / spokes
    check: Floats = np.concatenate(
        [f * np.stack([np.sin(turn), np.cos(turn)]) for f in (1.0, 0.55)], axis=1
    )
    powers = np.array([(i, k - i) for k in range(1, degree + 1) for i in range(k + 1)])
    matrix = _monomials(fit, powers)
    inverse = np.asarray(np.linalg.pinv(matrix), dtype=np.float64)
    return fit, inverse, powers, check, _monomials(check, powers)


def _monomials(points: Floats, powers: NDArray[np.int64]) -> Floats:
    east, north = points
    out: Floats = east[:, None] ** powers[:, 0] * north[:, None] ** powers[:, 1]
    return out


def farthest_m(grid: Grid, *, lat: float, lon: float) -> float:
    """Distance from the eye within which the whole raster lies, a little too large."""
    rim = grid.rim
    angle = angle_between_deg(lon1_deg=lon, lat1_deg=lat, lon2_deg=rim.lon, lat2_deg=rim.lat)
    far = MEAN_EARTH_RADIUS_M * np.radians(np.nanmax(angle))
    return float(1.01 * far + 2 * max(grid.steps_m))


def trace_rays(grid: Grid, *, lat: float, lon: float, azimuths_deg: Floats, reach_m: float) -> Rays:
    """Trace geodesics from an eye over the raster's rows and columns.

    Raises
    ------
    TerrainError
        Where rows and columns change too wildly within reach: close to a pole, or off
        the area that the CRS is made for.
    """
    refuse_poles(np.array([lat]))
    eye = grid.pixels(lat=lat, lon=lon)
    place = float(eye.row), float(eye.col)
    for degree in DEGREES:
        shifts = shifts_around(grid, Places(np.array([lat]), np.array([lon])), reach_m, degree)
        if shifts is None:
            continue
        coefficients = coefficients_of(shifts, degree)
        if misplaced(coefficients, shifts, degree) * min(grid.steps_m) <= FIT_TOLERANCE_M:
            return lines_along(coefficients[0], degree, np.radians(azimuths_deg), place, reach_m)
    raise TerrainError(
        f"Within {reach_m / 1000:.0f} km of {lat:.4f}, {lon:.4f} the raster's reference system "
        "is too distorted to follow sight lines (a pole, or the edge of its area)",
        hint="ask for a smaller max_distance_m, or warp the raster to a local system",
        lat=lat,
        lon=lon,
    )


def refuse_poles(lat: Floats) -> None:
    """Raise for latitudes so near a pole that azimuths mean too little."""
    near = np.flatnonzero(np.abs(lat) > FARTHEST_LAT_DEG)
    if near.size:
        worst = float(lat[near[0]])
        raise TerrainError(
            f"Latitude {worst:.4f} lies within {90 - FARTHEST_LAT_DEG:g} degree of a pole, "
            "where azimuths mean too little for a skyline",
            hint="choose a place farther from it",
            lat=worst,
        )


def shifts_around(grid: Grid, eyes: Places, reach_m: float, degree: int) -> Floats | None:
    """Rows and columns between eyes and the points of a fit, shape (eyes, 2, points).

    None where some of them are undefined.
    """
    fit, _, _, check, _ = design(degree)
    points = np.concatenate([fit, check], axis=1)
    ends = point_along(
        lat=eyes.lat[:, None],
        lon=eyes.lon[:, None],
        azimuth_deg=np.degrees(np.arctan2(points[0], points[1])),
        distance_m=np.hypot(points[0], points[1]) * reach_m,
    )
    near = np.stack(grid.pixels(lat=eyes.lat, lon=eyes.lon), axis=1)
    shift: Floats = np.stack(grid.pixels(lat=ends.lat, lon=ends.lon), axis=1) - near[:, :, None]
    if not np.isfinite(shift).all():
        return None
    if grid.turn_cols is not None:
        shift[:, 1] -= grid.turn_cols * np.round(shift[:, 1] / grid.turn_cols)
    return shift


def coefficients_of(shifts: Floats, degree: int) -> Floats:
    """Fit row and column as polynomials of east and north, shape (eyes, 2, terms)."""
    fit, inverse, *_ = design(degree)
    coefficients: Floats = shifts[:, :, : fit.shape[1]] @ inverse.T
    return coefficients


def misplaced(coefficients: Floats, shifts: Floats, degree: int) -> float:
    """Largest miss of a fit at the points kept for checking, in cells."""
    fit, _, _, _, matrix = design(degree)
    return float(np.abs(coefficients @ matrix.T - shifts[:, :, fit.shape[1] :]).max())


def lines_along(
    coefficients: Floats, degree: int, azimuths: Floats, eye: tuple[float, float], reach_m: float
) -> Rays:
    """Cut lines along azimuths (radians) out of a fit around an eye (row, column)."""
    turn = directions_of(azimuths, degree)
    lines = np.empty((2, len(azimuths), degree + 1))
    lines[:, :, 0] = np.array(eye)[:, None]
    first = 0
    for k in range(1, degree + 1):
        of_order = slice(first, first + k + 1)
        lines[:, :, k] = coefficients[:, of_order] @ turn[of_order]
        first += k + 1
    return Rays(lines[0], lines[1], reach_m)


def directions_of(azimuths: Floats, degree: int) -> Floats:
    """Give the terms of a fit at a distance of one, for azimuths in radians; (terms, n)."""
    powers = design(degree)[2]
    east = _powers(np.sin(azimuths), degree)[powers[:, 0]]
    north = _powers(np.cos(azimuths), degree)[powers[:, 1]]
    return np.asarray(east * north)


def _powers(base: Floats, degree: int) -> Floats:
    """Powers 0 to ``degree`` of each number, shape (degree + 1, n)."""
    out = np.ones((degree + 1, len(base)))
    np.cumprod(np.broadcast_to(base, (degree, len(base))), axis=0, out=out[1:])
    return out


def _first_exit(inside: Floats) -> Floats:
    """Smallest ``t`` in [0, 1] at which each polynomial falls below zero; 1 where none."""
    c, b, a = np.maximum(inside[..., 0], 0.0), inside[..., 1], inside[..., 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(b * b - 4.0 * a * c)
        q = -0.5 * (b + np.copysign(root, b))
        found = np.stack([q / a, c / q])
        falls = (found >= 0.0) & (b + 2.0 * a * found < 0.0)
        found = np.where(falls, found, np.inf).min(axis=0)
        t = np.minimum(found, 1.0)
        for _ in range(2):
            value, slope = _value_and_slope(inside, t)
            t = np.where((found < 1.5) & (slope < 0.0), t - value / slope, t)
    out: Floats = np.clip(t, 0.0, 1.0)
    return out


def _value_and_slope(coefficients: Floats, t: Floats) -> tuple[Floats, Floats]:
    value, slope = np.zeros_like(t), np.zeros_like(t)
    for k in range(coefficients.shape[-1] - 1, -1, -1):
        slope = slope * t + value
        value = value * t + coefficients[..., k]
    return value, slope
