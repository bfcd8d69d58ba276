"""Squares of a raster that may hold the skyline from some stand about a subject.

All ground is looked at from eyes at several distances behind the subject and several heights over
the ground there; what stands as high as the lowest skyline thereabouts, or almost, is kept. Between
two eyes that are looked from the skyline moves over ground that one of them sees nearly as high.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.geodesy import curvature_drop_m, point_along

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

SIDE: Final = 8
"""Cells along the side of a square."""

EYES: Final = 5
EYE_HEIGHTS_M: Final = (0.3, 2.0, 6.0, 20.0)
"""Skylines are looked for from so many distances behind the subject, and from such heights."""

AZIMUTHS: Final = 240
"""So many directions of the target at most."""

SPARE_DEG: Final = 0.03
"""Ground so far below a skyline is kept with it."""

WIDE_DEG: Final = 1.5
"""What looks wider than twice this is looked through cell by cell."""

STRIP_CELLS: Final = 4_000_000
"""Cells looked through at a time."""


class Fan(NamedTuple):
    """Directions of the target as rays run from stands by the subject, ``(a,)`` and rising.

    ``offset_deg`` is how far right of the subject the target stands; ``reach_m`` how far behind
    the subject there are stands, and ``least_m`` how near ground may be a skyline.
    """

    azimuth_deg: Floats
    offset_deg: float
    reach_m: float
    least_m: float = 0.0


def skyline_squares(
    scene: Scene, raster: Elevation, ground: Elevation, fan: Fan
) -> list[set[tuple[int, int]]]:
    """Give the squares of a raster that hold ground which may be a skyline from some stand.

    Parameters
    ----------
    scene : Scene
    raster : Elevation
        The surface that is looked over: the ground, or the tops of what stands on it.
    ground : Elevation
        What the stands stand on.
    fan : Fan

    Returns
    -------
    list of set of (int, int)
        Rows and columns of the squares, for each of `EYE_HEIGHTS_M` its own.
    """
    eyes = _eyes(scene, raster, ground, fan)
    found: list[set[tuple[int, int]]] = [set() for _ in EYE_HEIGHTS_M]
    top, bottom, left, right = _window(scene, raster, fan)
    if bottom - top < 2 or right - left < 2:
        return found
    strip = max(SIDE, STRIP_CELLS // (right - left) // SIDE * SIDE)
    for first in range(top, bottom, strip):
        last = min(first + strip + 1, bottom)
        window = raster.window_m(slice(first, last), slice(left, right))
        more = _squares_in(window, (first, left), scene, raster.grid, eyes)
        found = [had | new for had, new in zip(found, more, strict=True)]
    return found


class _Eyes(NamedTuple):
    """Eyes behind the subject: by direction (a,), distance (e,) and height (h,).

    ``azimuth_deg`` (a,), ``away_m`` (e,), ``offset_deg``, ``height_m`` above sea level and
    ``least_tangent`` of the skyline there and near by, both (a, e, h); ``wide_tangent`` is the
    least within `WIDE_DEG` to either side.
    """

    azimuth_deg: Floats
    away_m: Floats
    offset_deg: float
    height_m: Floats
    least_tangent: Floats
    wide_tangent: Floats


def _eyes(scene: Scene, raster: Elevation, bare: Elevation, fan: Fan) -> _Eyes:
    azimuth = fan.azimuth_deg
    away = np.geomspace(4.0, fan.reach_m, EYES)
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
    seen = raster.skylines(
        lat=lat, lon=lon, azimuths_deg=ray, eye_height_m=over, ground_m=level,
        max_distance_m=scene.reach_m, refraction_k=scene.refraction_k,
        min_distance_m=fan.least_m, to_the_last_bit=False,
    )  # fmt: skip
    altitude = seen.altitudes_deg.reshape(shape)
    step = float(azimuth[1] - azimuth[0])
    least, wide = (
        np.fmin.reduce([np.roll(altitude, k, axis=0) for k in range(-bins, bins + 1)])
        for bins in (2, 2 + math.ceil(WIDE_DEG / step))
    )
    return _Eyes(
        azimuth,
        away,
        fan.offset_deg,
        (level + over).reshape(shape),
        np.tan(np.radians(least - SPARE_DEG)),
        np.tan(np.radians(wide - SPARE_DEG)),
    )


def _window(scene: Scene, raster: Elevation, fan: Fan) -> tuple[int, int, int, int]:
    """Rows and columns that all rays lie between."""
    far = np.array([0.0, 0.25, 0.5, 0.75, 1.0]) * scene.reach_m
    end = point_along(
        lat=scene.subject.lat, lon=scene.subject.lon,
        azimuth_deg=fan.azimuth_deg[:, None], distance_m=far,
    )  # fmt: skip
    pixels = raster.grid.pixels(lat=end.lat, lon=end.lon)
    found = []
    for at, size in zip(pixels, raster.shape, strict=True):
        low = np.clip(np.nanmin(at) - SIDE, 0, size)
        high = np.clip(np.nanmax(at) + SIDE + 1, 0, size)
        found += [int(low) // SIDE * SIDE, int(high)]
    return found[0], found[1], found[2], found[3]


def _squares_in(
    window: NDArray[np.floating], corner: tuple[int, int], scene: Scene, grid: Grid, eyes: _Eyes
) -> list[set[tuple[int, int]]]:
    """Squares of a strip of the raster with a pixel that stands as high as some skyline."""
    rows, cols = np.nonzero(_worth_a_look(window, corner, scene, grid, eyes))
    found: list[set[tuple[int, int]]] = [set() for _ in EYE_HEIGHTS_M]
    if not rows.size:
        return found
    place = grid.places(row=rows + corner[0], col=cols + corner[1])
    away, azimuth = polar(scene, place.lat, place.lon)
    z = window[rows, cols].astype(np.float64)
    for h, own in enumerate(found):
        high = np.zeros(z.shape, dtype=bool)
        for e in range(EYES):
            tangent, least = _tangents(z, away, azimuth, eyes, (e, h), scene.refraction_k)
            high |= tangent >= least
        r, c = rows[high] + corner[0], cols[high] + corner[1]
        # A pixel is a corner of four cells, which may lie in as many squares.
        for down in (0, 1):
            for over in (0, 1):
                i, j = (r - down) // SIDE, (c - over) // SIDE
                keep = (i >= 0) & (j >= 0)
                own |= set(zip(i[keep].tolist(), j[keep].tolist(), strict=True))
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
    away, azimuth = polar(scene, middle.lat, middle.lon)
    half = 0.75 * SIDE * max(grid.steps_m)
    low, high = float(eyes.azimuth_deg[0]) - WIDE_DEG, float(eyes.azimuth_deg[-1]) + WIDE_DEG
    turned = np.abs(wrap_180_deg(azimuth - eyes.offset_deg - 0.5 * (low + high)))
    near = away * math.sin(math.radians(WIDE_DEG)) <= half
    # Beside the subject every block counts; farther out those before which the target passes.
    there = near | (
        (away - half <= scene.reach_m) & (turned <= 0.5 * (high - low) + abs(eyes.offset_deg))
    )
    i, j, near = i[there], j[there], near[there]
    away, azimuth = away[there], azimuth[there]
    live = near.copy()
    z, wide = highest[i, j].astype(np.float64), eyes._replace(least_tangent=eyes.wide_tangent)
    azimuth = np.clip(wrap_180_deg(azimuth - 0.5 * (low + high)) + 0.5 * (low + high), low, high)
    inside = np.clip(azimuth, eyes.azimuth_deg[0], eyes.azimuth_deg[-1])
    for which in np.ndindex(eyes.height_m.shape[1:]):
        left = np.flatnonzero(~live)
        for distance in (np.maximum(away - half, 1.0), away + half):
            tangent, least = _tangents(
                z[left], distance[left], inside[left], wide, which, scene.refraction_k
            )
            live[left] |= ~(tangent < least)
    kept = np.zeros(highest.shape, dtype=bool)
    kept[i[live], j[live]] = True
    every = np.repeat(np.repeat(kept, SIDE, axis=0), SIDE, axis=1)[:rows, :cols]
    return np.asarray(every & np.isfinite(window))


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


def polar(scene: Scene, lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
    """Distance and azimuth from the subject on a sphere, good to half a per cent."""
    subject = scene.subject
    phi0, phi = math.radians(subject.lat), np.radians(lat)
    turn = np.radians(wrap_180_deg(lon - subject.lon))
    east = np.cos(phi) * np.sin(turn)
    north = math.cos(phi0) * np.sin(phi) - math.sin(phi0) * np.cos(phi) * np.cos(turn)
    up = math.sin(phi0) * np.sin(phi) + math.cos(phi0) * np.cos(phi) * np.cos(turn)
    away = MEAN_EARTH_RADIUS_M * np.arctan2(np.hypot(east, north), up)
    return np.maximum(away, 1.0), np.degrees(np.arctan2(east, north))
