"""Contour lines of a grid, simplified and packed small, and where to write their heights."""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.numbers import rounded

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.drawing.mercator import Floats, MercatorGrid

INTERVALS_M = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
"""Contour intervals that a map may have; every fifth line is an index contour."""

UNITS_PER_PX = 8
"""Packed coordinates are whole eighths of a picture pixel."""

TOLERANCE_PX = 0.4
"""How far a simplified line may leave the contour, picture pixels."""

SHORTEST_PX = 6.0
"""Lines shorter than this are specks and are left out, picture pixels."""


@dataclass(frozen=True, slots=True)
class Contours:
    """All contours of a grid.

    Attributes
    ----------
    interval_m : float
        Height between neighbouring lines.
    lines : dict of float to list of ndarray
        For each height the lines as (column, row) of pixel centres, shape ``(n, 2)``.
    """

    interval_m: float
    lines: dict[float, list[Floats]]

    def is_index(self, height_m: float) -> bool:
        """Whether a line is one of every fifth, drawn heavier and labelled."""
        return round(height_m / self.interval_m) % 5 == 0


def choose_interval_m(relief_m: float, *, lines: int) -> float:
    """Smallest of :data:`INTERVALS_M` that makes at most so many lines of a height range."""
    for interval in INTERVALS_M:
        if relief_m / interval <= lines:
            return interval
    return INTERVALS_M[-1] * 5.0


def contour(
    grid: MercatorGrid, *, lines: int = 0, interval_m: float | None = None, stride: int = 1
) -> Contours:
    """Draw contours on a grid: at asked steps, or at most about so many lines in all.

    Lines end where the ground is unknown. With a ``stride`` only every so many rows
    and columns are read.
    """
    sparse = grid.heights_m[::stride, ::stride]
    known = np.isfinite(sparse)
    if not known.any():
        return Contours(INTERVALS_M[0], {})
    low, high = float(np.nanmin(sparse)), float(np.nanmax(sparse))
    interval = interval_m or choose_interval_m(high - low, lines=lines)
    from contourpy import LineType, contour_generator

    heights = np.ma.masked_array(sparse, mask=~known)
    generator = contour_generator(z=heights, name="serial", line_type=LineType.Separate)
    found: dict[float, list[Floats]] = {}
    for step in range(math.ceil(low / interval), math.floor(high / interval) + 1):
        every = [np.asarray(line) * stride for line in generator.lines(step * interval)]
        rough = [line for line in every if _length(line) > SHORTEST_PX]
        found[step * interval] = _simplified(rough)
    return Contours(interval, found)


def _simplified(lines: list[Floats]) -> list[Floats]:
    if not lines:
        return []
    import shapely

    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    shapes = shapely.linestrings(np.concatenate(lines), indices=owner)
    thin = shapely.simplify(shapes, TOLERANCE_PX, preserve_topology=False)
    points, owner = shapely.get_coordinates(thin, return_index=True)
    return np.split(points, np.flatnonzero(np.diff(owner)) + 1)


def _length(line: Floats) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def pack(lines: list[Floats]) -> str:
    """Pack lines as base64: for each a count and a start (uint16), then byte steps.

    Coordinates are eighths of a pixel from the corner of the grid; a step longer
    than a signed byte is split, so that the drawn line stays the same.
    """
    blob = bytearray()
    for line in lines:
        points = np.rint((line + 0.5) * UNITS_PER_PX).astype(np.int64)
        steps = _byte_steps(np.diff(points, axis=0))
        for start in range(0, len(steps), 60_000):
            origin = points[0] + steps[:start].sum(axis=0)
            part = steps[start : start + 60_000]
            blob += np.array([len(part), *origin], dtype="<u2").tobytes()
            blob += part.astype(np.int8).tobytes()
    return base64.b64encode(bytes(blob)).decode("ascii")


def unpack(text: str) -> list[Floats]:
    """Undo :func:`pack`: lines as (column, row) of pixel centres."""
    blob, at, lines = base64.b64decode(text), 0, []
    while at < len(blob):
        count, x, y = np.frombuffer(blob, dtype="<u2", count=3, offset=at).astype(np.int64)
        steps = np.frombuffer(blob, dtype=np.int8, count=2 * count, offset=at + 6)
        points = np.vstack([[[0, 0]], np.cumsum(steps.reshape(-1, 2), axis=0, dtype=np.int64)])
        lines.append((points + np.array([x, y])) / UNITS_PER_PX - 0.5)
        at += 6 + 2 * int(count)
    return lines


def _byte_steps(steps: NDArray[np.int64]) -> NDArray[np.int64]:
    """Split steps that do not fit in a signed byte into whole parts that do."""
    parts = np.maximum(1, -(-np.abs(steps).max(axis=1) // 127))
    whole = np.repeat(steps, parts, axis=0)
    n = np.repeat(parts, parts)[:, None]
    first = np.repeat(np.cumsum(parts) - parts, parts)
    k = (np.arange(len(whole)) - first)[:, None]
    # Floor division telescopes: the parts add up to the step exactly.
    parted: NDArray[np.int64] = whole * (k + 1) // n - whole * k // n
    return parted


def height_labels(
    grid: MercatorGrid, contours: Contours, *, every: bool = False, apart_px: float = 90.0
) -> list[tuple[float, float, float, int]]:
    """Where to write the heights of index contours, or of ``every`` contour.

    Returns
    -------
    list of (lat, lon, turn_deg, height_m)
        Straightest places first; ``turn_deg`` is clockwise, from -90 to 90, so that
        the figures never stand on their head.
    """
    labels = []
    for _, column, row, turn, height in label_spots(contours, every=every, apart_px=apart_px):
        lat, lon = grid.place(column, row)
        labels.append((rounded(float(lat), 6), rounded(float(lon), 6), rounded(turn, 1), height))
    return labels


def label_spots(
    contours: Contours, *, every: bool = False, apart_px: float = 90.0
) -> list[tuple[float, float, float, float, int]]:
    """Find places along contours for their heights.

    Returns
    -------
    list of (bend, column, row, turn_deg, height_m)
        As `height_labels`, in picture pixels; ``bend`` is 0 where the line is straight.
    """
    found: list[tuple[float, float, float, float, int]] = []
    for height_m, lines in contours.lines.items():
        if not (every or contours.is_index(height_m)):
            continue
        for line in lines:
            found += [(*spot, round(height_m)) for spot in _straight_spots(line, apart_px)]
    return sorted(found, key=lambda spot: spot[0])


def _straight_spots(line: Floats, apart_px: float) -> list[tuple[float, float, float, float]]:
    """Spots along a line with how much it bends there (0 is straight) and its turn."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    length, half = along[-1], 9.0
    if length < 5.0 * half:
        return []
    spots = []
    n = max(1, round(length / apart_px))
    for k in range(n):
        options = []
        for nudge in (-0.3, -0.15, 0.0, 0.15, 0.3):
            at = min(max((k + 0.5 + nudge) * length / n, half), length - half)
            x, y = (np.interp([at - half, at, at + half], along, line[:, axis]) for axis in (0, 1))
            bend = 1.0 - math.hypot(x[2] - x[0], y[2] - y[0]) / (2.0 * half)
            turn = math.degrees(math.atan2(y[2] - y[0], x[2] - x[0]))
            turn = (turn + 90.0) % 180.0 - 90.0
            options.append((bend, float(x[1]), float(y[1]), turn))
        spots.append(min(options))
    return spots


def packed(grid: MercatorGrid, contours: Contours) -> dict[str, Any]:
    """Contours as the page reads them: grid placement, and packed lines by weight."""
    heavy = [h for h in contours.lines if contours.is_index(h)]
    light = [h for h in contours.lines if not contours.is_index(h)]
    return {
        "west": grid.west_m,
        "north": grid.north_m,
        "unit": grid.step_m / UNITS_PER_PX,
        "interval_m": contours.interval_m,
        "index": pack([line for h in heavy for line in contours.lines[h]]),
        "plain": pack([line for h in light for line in contours.lines[h]]),
    }
