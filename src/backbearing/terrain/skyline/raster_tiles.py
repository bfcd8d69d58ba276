"""Look along rays over the pieces of a raster that they cross, nearest first."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.terrain.skyline.march import march
from backbearing.terrain.skyline.ray_bundle import march_compiled
from backbearing.terrain.skyline.sightings import Sightings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.skyline.ray_bundle import Bundle

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


class Piece(NamedTuple):
    """A piece's place among the pieces, the rays that may cross it, its least distance."""

    place: tuple[int, int]
    rays: Ints
    nearest_m: float


def look_along(
    chunks: Chunks,
    bundle: Bundle,
    shape: tuple[int, int],
    *,
    compiled: bool,
    above_deg: Floats | None = None,
) -> tuple[Sightings, Floats]:
    """Look along all rays over every piece they cross; also the highest ground there, (n,).

    Pieces that were read before are passed over when nothing in them can rise above the
    skylines found, or above ``above_deg``, (n,), NaN for none.
    """
    look_over = march_compiled if compiled else march
    n = len(bundle.rows)
    seen, highest = Sightings.none_yet(n, above_deg), np.full(n, -np.inf)
    for place, crossing, nearest in pieces_met(chunks, bundle, shape):
        ceiling = chunks.ceiling_m(*place)
        if ceiling < np.inf:
            highest[crossing] = np.maximum(highest[crossing], ceiling)
            if _stays_below(ceiling, bundle, crossing, nearest, seen.tangent[crossing]):
                continue
        chunk = chunks.at(*place)
        look_over(chunk, bundle, crossing, seen)
        highest[crossing] = np.maximum(highest[crossing], chunk.highest_m)
    return seen, highest


def _stays_below(
    ceiling_m: float, bundle: Bundle, which: Ints, nearest_m: float, tangent: Floats
) -> bool:
    """Tell that ground no higher than a ceiling stays below all the skylines from there on."""
    rise, drop = ceiling_m - bundle.eyes_m[which], bundle.drop_per_m2
    crest = np.sqrt(np.maximum(-rise, 0.0) / drop)
    s = np.where(rise >= 0.0, nearest_m, np.maximum(nearest_m, crest))
    return bool((rise / s - drop * s < tangent).all())


def pieces_met(chunks: Chunks, bundle: Bundle, shape: tuple[int, int]) -> Iterator[Piece]:
    """Give the pieces of the raster that some ray may cross, nearest first.

    Each ray is followed in strides of a quarter of a piece; a stride counts for every
    piece that the box around it touches, so that none is missed.
    """
    everyone = np.arange(len(bundle.ends_m))
    if chunks.count == (1, 1):
        yield Piece((0, 0), everyone, float(bundle.starts_m.min()))
        return
    s, number = _strides(chunks, bundle, shape)
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


def _strides(chunks: Chunks, bundle: Bundle, shape: tuple[int, int]) -> tuple[Floats, list[Floats]]:
    """Distances along each ray, shape (n, m), and the pieces' rows and columns there.

    Each ray has strides of its own, so that the pieces it may cross do not depend on others.
    """
    starts_m, ends_m = bundle.starts_m, bundle.ends_m
    speed = np.hypot(bundle.rows[:, 1], bundle.cols[:, 1]) / bundle.reaches_m
    stride = min(chunks.step) / (4.0 * speed)
    most = int(np.ceil(((ends_m - starts_m) / stride).max(initial=0.0))) + 1
    stops = starts_m[:, None] + stride[:, None] * np.arange(max(most, 1) + 1)
    s = np.minimum(stops, np.maximum(starts_m, ends_m)[:, None])
    number = []
    for path, cells, count, step in zip(
        (bundle.rows, bundle.cols), shape, chunks.count, chunks.step, strict=True
    ):
        along = np.zeros_like(s)
        for k in range(path.shape[1] - 1, -1, -1):
            along = along * (s / bundle.reaches_m[:, None]) + path[:, k, None]
        inside = np.clip(along, 0.0, cells - 1.0)
        number.append(np.minimum(inside // step, count - 1.0))
    return s, number
