"""Which pieces of a large raster the rays of a skyline cross, and how far off."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.march import Sight
    from backbearing.terrain.rays import Rays


class Piece(NamedTuple):
    """A piece's place among the pieces, the rays that may cross it, its least distance."""

    place: tuple[int, int]
    rays: NDArray[np.int64]
    nearest_m: float


def pieces_met(chunks: Chunks, rays: Rays, sight: Sight, shape: tuple[int, int]) -> Iterator[Piece]:
    """Give the pieces of the raster that some ray may cross, nearest first.

    Each ray is followed in strides of a quarter of a piece; a stride counts for every
    piece that the box around it touches, so that none is missed.
    """
    everyone = np.arange(len(rays.rows))
    if chunks.count == (1, 1):
        yield Piece((0, 0), everyone, float(sight.nodes_m[0]))
        return
    s, number = _strides(chunks, rays, sight, shape)
    across = chunks.count[1]
    ray = np.broadcast_to(everyone[:, None], s[:, 1:].shape)
    touched = [
        np.stack([rows * across + cols, ray, s[:, :-1]]).reshape(3, -1)
        for rows in (number[0][:, :-1], number[0][:, 1:])
        for cols in (number[1][:, :-1], number[1][:, 1:])
    ]
    piece, of_ray, begin = np.concatenate(touched, axis=1)
    met = []
    for one in np.unique(piece):
        here = piece == one
        crossing = np.unique(of_ray[here]).astype(np.int64)
        met.append(Piece(divmod(int(one), across), crossing, float(begin[here].min())))
    yield from sorted(met, key=lambda found: found.nearest_m)


def _strides(
    chunks: Chunks, rays: Rays, sight: Sight, shape: tuple[int, int]
) -> tuple[NDArray[np.float64], list[NDArray[np.float64]]]:
    """Distances along each ray, shape (n, m), and the pieces' rows and columns there."""
    speed = np.hypot(rays.rows[:, 1], rays.cols[:, 1]).max() / rays.reach_m
    stride = min(chunks.step) / (4.0 * speed)
    stops = np.append(np.arange(sight.nodes_m[0], sight.nodes_m[-1], stride), np.inf)
    s = np.minimum(stops[None, :], sight.ends_m[:, None])
    number = []
    for path, cells, count, step in zip(
        (rays.rows, rays.cols), shape, chunks.count, chunks.step, strict=True
    ):
        along = np.zeros_like(s)
        for k in range(path.shape[1] - 1, -1, -1):
            along = along * (s / rays.reach_m) + path[:, k, None]
        inside = np.clip(along, 0.0, cells - 1.0)
        number.append(np.minimum(inside // step, count - 1.0))
    return s, number
