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

from backbearing.errors import TerrainError
from backbearing.geodesy import MEAN_EARTH_RADIUS_M, point_along

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

DEGREES = (3, 5, 8, 12)
"""Degrees of polynomial tried in turn."""

FIT_TOLERANCE_M = 0.005
"""Misplacement of a sight line that is allowed, metres."""

STRAY = 5e-6
"""How far a chord may stray from a sight line, as a share of the distance from the eye."""

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
    bend : float
        Bound on half the second derivative, in cells per (reach_m squared).
    """

    rows: Floats
    cols: Floats
    reach_m: float
    bend: float

    def nodes_m(self, start_m: float, end_m: float, cell_m: float) -> Floats:
        """Distances between which a sight line may be taken as straight.

        A chord strays from its sight line by at most 5 mm for each kilometre from the eye,
        which on a slope of 45 degrees moves an altitude by 0.0003 degree.
        """
        curve = max(self.bend * cell_m / self.reach_m**2, 1e-12)
        nodes = [start_m]
        while nodes[-1] < end_m:
            step = max(STRAY / curve, float(np.sqrt(4.0 * STRAY * nodes[-1] / curve)))
            nodes.append(min(end_m, nodes[-1] + step))
        return np.array(nodes)

    def edge_m(self, shape: tuple[int, int]) -> Floats:
        """Distance at which each sight line leaves the raster, at most ``reach_m``; shape (n,).

        The first crossing of each side by the line's quadratic part, then polished with
        Newton's method on the whole polynomial.
        """
        margins = np.stack([self.rows, -self.rows, self.cols, -self.cols])
        margins[1, :, 0] += shape[0] - 1
        margins[3, :, 0] += shape[1] - 1
        edge: Floats = self.reach_m * _first_exit(margins).min(axis=0)
        return edge


@cache
def _design(degree: int) -> tuple[Floats, Floats, NDArray[np.int64], Floats, Floats]:
    """Points of the unit disc, the fit's pseudo-inverse, powers and points for checking."""
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
    rim_lat, rim_lon = (np.radians(v) for v in grid.rim)
    phi = np.radians(lat)
    half = (
        np.sin((rim_lat - phi) / 2) ** 2
        + np.cos(phi) * np.cos(rim_lat) * np.sin((rim_lon - np.radians(lon)) / 2) ** 2
    )
    far = np.nanmax(2 * MEAN_EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(half, 0, 1))))
    return float(1.01 * far + 2 * max(grid.steps_m))


def trace_rays(grid: Grid, *, lat: float, lon: float, azimuths_deg: Floats, reach_m: float) -> Rays:
    """Trace geodesics from an eye over the raster's rows and columns.

    Raises
    ------
    TerrainError
        Where rows and columns change too wildly within reach: close to a pole, or off
        the area that the CRS is made for.
    """
    if abs(lat) > FARTHEST_LAT_DEG:
        raise TerrainError(
            f"Latitude {lat:.4f} lies within {90 - FARTHEST_LAT_DEG:g} degree of a pole, where "
            "azimuths mean too little for a skyline; choose a place farther from it.",
            lat=lat,
        )
    eye = grid.pixels(lat=lat, lon=lon)
    for degree in DEGREES:
        coefficients = _fit(grid, lat, lon, reach_m, degree, np.array([eye.row, eye.col]))
        if coefficients is not None:
            break
    else:
        raise TerrainError(
            f"Within {reach_m / 1000:.0f} km of {lat:.4f}, {lon:.4f} the raster's reference system "
            "is too distorted to follow sight lines (a pole, or the edge of its area); ask for a "
            "smaller max_distance_m, or warp the raster to a local system.",
            lat=lat,
            lon=lon,
        )
    lines = _lines(coefficients, degree, np.radians(azimuths_deg))
    lines[:, :, 0] = np.array([eye.row, eye.col])[:, None]
    all_round = np.abs(_lines(coefficients, degree, np.linspace(0.0, 2.0 * np.pi, 25)))
    orders = np.arange(2, degree + 1)
    bend = np.hypot(*(all_round[:, :, 2:] @ (orders * (orders - 1) / 2.0))).max()
    return Rays(
        np.ascontiguousarray(lines[0]), np.ascontiguousarray(lines[1]), reach_m, 1.05 * float(bend)
    )


def _lines(coefficients: Floats, degree: int, azimuths: Floats) -> Floats:
    """Polynomials in distance along azimuths in radians, shape (2, n, degree + 1)."""
    powers = _design(degree)[2]
    turn = (
        _powers(np.sin(azimuths), degree)[powers[:, 0]]
        * _powers(np.cos(azimuths), degree)[powers[:, 1]]
    )
    order = powers.sum(axis=1)
    lines = np.zeros((2, len(azimuths), degree + 1))
    for k in range(1, degree + 1):
        lines[:, :, k] = coefficients[:, order == k] @ turn[order == k]
    return lines


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


def _fit(
    grid: Grid, lat: float, lon: float, reach_m: float, degree: int, eye: Floats
) -> Floats | None:
    """Coefficients of row and column, shape (2, terms); None where the fit is too coarse."""
    fit, inverse, _, check, check_matrix = _design(degree)
    points = np.concatenate([fit, check], axis=1)
    ends = point_along(
        lat=lat,
        lon=lon,
        azimuth_deg=np.degrees(np.arctan2(points[0], points[1])),
        distance_m=np.hypot(points[0], points[1]) * reach_m,
    )
    shift = np.stack(grid.pixels(lat=ends.lat, lon=ends.lon)) - eye[:, None]
    if not np.isfinite(shift).all():
        return None
    if grid.turn_cols is not None:
        shift[1] -= grid.turn_cols * np.round(shift[1] / grid.turn_cols)
    split = fit.shape[1]
    coefficients: Floats = shift[:, :split] @ inverse.T
    miss = np.abs(coefficients @ check_matrix.T - shift[:, split:]).max()
    return coefficients if miss * min(grid.steps_m) <= FIT_TOLERANCE_M else None
