"""The ground that a page carries: the raster about the subject, and where its skylines stand.

Whatever a sight line from a stand over the subject to the target may meet is carried as the raster
has it, so that the page looks over the very same surface; see :doc:`/pocket`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.constants import LEAST_M_PER_LAT_DEG
from backbearing.base.geodesy import metres_per_degree, point_along
from backbearing.base.numbers import figures
from backbearing.terrain.cover.covered_elevation import covered_of
from backbearing.terrain.marks.marked_elevation import MarkedElevation, bare_of
from backbearing.workflows.carried_skylines import (
    AZIMUTHS,
    EYE_HEIGHTS_M,
    SIDE,
    Fan,
    polar,
    skyline_squares,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

NEAREST_REACH_M: Final = 250.0
FARTHEST_REACH_M: Final = 1_500.0
"""About the subject all ground is carried so far at least, and at most."""

TIMES_LEVEL: Final = 4.0
"""In between, to so many times the distance of the farthest lens's stand on level ground."""

MOST_CELLS: Final = 40_000
"""Cells of that patch at most: of a fine raster it is smaller."""

MOST_SQUARES: Final = 2_000
"""Squares beyond the patch at most: where there would be more, only lower eyes are served."""

QUANTA_M: Final = (0.001, 0.01, 0.1)
"""Heights that are not whole metres are rounded to these: about the subject, farther, and far."""

FAR_M: Final = 3_000.0
"""Far is from here on: 5 cm are then 0.001 degree."""

LAYOUT_PX: Final = 1e-6
"""By how much of a pixel the page may place ground otherwise than the raster does."""


def carried_ground(scene: Scene, azimuth_deg: Floats, level_m: float) -> dict[str, Any] | None:
    """Give the ground that stands about a subject need, as plain data.

    Parameters
    ----------
    scene : Scene
    azimuth_deg : ndarray
        Directions of the target in the night, in order of time.
    level_m : float
        The farthest lens's distance on level ground; NaN where there is none.

    Returns
    -------
    dict or None
        None for level ground without a raster.
    """
    if scene.elevation is None:
        return None
    covered = covered_of(scene.elevation)
    bare = bare_of(scene.elevation) if covered is None else covered.bare
    patch_m = _patch_reach_m(bare, level_m)
    near = _near_squares(scene, bare, patch_m)
    surfaces = [(bare, 0.0)] + ([] if covered is None else [(covered.tops, bare.cell_size_m)])
    by_height = [[set[tuple[int, int]]()] for _ in surfaces]
    if azimuth_deg.size:
        by_height = [
            skyline_squares(
                scene,
                raster,
                bare,
                Fan(_spread(azimuth_deg), scene.framing.offset_deg, patch_m, least),
            )
            for raster, least in surfaces
        ]
    far, served = _as_many_as_fit(by_height, near)
    looked_m = _looked_m(scene, bare, near.union(*far), patch_m)
    pieces = [
        _Pieces(raster, least, near, beyond)
        for (raster, least), beyond in zip(surfaces, far, strict=True)
    ]
    return {
        "side": SIDE,
        "patch_m": patch_m,
        "reach_m": scene.reach_m,
        "looked_m": looked_m,
        "eye_up_to_m": EYE_HEIGHTS_M[served],
        "bend_per_m": _bend_per_m(scene, bare.grid, looked_m),
        **_layout(bare.grid, scene, looked_m),
        **_layers(scene, bare.grid, pieces),
        "marks": _marks(scene),
    }


def _as_many_as_fit(
    by_height: list[list[set[tuple[int, int]]]], near: set[tuple[int, int]]
) -> tuple[list[set[tuple[int, int]]], int]:
    """Squares of each surface for the eyes up to some height, and which height that is."""
    served = len(by_height[0]) - 1
    while True:
        far = [set[tuple[int, int]]().union(*one[: served + 1]) - near for one in by_height]
        if served <= 1 or sum(map(len, far)) <= MOST_SQUARES:
            return far, served
        served -= 1


def _looked_m(
    scene: Scene, bare: Elevation, squares: set[tuple[int, int]], patch_m: float
) -> float:
    """How far any carried ground lies from any stand, metres."""
    if not squares:
        return min(patch_m, scene.reach_m)
    middle = (np.array(sorted(squares)) + 0.5) * SIDE
    place = bare.grid.places(row=middle[:, 0], col=middle[:, 1])
    away, _ = polar(scene, place.lat, place.lon)
    farthest = 1.01 * float(away.max()) + SIDE * max(bare.grid.steps_m) + patch_m
    return float(min(math.ceil(farthest), scene.reach_m))


def _bend_per_m(scene: Scene, grid: Grid, far_m: float) -> float:
    """How sight lines bend over the raster: by this much times the distance squared, metres."""
    far_m = min(far_m, 20_000.0)
    away = far_m * np.array([[0.0], [0.5], [1.0]])
    end = point_along(
        lat=scene.subject.lat, lon=scene.subject.lon,
        azimuth_deg=np.arange(0.0, 360.0, 15.0), distance_m=away,
    )  # fmt: skip
    row, col = grid.pixels(lat=end.lat, lon=end.lon)
    off = [np.nan_to_num(v[1] - 0.5 * (v[0] + v[2])) for v in (row, col)]
    stray = float(np.hypot(*off).max()) * max(grid.steps_m)
    return 4.0 * stray / far_m**2


def _patch_reach_m(bare: Elevation, level_m: float) -> float:
    wanted = TIMES_LEVEL * level_m if math.isfinite(level_m) else NEAREST_REACH_M
    wanted = min(max(wanted, NEAREST_REACH_M), FARTHEST_REACH_M)
    most = math.sqrt(MOST_CELLS / math.pi) * bare.cell_size_m
    return float(math.floor(max(min(wanted, most), 2.0 * bare.cell_size_m)))


def _spread(azimuth_deg: Floats) -> Floats:
    """Directions evenly spaced over all that the target runs through."""
    along = np.degrees(np.unwrap(np.radians(azimuth_deg)))
    low, high = float(along.min()) - 0.5, float(along.max()) + 0.5
    if high - low >= 360.0:
        low, high = 0.0, 360.0
    return np.linspace(low, high, min(AZIMUTHS, max(8, math.ceil(4.0 * (high - low)))))


def _near_squares(scene: Scene, bare: Elevation, reach_m: float) -> set[tuple[int, int]]:
    """Squares whose nearest corner is within reach of the subject."""
    subject = scene.subject
    here = bare.grid.pixels(lat=subject.lat, lon=subject.lon)
    steps = bare.local_steps_m(lat=subject.lat, lon=subject.lon)
    numbers, off_m = [], []
    for at, step, size in zip(map(float, here), steps, bare.shape, strict=True):
        low = max(math.floor((at - reach_m / step) / SIDE), 0)
        high = min(math.floor((at + reach_m / step) / SIDE), (size - 2) // SIDE)
        number = np.arange(low, high + 1)
        numbers.append(number)
        off_m.append(np.maximum(np.maximum(number * SIDE - at, at - (number + 1) * SIDE), 0) * step)
    i, j = np.nonzero(np.hypot(off_m[0][:, None], off_m[1]) <= reach_m)
    return set(zip(numbers[0][i].tolist(), numbers[1][j].tolist(), strict=True))


def _layout(grid: Grid, scene: Scene, looked_m: float) -> dict[str, Any]:
    """Rows and columns as polynomials of degrees north and east of the subject."""
    lat, lon = scene.subject.lat, scene.subject.lon
    reach = looked_m / LEAST_M_PER_LAT_DEG
    wide = looked_m / float(metres_per_degree(min(abs(lat) + reach, 89.0))[0])
    south, west, north, east = grid.bounds
    spare = 0.02
    lats = max(lat - reach, south - spare, -89.9), min(lat + reach, north + spare, 89.9)
    middle = 0.5 * (west + east)
    at = middle + float(wrap_180_deg(lon - middle))
    lons = max(at - wide, west - spare), min(at + wide, east + spare)
    scale = max(abs(lats[0] - lat), abs(lats[1] - lat), abs(lons[0] - at), abs(lons[1] - at))
    nodes, between = np.cos(np.pi * (np.arange(18) + 0.5) / 18), np.linspace(-0.97, 0.98, 13)

    def on_box(shares: Floats) -> tuple[Floats, Floats, Floats]:
        u, v = (w.ravel() for w in np.meshgrid(0.5 * (shares + 1.0), 0.5 * (shares + 1.0)))
        up = lats[0] + u * (lats[1] - lats[0]) - lat
        over = lons[0] + v * (lons[1] - lons[0]) - at
        pixels = grid.pixels(lat=lat + up, lon=at + over)
        return up / scale, over / scale, np.stack([pixels.row, pixels.col], axis=1)

    x, y, exact = on_box(nodes)
    u, v, wanted = on_box(between)
    fit: Floats
    off, degree = math.inf, 0
    for degree in range(1, 10):
        fit = np.asarray(np.linalg.lstsq(_terms(x, y, degree), exact, rcond=None)[0].T)
        off = float(np.abs(_terms(u, v, degree) @ fit.T - wanted).max())
        if off <= LAYOUT_PX:
            break
    return {
        "scale_deg": scale,
        "degree": degree,
        "rows": fit[0].tolist(),
        "cols": fit[1].tolist(),
        "placed_within_px": float(figures(off)),
    }


def _terms(x: Floats, y: Floats, degree: int) -> Floats:
    """Monomials by rising degree, those with more of x first, shape (n, terms)."""
    return np.stack([x ** (d - j) * y**j for d in range(degree + 1) for j in range(d + 1)], axis=1)


class _Pieces(NamedTuple):
    """Squares of one surface: its raster, from how far on it counts, those near and beyond."""

    raster: Elevation
    from_m: float
    near: set[tuple[int, int]]
    far: set[tuple[int, int]]


def _layers(scene: Scene, grid: Grid, pieces: list[_Pieces]) -> dict[str, Any]:
    """The squares' pixels, edges on all four sides, each as its step from the one before."""
    held = [
        [(at, kind, _pixels(one.raster, at)) for at, kind in _kinds(scene, grid, one)]
        for one in pieces
    ]
    known = [z[np.isfinite(z)] for squares in held for _, _, z in squares]
    whole = all(np.array_equal(z, np.round(z)) for z in known)
    quanta = (1.0,) * len(QUANTA_M) if whole else QUANTA_M
    return {
        "quanta_m": list(quanta),
        "rounded_within_m": [0.0 if whole else 0.5 * quantum for quantum in quanta],
        "layers": [
            {
                "from_m": one.from_m,
                "tiles": [[*at, kind, *_steps(z, quanta[kind])] for at, kind, z in squares],
            }
            for one, squares in zip(pieces, held, strict=True)
        ],
    }


def _kinds(scene: Scene, grid: Grid, one: _Pieces) -> list[tuple[tuple[int, int], int]]:
    """Squares about the subject (0), farther (1) and far (2)."""
    near, far = sorted(one.near), sorted(one.far)
    if not far:
        return [(at, 0) for at in near]
    middle = (np.array(far) + 0.5) * SIDE
    place = grid.places(row=middle[:, 0], col=middle[:, 1])
    away, _ = polar(scene, place.lat, place.lon)
    beyond = zip(far, (1 + (away >= FAR_M)).tolist(), strict=True)
    return [*((at, 0) for at in near), *beyond]


def _marks(scene: Scene) -> list[dict[str, Any]]:
    """Measured marks over the raster, set by set; how far away each thing may be, and is put."""
    if not isinstance(scene.elevation, MarkedElevation):
        return []
    found = []
    for one in scene.elevation.marks.sets:
        mean = 2.0 / (1.0 / one.near_m + 1.0 / one.far_m)
        found.append(
            {
                "lat": one.lat,
                "lon": one.lon,
                "eye_m": one.eye_m,
                "azimuths": one.azimuths_deg.tolist(),
                "altitudes": one.altitudes_deg.tolist(),
                "near": one.near_m.tolist(),
                "mid": np.where(one.is_told, one.distances_m, mean).tolist(),
                "far": one.far_m.tolist(),
                "told": one.is_told.astype(int).tolist(),
            }
        )
    return found


def _pixels(bare: Elevation, at: tuple[int, int]) -> Floats:
    """Pixels of a square; NaN where the raster has none."""
    rows, cols = bare.shape
    first = SIDE * at[0], SIDE * at[1]
    last = min(first[0] + SIDE + 1, rows), min(first[1] + SIDE + 1, cols)
    held = bare.window_m(slice(first[0], last[0]), slice(first[1], last[1]))
    out = np.full((SIDE + 1, SIDE + 1), np.nan)
    out[: held.shape[0], : held.shape[1]] = held
    return out


def _steps(z: Floats, quantum_m: float) -> list[int | bool | None]:
    """None for a void, False for open water."""
    out: list[int | bool | None] = []
    before = 0
    for value in z.ravel().tolist():
        if math.isnan(value):
            out.append(None)
        elif value == 0.0 and math.copysign(1.0, value) < 0.0:
            out.append(False)
        else:
            height = round(value / quantum_m)
            out.append(height - before)
            before = height
    return out
