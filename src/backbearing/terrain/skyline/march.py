"""The skyline along sight lines over one piece of a raster, in plain numpy.

Rays are first cut at the lines of blocks of 8 x 8 cells. Where even a block's highest pixel cannot
rise above ground that the ray is known to meet, the block is passed over; in the others every cell
crossed is solved, as in ``crossing``. The compiled kernel in ``_march_kernels`` gives the same
answer; this march stays beside it because it serves a fan or a whole night's stands in less time
than loading the kernel takes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.chunks import BLOCK
from backbearing.terrain.skyline.crossing import rise_in_cell, tangents_in_cell

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunk
    from backbearing.terrain.reading.sources import Heights
    from backbearing.terrain.skyline.chords import Chords
    from backbearing.terrain.skyline.ray_bundle import Bundle
    from backbearing.terrain.skyline.sightings import Sightings

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

BATCH = 400_000
"""Cells crossed that are worked on at a time, to bound memory."""

ROUNDING = 1e-9
"""By how much a tangent of a block may fall short of one found and still be looked into."""

CHORDS = 30
"""Chords to a ray, roughly."""

PLAIN_UP_TO = 8_000_000
"""Cells crossed in plain numpy (1.2 s) before the kernel is loaded (0.7 s; 5 s at first)."""


def compiled_pays(cells: float) -> bool:
    """Tell whether so many cells, crossed on one raster so far, are worth the compiled kernel.

    Whether it is loaded already does not count: the two ways differ in the last bits, and the
    same questions of a raster just opened must give the same bytes in any process.
    """
    return cells > PLAIN_UP_TO


def march(chunk: Chunk, bundle: Bundle, which: Ints, seen: Sightings) -> None:
    """Look along some rays over one piece of the raster, and note what stands higher."""
    per_ray = np.abs(bundle.rows[which, 1]) + np.abs(bundle.cols[which, 1])
    cells = float((per_ray * bundle.ends_m[which] / bundle.reaches_m[which]).max(initial=0.0))
    step = max(1, int(BATCH / (cells + CHORDS)))
    for start in range(0, len(which), step):
        _march_some(chunk, bundle, which[start : start + step], seen)


def _march_some(chunk: Chunk, bundle: Bundle, which: Ints, seen: Sightings) -> None:
    ray, ends = _segments(chunk, bundle.chords(which))
    if ray.size == 0:
        return
    of_ray = which[ray]
    if np.isfinite(seen.tangent[which]).all():
        segment, ends = _over_coarse_blocks(chunk, bundle, of_ray, ends, seen)
        ray, of_ray = ray[segment], of_ray[segment]
    ray, ends = _worth_a_look(chunk, bundle, (ray, of_ray), ends, seen)
    s, row, col, segment = _crossings(ends)
    same = np.flatnonzero((segment[1:] == segment[:-1]) & (s[1:] > s[:-1]))
    if same.size == 0:
        return
    of_ray = which[ray[segment[same]]]
    near, far = s[same], s[same + 1]
    tangent, at, known = _highest_in_cells(
        chunk.heights_m,
        bundle.eyes_m[of_ray],
        bundle.drop_per_m2,
        (near, far),
        (row[same], row[same + 1]),
        (col[same], col[same + 1]),
    )
    _note(seen, of_ray, tangent, at)
    blind = ~known
    np.add.at(seen.unknown_m, of_ray[blind], (far - near)[blind])
    np.minimum.at(seen.unknown_from_m, of_ray[blind], near[blind])


def _segments(chunk: Chunk, chords: Chords) -> tuple[Ints, tuple[Floats, ...]]:
    """Parts of chords within the chunk: their ray, and s, row, col at both ends."""
    s = chords.s_m
    row = chords.row_near - chunk.row0, chords.row_far - chunk.row0
    col = chords.col_near - chunk.col0, chords.col_far - chunk.col0
    rows, cols = chunk.heights_m.shape
    low, high = np.zeros_like(row[0]), np.ones_like(row[0])
    with np.errstate(divide="ignore", invalid="ignore"):
        for path, last in ((row, rows - 1), (col, cols - 1)):
            run = path[1] - path[0]
            a, b = (0.0 - path[0]) / run, (last - path[0]) / run
            level = run == 0.0
            away = level & ((path[0] < 0.0) | (path[0] > last))
            low = np.where(level, low, np.maximum(low, np.minimum(a, b)))
            high = np.where(away, -1.0, np.where(level, high, np.minimum(high, np.maximum(a, b))))
    ray, piece = np.nonzero((s[:, 1:] > s[:, :-1]) & (high > low))
    low, high = low[ray, piece], high[ray, piece]

    def at(path: tuple[Floats, Floats], share: Floats) -> Floats:
        near = path[0][ray, piece]
        out: Floats = near + share * (path[1][ray, piece] - near)
        return out

    paths = ((s[:, :-1], s[:, 1:]), row, col)
    return ray, tuple(at(path, share) for path in paths for share in (low, high))


def _over_coarse_blocks(
    chunk: Chunk, bundle: Bundle, of_ray: Ints, ends: tuple[Floats, ...], seen: Sightings
) -> tuple[Ints, tuple[Floats, ...]]:
    """Parts of segments within blocks of 8 x 8 blocks that may rise above what the rays have met.

    Also the segment of each.
    """
    side = BLOCK * BLOCK
    s, row, col, segment = _crossings((*ends[:2], *(path / side for path in ends[2:])))
    piece = np.flatnonzero((segment[1:] == segment[:-1]) & (s[1:] > s[:-1]))
    near, far = s[piece], s[piece + 1]
    ray = of_ray[segment[piece]]
    at_most = _at_most(chunk.blocks[1], (near, far), (row, col), piece, bundle, ray)
    piece = piece[at_most >= seen.tangent[ray] - ROUNDING]
    kept = (s[piece], s[piece + 1], *(side * v[piece + k] for v in (row, col) for k in (0, 1)))
    return segment[piece], kept


def _at_most(
    tops: NDArray[np.float32],
    between: tuple[Floats, Floats],
    paths: tuple[Floats, Floats],
    piece: Ints,
    bundle: Bundle,
    of_ray: Ints,
) -> Floats:
    """Highest tangent that a block's ground can have on the way through it.

    ``tops`` are the blocks' highest pixels, ``paths`` rows and columns counted in blocks.
    """
    near, far = between
    i, j = (
        np.clip(np.floor((path[piece] + path[piece + 1]) / 2.0), 0, count - 1).astype(np.int64)
        for path, count in zip(paths, tops.shape, strict=True)
    )
    rise, drop = tops[i, j] - bundle.eyes_m[of_ray], bundle.drop_per_m2
    crest = np.clip(np.sqrt(np.maximum(-rise, 0.0) / drop), near, far)
    return np.asarray(rise / crest - drop * crest)


def _worth_a_look(
    chunk: Chunk, bundle: Bundle, rays: tuple[Ints, Ints], ends: tuple[Floats, ...], seen: Sightings
) -> tuple[Ints, tuple[Floats, ...]]:
    """Parts of segments within blocks that may hold a skyline, or a void.

    ``rays`` says of each segment the place of its ray in this batch, and in the bundle.
    """
    s0, s1, r0, r1, c0, c1 = ends
    blocks = tuple(path / BLOCK for path in (r0, r1, c0, c1))
    s, row, col, segment = _crossings((s0, s1, *blocks))
    piece = np.flatnonzero((segment[1:] == segment[:-1]) & (s[1:] > s[:-1]))
    if piece.size == 0:
        return rays[0][:0], tuple(path[:0] for path in ends)
    ray, of_ray = (numbers[segment[piece]] for numbers in rays)
    near, far = s[piece], s[piece + 1]
    row0, row1, col0, col1 = row[piece], row[piece + 1], col[piece], col[piece + 1]
    at_most = _at_most(chunk.blocks[0], (near, far), (row, col), piece, bundle, of_ray)
    at_least = seen.tangent
    if np.isneginf(at_least[of_ray]).any():
        eye, drop = bundle.eyes_m[of_ray], bundle.drop_per_m2
        middle = (near + far) / 2.0
        place = (row0 + row1) / 2.0 * BLOCK, (col0 + col1) / 2.0 * BLOCK
        met = (_height(chunk.heights_m, *place) - eye) / middle - drop * middle
        at_least = at_least.copy()
        np.fmax.at(at_least, of_ray, met)
    live = at_most >= at_least[of_ray] - ROUNDING
    kept = (near, far, *(BLOCK * path for path in (row0, row1, col0, col1)))
    return ray[live], tuple(path[live] for path in kept)


def _height(z: Heights, row: Floats, col: Floats) -> Floats:
    """Height of the bilinear surface at places within a piece of the raster."""
    i = np.clip(np.floor(row), 0, z.shape[0] - 2).astype(np.int64)
    j = np.clip(np.floor(col), 0, z.shape[1] - 2).astype(np.int64)
    down, across = row - i, col - j
    upper = z[i, j] + across * (z[i, j + 1].astype(np.float64) - z[i, j])
    lower = z[i + 1, j] + across * (z[i + 1, j + 1].astype(np.float64) - z[i + 1, j])
    height: Floats = upper + down * (lower - upper)
    return height


def _crossings(ends: tuple[Floats, ...]) -> tuple[Floats, Floats, Floats, Ints]:
    """Cut segments at every row and column line; s, row, col, segment, in order."""
    s0, s1, r0, r1, c0, c1 = ends
    number = np.arange(len(s0))
    shares, segments = [np.zeros(len(s0)), np.ones(len(s0))], [number, number]
    for a, b in ((r0, r1), (c0, c1)):
        first = np.floor(np.minimum(a, b)) + 1.0
        count = np.maximum(np.ceil(np.maximum(a, b)) - first, 0.0).astype(np.int64)
        segment = np.repeat(number, count)
        nth = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
        line = first[segment] + nth
        shares.append((line - a[segment]) / (b - a)[segment])
        segments.append(segment)
    share, segment = np.concatenate(shares), np.concatenate(segments)
    order = np.lexsort((share, segment))
    share, segment = share[order], segment[order]
    s, row, col = (a[segment] + share * (b - a)[segment] for a, b in ((s0, s1), (r0, r1), (c0, c1)))
    return s, row, col, segment


def _highest_in_cells(
    z: Heights,
    eye: Floats,
    drop: float,
    s: tuple[Floats, Floats],
    row: tuple[Floats, Floats],
    col: tuple[Floats, Floats],
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Highest tangent within each cell crossed, where it stands, and whether it is known."""
    i = np.clip(np.floor((row[0] + row[1]) / 2), 0, z.shape[0] - 2).astype(np.int64)
    j = np.clip(np.floor((col[0] + col[1]) / 2), 0, z.shape[1] - 2).astype(np.int64)
    corners = (z[i, j].astype(np.float64), z[i + 1, j], z[i, j + 1], z[i + 1, j + 1])
    near, far = s
    length = far - near
    run = (row[1] - row[0]) / length, (col[1] - col[0]) / length
    way = rise_in_cell(corners, (row[0] - i, col[0] - j), run, eye)
    with np.errstate(invalid="ignore", divide="ignore"):
        enters, leaves, highest, top = tangents_in_cell(way, near, length, drop)
    ends = np.maximum(enters, leaves)
    known = ~np.isnan(ends)
    at = np.where(highest > ends, top, np.where(enters >= leaves, near, far))
    return np.where(known, np.fmax(ends, highest), -np.inf), at, known


def _note(seen: Sightings, of_ray: Ints, tangent: Floats, at: Floats) -> None:
    """Keep the highest tangent of each ray; cells come in order of rays and distance."""
    starts = np.flatnonzero(np.diff(of_ray, prepend=-1))
    ray = of_ray[starts]
    best = np.maximum.reduceat(tangent, starts)
    is_best = np.flatnonzero(tangent == np.repeat(best, np.diff(starts, append=len(of_ray))))
    _, first = np.unique(of_ray[is_best], return_index=True)
    where = at[is_best[first]]
    higher = best > seen.tangent[ray]
    seen.tangent[ray[higher]] = best[higher]
    seen.distance_m[ray[higher]] = where[higher]
