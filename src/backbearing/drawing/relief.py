"""The ground as a picture: soft shading from several lights, in quiet tones.

Unknown ground is fully transparent, so that the page's "unknown" hatching shows
through; it is never drawn as a height.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.drawing.mercator import blurred
from backbearing.drawing.palette import RELIEF_HIGH, RELIEF_LOW, RELIEF_MIDDLE, RELIEF_SHADOW

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.drawing.mercator import Box, MercatorGrid, Reals

LIGHTS = ((315.0, 0.46), (270.0, 0.22), (0.0, 0.22), (225.0, 0.10))
"""Azimuths of the lights, degrees, and their weights; each stands 45 degrees high."""

STEEPEN = 1.6
"""Slopes are drawn this much steeper, so that gentle ground still reads."""


@dataclass(frozen=True, slots=True)
class ReliefPicture:
    """A picture to lay over the map: WebP bytes and its outer edges."""

    webp: bytes
    box: Box

    @property
    def data_uri(self) -> str:
        """The picture as text for a page."""
        return "data:image/webp;base64," + base64.b64encode(self.webp).decode("ascii")


def relief_picture(
    grid: MercatorGrid,
    *,
    soften_px: float = 1.0,
    quality: int = 82,
    like: MercatorGrid | None = None,
) -> ReliefPicture:
    """Shade a grid.

    Parameters
    ----------
    grid : MercatorGrid
        Heights; NaN becomes transparent.
    soften_px : float
        Smoothing before the fine shading, standard deviation in pixels.
    quality : int
        WebP quality, 0 to 100.
    like : MercatorGrid, optional
        Another grid whose range of heights sets the tones, so that pictures match.
    """
    from PIL import Image

    known = np.isfinite(grid.heights_m)
    rgb = relief_tones(grid, height_span_m(like or grid), soften_px=soften_px)
    if known.all():
        image = Image.fromarray(rgb, "RGB")
    else:
        alpha = np.where(known, 255, 0).astype(np.uint8)
        image = Image.fromarray(np.dstack([rgb, alpha]), "RGBA")
    stream = io.BytesIO()
    image.save(stream, "WEBP", quality=quality, method=3)
    return ReliefPicture(stream.getvalue(), grid.box)


def shade(heights_m: Reals, step_m: Reals) -> Reals:
    """Light on a surface from several sides, about 0.707 on level ground.

    Lambert's cosine for each of :data:`LIGHTS`, weighted; shape as the heights.
    """
    south, east = np.gradient(heights_m)
    p, q = STEEPEN * east / step_m, -STEEPEN * south / step_m
    norm = np.sqrt(1.0 + p * p + q * q)
    light = np.zeros_like(heights_m)
    for azimuth_deg, weight in LIGHTS:
        a = math.radians(azimuth_deg)
        cosine = 1.0 - p * math.sin(a) - q * math.cos(a)
        light += weight * np.maximum(cosine, 0.0)
    lit: Reals = light / (norm * math.sqrt(2.0))
    return lit


def height_span_m(grid: MercatorGrid) -> tuple[float, float]:
    """Low and high ground of a grid, metres, its extremes left aside."""
    some = grid.heights_m[::4, ::4]
    if not np.isfinite(some).any():
        return 0.0, 0.0
    low, high = (float(v) for v in np.nanpercentile(some, [2.0, 98.0]))
    return low, high


def relief_tones(
    grid: MercatorGrid,
    span_m: tuple[float, float],
    *,
    soften_px: float = 1.0,
    broad_stride: int = 1,
) -> NDArray[np.uint8]:
    """Colours of a grid's pixels, shape ``(rows, cols, 3)``; black where nothing is known.

    Parameters
    ----------
    grid : MercatorGrid
    span_m : tuple of float
        Low and high ground, which set the tones.
    soften_px : float
        As in `relief_picture`.
    broad_stride : int
        The broad shading is worked out for every so many pixels: it changes slowly.
    """
    known = np.isfinite(grid.heights_m)
    if not known.any():
        return np.zeros((*known.shape, 3), dtype=np.uint8)
    heights = grid.heights_m.astype(np.float32)
    low, high = span_m
    fine = np.nan_to_num(blurred(heights, soften_px), nan=low)
    step = grid.ground_step_m.astype(np.float32)
    sparse, n = heights[::broad_stride, ::broad_stride], broad_stride
    broad = np.nan_to_num(blurred(sparse, 5.0 * soften_px / n), nan=low)
    slow = shade(broad, step[::n] * n)
    if n > 1:
        slow = slow.repeat(n, axis=0)[: len(fine)].repeat(n, axis=1)[:, : fine.shape[1]]
    light = 0.65 * shade(fine, step) + 0.35 * slow
    climb = np.clip((fine - low) / max(high - low, 50.0), 0.0, 1.0)
    # Distance mutes contrast: valleys are drawn softer than the heights.
    off = (light - math.sqrt(0.5)) * (0.75 + 0.45 * climb)
    # tanh keeps form in the deepest shade and on the brightest side, where a limit
    # would leave flat patches.
    dark = (0.62 * np.tanh(np.maximum(-off, 0.0) * 2.8))[..., None]
    bright = (0.75 * np.tanh(np.maximum(off, 0.0) * 2.4))[..., None]
    toned = _between(climb)
    toned += (np.array(RELIEF_SHADOW, np.float32) - toned) * dark
    toned += (np.float32(255.0) - toned) * bright
    return np.asarray(toned + np.float32(0.5), dtype=np.uint8)


def _between(climb: Reals) -> Reals:
    """Blend the three ground tones by height, shape ``(rows, cols, 3)``."""
    low, middle, high = (np.array(c, np.float32) for c in (RELIEF_LOW, RELIEF_MIDDLE, RELIEF_HIGH))
    first = np.clip(climb * 2.0, 0.0, 1.0)[..., None]
    second = np.clip(climb * 2.0 - 1.0, 0.0, 1.0)[..., None]
    blend: Reals = low + (middle - low) * first + (high - middle) * second
    return blend
