"""The ground that a page carries: squares of the raster about the subject, and those of its skylines.

Whatever a sight line from a stand over the subject to the target may meet is carried as the raster
has it, so that the page looks over the very same surface; see :doc:`/pocket`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.constants import LEAST_M_PER_LAT_DEG, MEAN_EARTH_RADIUS_M
from backbearing.base.geodesy import curvature_drop_m, metres_per_degree, point_along
from backbearing.terrain.marks.marked_elevation import bare_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

SIDE: Final = 8
"""Cells along the side of a square."""

NEAREST_REACH_M: Final = 250.0
FARTHEST_REACH_M: Final = 1_500.0
"""About the subject all ground is carried so far at least, and at most."""

TIMES_LEVEL: Final = 4.0
"""In between, to so many times the distance of the farthest lens's stand on level ground."""

MOST_CELLS: Final = 40_000
"""Cells of that patch at most: of a fine raster it is smaller."""

EYES: Final = 5
EYE_HEIGHTS_M: Final = (0.3, 2.0, 6.0)
"""Skylines are looked for from so many distances behind the subject, and from such heights."""

AZIMUTHS: Final = 240
"""So many directions of the target at most."""

SPARE_DEG: Final = 0.03
"""Ground so far below a skyline is carried with it: others are seen from other eyes."""

STRIP_CELLS: Final = 4_000_000
"""Cells looked through at a time."""

NEAR_QUANTUM_M: Final = 0.001
FAR_QUANTUM_M: Final = 0.01
"""Heights that are not whole metres are rounded to these, about the subject and beyond."""

LAYOUT_PX: Final = 1e-6
"""By how much of a pixel the page may place ground otherwise than the raster does."""


class Fan(NamedTuple):
    """Directions of the target as rays run from stands through the subject, ``(a,)``."""

    azimuth_deg: Floats
    offset_deg: float


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
    bare = bare_of(scene.elevation)
    reach_m = _patch_reach_m(bare, level_m)
    near = _near_squares(scene, bare, reach_m)
    far: set[tuple[int, int]] = set()
    if azimuth_deg.size:
        fan = Fan(_spread(azimuth_deg), scene.framing.offset_deg)
        far = _skyline_squares(scene, bare, fan, reach_m) - near
    layout = _layout(bare.grid, scene, reach_m)
    return {
        "side": SIDE,
        "shape": list(bare.shape),
        "patch_m": reach_m,
        "reach_m": scene.reach_m,
        **layout,
        **_squares(bare, sorted(near), sorted(far)),
    }


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
    """Squares with any cell about the subject."""
    turn = np.linspace(0.0, 360.0, 73)
    away = np.linspace(0.0, reach_m, max(3, math.ceil(2.0 * reach_m / (SIDE * _step_m(bare)))))
    end = point_along(
        lat=scene.subject.lat, lon=scene.subject.lon, azimuth_deg=turn[:, None], distance_m=away
    )
    pixels = bare.grid.pixels(lat=end.lat, lon=end.lon)
    rows, cols = bare.shape
    inside = (pixels.row >= 0) & (pixels.row < rows - 1)
    inside &= (pixels.col >= 0) & (pixels.col < cols - 1)
    i, j = (np.floor(v[inside] / SIDE).astype(np.int64) for v in pixels)
    found = set(zip(i.tolist(), j.tolist(), strict=True))
    if not found:
        return found
    (top, left), (bottom, right) = np.min(list(found), axis=0), np.max(list(found), axis=0)
    # Between the rays too: all squares of the box whose nearest corner is within reach.
    here = bare.grid.pixels(lat=scene.subject.lat, lon=scene.subject.lon)
    step = bare.local_steps_m(lat=scene.subject.lat, lon=scene.subject.lon)
    for row in range(int(top), int(bottom) + 1):
        for col in range(int(left), int(right) + 1):
            down = max(row * SIDE - here.row, here.row - (row + 1) * SIDE, 0.0) * step[0]
            over = max(col * SIDE - here.col, here.col - (col + 1) * SIDE, 0.0) * step[1]
            if math.hypot(float(down), float(over)) <= reach_m:
                found.add((row, col))
    return found


def _step_m(bare: Elevation) -> float:
    return min(bare.grid.steps_m)


def _skyline_squares(
    scene: Scene, bare: Elevation, fan: Fan, reach_m: float
) -> set[tuple[int, int]]:
    """Squares that hold ground which may be a skyline from some stand in the patch."""
    eyes = _eyes(scene, bare, fan, reach_m)
    found: set[tuple[int, int]] = set()
    top, bottom, left, right = _window(scene, bare, fan)
    if bottom - top < 2 or right - left < 2:
        return found
    strip = max(SIDE, STRIP_CELLS // (right - left) // SIDE * SIDE)
    for first in range(top, bottom, strip):
        last = min(first + strip + 1, bottom)
        window = bare.window_m(slice(first, last), slice(left, right))
        found |= _squares_in(window, (first, left), scene, bare.grid, eyes)
    return found


class _Eyes(NamedTuple):
    """Eyes behind the subject: by direction (a,), distance (e,) and height (h,).

    ``azimuth_deg`` (a,), ``away_m`` (e,), ``offset_deg``, ``height_m`` above sea level and
    ``least_tangent`` of the skyline there and near by, both (a, e, h).
    """

    azimuth_deg: Floats
    away_m: Floats
    offset_deg: float
    height_m: Floats
    least_tangent: Floats


def _eyes(scene: Scene, bare: Elevation, fan: Fan, reach_m: float) -> _Eyes:
    azimuth = fan.azimuth_deg
    away = np.geomspace(4.0, reach_m, EYES)
    back = wrap_360_deg(azimuth - fan.offset_deg + 180.0)
    end = point_along(
        lat=scene.subject.lat, lon=scene.subject.lon, azimuth_deg=back[:, None], distance_m=away
    )
    ground = np.asarray(bare.height_at(lat=end.lat, lon=end.lon))
    shape = (*ground.shape, len(EYE_HEIGHTS_M))
    lat, lon, level, ray = (
        np.broadcast_to(v[..., None], shape).ravel()
        for v in (end.lat, end.lon, ground, np.broadcast_to(azimuth[:, None], ground.shape))
    )
    over = np.broadcast_to(EYE_HEIGHTS_M, shape).ravel()
    seen = bare.skylines(
        lat=lat, lon=lon, azimuths_deg=ray, eye_height_m=over, ground_m=level,
        max_distance_m=scene.reach_m, refraction_k=scene.refraction_k, to_the_last_bit=False,
    )  # fmt: skip
    altitude = seen.altitudes_deg.reshape(shape)
    least = np.fmin.reduce([np.roll(altitude, k, axis=0) for k in (-2, -1, 0, 1, 2)])
    return _Eyes(
        azimuth,
        away,
        fan.offset_deg,
        (level + over).reshape(shape),
        np.tan(np.radians(least - SPARE_DEG)),
    )


def _window(scene: Scene, bare: Elevation, fan: Fan) -> tuple[int, int, int, int]:
    """Rows and columns that all rays lie between."""
    far = np.array([0.0, 0.25, 0.5, 0.75, 1.0]) * scene.reach_m
    end = point_along(
        lat=scene.subject.lat, lon=scene.subject.lon,
        azimuth_deg=fan.azimuth_deg[:, None], distance_m=far,
    )  # fmt: skip
    pixels = bare.grid.pixels(lat=end.lat, lon=end.lon)
    found = []
    for at, size in zip(pixels, bare.shape, strict=True):
        low = np.clip(np.nanmin(at) - SIDE, 0, size)
        high = np.clip(np.nanmax(at) + SIDE + 1, 0, size)
        found += [int(low) // SIDE * SIDE, int(high)]
    return found[0], found[1], found[2], found[3]


def _squares_in(
    window: NDArray[np.floating], corner: tuple[int, int], scene: Scene, grid: Grid, eyes: _Eyes
) -> set[tuple[int, int]]:
    """Squares of a strip of the raster with a pixel that stands as high as some skyline."""
    rows, cols = np.nonzero(_worth_a_look(window, corner, scene, grid, eyes))
    if not rows.size:
        return set()
    place = grid.places(row=rows + corner[0], col=cols + corner[1])
    away, azimuth = _polar(scene, place.lat, place.lon)
    z = window[rows, cols].astype(np.float64)
    high = np.zeros(z.shape, dtype=bool)
    for which in np.ndindex(eyes.height_m.shape[1:]):
        tangent, least = _tangents(z, away, azimuth, eyes, which, scene.refraction_k)
        high |= tangent >= least
    found: set[tuple[int, int]] = set()
    r, c = rows[high] + corner[0], cols[high] + corner[1]
    # A pixel is a corner of four cells, which may lie in as many squares.
    for down in (0, 1):
        for over in (0, 1):
            i, j = (r - down) // SIDE, (c - over) // SIDE
            keep = (i >= 0) & (j >= 0)
            found |= set(zip(i[keep].tolist(), j[keep].tolist(), strict=True))
    return found


def _worth_a_look(
    window: NDArray[np.floating], corner: tuple[int, int], scene: Scene, grid: Grid, eyes: _Eyes
) -> Flags:
    """Pixels of blocks whose highest, were it at the block's nearest, might be a skyline."""
    rows, cols = window.shape
    pad = (-rows % SIDE, -cols % SIDE)
    padded = np.pad(window, ((0, pad[0]), (0, pad[1])), constant_values=np.nan)
    blocks = padded.reshape(padded.shape[0] // SIDE, SIDE, padded.shape[1] // SIDE, SIDE)
    with np.errstate(invalid="ignore"):
        highest = np.fmax.reduce(np.fmax.reduce(blocks, axis=3), axis=1)
    i, j = np.nonzero(np.isfinite(highest))
    middle = grid.places(
        row=i * SIDE + (SIDE - 1) / 2 + corner[0], col=j * SIDE + (SIDE - 1) / 2 + corner[1]
    )
    away, azimuth = _polar(scene, middle.lat, middle.lon)
    half = 0.75 * SIDE * max(grid.steps_m)
    near = np.maximum(away - half, 1.0)
    aside = np.degrees(np.arcsin(np.minimum(half / np.maximum(away, half), 1.0)))
    live = np.zeros(i.shape, dtype=bool)
    for which in np.ndindex(eyes.height_m.shape[1:]):
        for turn in (-aside, 0.0, aside):
            for distance in (near, away + half):
                tangent, least = _tangents(
                    highest[i, j], distance, azimuth + turn, eyes, which, scene.refraction_k
                )
                live |= tangent >= least
    live &= away - half <= scene.reach_m
    kept = np.zeros(highest.shape, dtype=bool)
    kept[i[live], j[live]] = True
    every = np.repeat(np.repeat(kept, SIDE, axis=0), SIDE, axis=1)[:rows, :cols]
    return every & np.isfinite(window)


def _tangents(
    z: Floats, away_m: Floats, azimuth_deg: Floats, eyes: _Eyes, which: tuple[int, ...], k: float
) -> tuple[Floats, Floats]:
    """Tangents of ground as one row of eyes sees it, and the least of a skyline there.

    NaN where the target never stands in that direction.
    """
    e, h = which
    behind = float(eyes.away_m[e])
    with np.errstate(invalid="ignore"):
        beside = np.degrees(
            np.arcsin(np.clip(behind * math.sin(math.radians(eyes.offset_deg)) / away_m, -1.0, 1.0))
        )
    low, high = float(eyes.azimuth_deg[0]), float(eyes.azimuth_deg[-1])
    middle = 0.5 * (low + high)
    ray = middle + wrap_180_deg(azimuth_deg - beside - middle)
    eye = np.interp(ray, eyes.azimuth_deg, eyes.height_m[:, e, h], left=np.nan, right=np.nan)
    least = np.interp(ray, eyes.azimuth_deg, eyes.least_tangent[:, e, h], left=np.nan, right=np.nan)
    distance = away_m + behind * math.cos(math.radians(eyes.offset_deg))
    return (z - eye - curvature_drop_m(distance, k)) / distance, least


def _polar(scene: Scene, lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
    """Distance and azimuth from the subject on a sphere, good to half a per cent."""
    subject = scene.subject
    phi0, phi = math.radians(subject.lat), np.radians(lat)
    turn = np.radians(wrap_180_deg(lon - subject.lon))
    east = np.cos(phi) * np.sin(turn)
    north = math.cos(phi0) * np.sin(phi) - math.sin(phi0) * np.cos(phi) * np.cos(turn)
    up = math.sin(phi0) * np.sin(phi) + math.cos(phi0) * np.cos(phi) * np.cos(turn)
    away = MEAN_EARTH_RADIUS_M * np.arctan2(np.hypot(east, north), up)
    return np.maximum(away, 1.0), np.degrees(np.arctan2(east, north))


def _layout(grid: Grid, scene: Scene, patch_m: float) -> dict[str, Any]:
    """Rows and columns as polynomials of degrees north and east of the subject."""
    lat, lon = scene.subject.lat, scene.subject.lon
    reach = (scene.reach_m + 2.0 * patch_m) / LEAST_M_PER_LAT_DEG
    wide = reach * LEAST_M_PER_LAT_DEG / float(metres_per_degree(lat)[0])
    south, west, north, east = grid.bounds
    spare = 4.0 * patch_m / LEAST_M_PER_LAT_DEG
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
    fit, off, degree = np.zeros((2, 3)), math.inf, 0
    for degree in range(1, 10):
        fit = np.linalg.lstsq(_terms(x, y, degree), exact, rcond=None)[0].T
        off = float(np.abs(_terms(u, v, degree) @ fit.T - wanted).max())
        if off <= LAYOUT_PX:
            break
    return {
        "scale_deg": scale,
        "degree": degree,
        "rows": fit[0].tolist(),
        "cols": fit[1].tolist(),
        "placed_within_px": float(f"{off:.1e}"),
    }


def _terms(x: Floats, y: Floats, degree: int) -> Floats:
    """Monomials by rising degree, those with more of x first, shape (n, terms)."""
    return np.stack([x ** (d - j) * y**j for d in range(degree + 1) for j in range(d + 1)], axis=1)


def _squares(
    bare: Elevation, near: list[tuple[int, int]], far: list[tuple[int, int]]
) -> dict[str, Any]:
    """The squares' pixels, edges on all four sides, each as its step from the one before."""
    pieces = [(at, True, _pixels(bare, at)) for at in near]
    pieces += [(at, False, _pixels(bare, at)) for at in far]
    known = [z[np.isfinite(z)] for _, _, z in pieces]
    whole = all(np.array_equal(z, np.round(z)) for z in known)
    quanta = (1.0, 1.0) if whole else (NEAR_QUANTUM_M, FAR_QUANTUM_M)
    return {
        "quanta_m": list(quanta),
        "rounded_within_m": [0.0, 0.0] if whole else [0.5 * quantum for quantum in quanta],
        "tiles": [
            [*at, int(is_near), *_steps(z, quanta[0 if is_near else 1])]
            for at, is_near, z in pieces
        ],
    }


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
