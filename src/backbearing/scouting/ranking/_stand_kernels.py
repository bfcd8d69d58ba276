"""Compiled: distances of stands for many candidates, and what the ground does there.

The same trials, the same choice of root and the same false position as
``alignment/stand/solve.py``, one candidate after another. A candidate's surroundings are taken as
flat in rows and columns (``steps``: rows and columns for a metre east and a metre north).
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from numba import njit

_inlined = njit(cache=True, nogil=True, error_model="numpy", inline="always")
_compiled = njit(cache=True, nogil=True, error_model="numpy")

ANGLE: Final = 0
"""Fill an angle between base and top."""

LEVEL_HEIGHT: Final = 1
"""Fill a share of the frame's height with the axis level."""

WIDTH: Final = 2
"""Fill a share of the frame's width."""

POLISH_ROUNDS: Final = 60
EXACT: Final = 1e-10
NEWTON_STEPS: Final = 8
DEGREES: Final = 180.0 / math.pi


@_compiled
def height_at(z: Any, row: float, col: float) -> float:
    """Bilinear height at a fractional pixel of a window; NaN where unknown or open water."""
    rows, cols = z.shape
    if not (-1e-6 <= row <= rows - 1 + 1e-6 and -1e-6 <= col <= cols - 1 + 1e-6):
        return math.nan
    i = min(max(math.floor(row), 0), rows - 2)
    j = min(max(math.floor(col), 0), cols - 2)
    u = min(max(row - i, 0.0), 1.0)
    v = min(max(col - j, 0.0), 1.0)
    nearest = float(z[i + (1 if u > 0.5 else 0), j + (1 if v > 0.5 else 0)])
    if nearest == 0.0 and math.copysign(1.0, nearest) < 0.0:
        return math.nan
    total = 0.0
    for down in range(2):
        for across in range(2):
            weight = (u if down else 1.0 - u) * (v if across else 1.0 - v)
            if weight > 0.0:
                total += weight * float(z[i + down, j + across])
    return total


@_inlined
def _on_sensor(angle: float, focal: float, fisheye: bool) -> float:
    """Millimetres from the axis of an angle in radians in the plane of the axis."""
    return 2.0 * focal * math.sin(0.5 * angle) if fisheye else focal * math.tan(angle)


@_inlined
def _widest_up(away: float, distance: float, pitch: float, low: float, high: float) -> float:
    """Height over the eye at which a fisheye bends an upright side of a box farthest out.

    The projected distance of ``(half, up)`` from the middle is greatest where
    ``r^2 + r (distance cos pitch + up sin pitch)`` is least, with r the slant distance
    (from ``2 f sin(theta / 2)``); by Newton's rule, kept to the side.
    """
    up, level, sine = 0.0, distance * math.cos(pitch), math.sin(pitch)
    for _ in range(NEWTON_STEPS):
        r = math.hypot(away, up)
        forward = level + up * sine
        slope = 2.0 * up + up * forward / r + r * sine
        bend = 2.0 + forward * away * away / (r * r * r) + 2.0 * up * sine / r
        up -= slope / bend
    return min(max(up, low), high)


@_compiled
def width_mm(base: float, distance: float, pitch: float, subject: Any, optics: Any) -> float:
    """Width on the sensor between a box's outermost points; angles in radians."""
    tall, wide = subject[0], subject[1]
    focal, fisheye = optics[0], optics[1] > 0.0
    half = 0.5 * wide
    away = math.hypot(distance, half)
    most = 0.0
    foot = distance * math.tan(base)
    for k in range(3 if fisheye else 2):
        up = foot + (tall if k else 0.0)
        if k == 2:
            up = _widest_up(away, distance, pitch, foot, foot + tall)
        length = math.hypot(away, up)
        right, level, rise = half / length, distance / length, up / length
        forward = math.cos(pitch) * level + math.sin(pitch) * rise
        depth = math.sqrt(max(0.0, 0.5 * (1.0 + forward))) if fisheye else forward
        if depth <= 0.0:
            return math.nan
        most = max(most, right * focal / depth)
    return 2.0 * most


@_compiled
def excess(
    ground: float, distance: float, base_m: float, subject: Any, optics: Any, asked: Any
) -> Any:
    """How much larger than asked the subject looks from a distance, degrees or a share."""
    mode, eye, drop = int(asked[0]), asked[1], asked[2]
    rise = base_m - (ground + eye) - drop * distance * distance
    base = math.atan2(rise, distance)
    top = math.atan2(rise + subject[0], distance)
    if mode == ANGLE:
        return (top - base) * DEGREES - asked[3]
    focal, fisheye = optics[0], optics[1] > 0.0
    if mode == LEVEL_HEIGHT:
        tall = _on_sensor(top, focal, fisheye) - _on_sensor(base, focal, fisheye)
        return tall / optics[3] - asked[3]
    pitch = 0.0 if asked[4] > 0.0 else base - asked[5]
    return width_mm(base, distance, pitch, subject, optics) / optics[2] - asked[3]


@_compiled
def _polish(
    z: Any, origin: Any, run: Any, base_m: float, subject: Any, optics: Any, asked: Any,
    low: float, high: float, f_low: float, f_high: float,
) -> float:  # fmt: skip
    """Close in on a root by the Illinois rule [Dowell1971]_."""
    middle = low
    for _ in range(POLISH_ROUNDS):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        ground = height_at(z, origin[0] + middle * run[0], origin[1] + middle * run[1])
        f = excess(ground, middle, base_m, subject, optics, asked)
        if math.isnan(f):
            return math.nan
        if abs(f) < EXACT:
            break
        if (f > 0.0) != (f_high > 0.0):
            low, f_low = high, f_high
        else:
            f_low *= 0.5
        high, f_high = middle, f
    return middle


@_compiled
def _seek(
    z: Any, origin: Any, run: Any, base_m: float, subject: Any, optics: Any, asked: Any,
    trials: Any, order: Any, tried: Any,
) -> float:  # fmt: skip
    """Find the root nearest to the level distance on one bearing; NaN where there is none."""
    tried[:] = math.inf
    for i in order:
        for k in (i, i + 1):
            if math.isinf(tried[k]):
                s = trials[k]
                ground = height_at(z, origin[0] + s * run[0], origin[1] + s * run[1])
                tried[k] = excess(ground, s, base_m, subject, optics, asked)
        if tried[i] >= 0.0 and tried[i + 1] < 0.0:
            return _polish(
                z, origin, run, base_m, subject, optics, asked,
                trials[i], trials[i + 1], tried[i], tried[i + 1],
            )  # fmt: skip
    return math.nan


@_compiled
def distances(
    z: Any, origin: Any, steps: Any, base_m: Any, subjects: Any, optics: Any, asked: Any,
    trials: Any, order: Any, back_deg: Any, wanted: Any, out: Any,
) -> None:  # fmt: skip
    """Distances of stands on back bearings, shape (n, m), into ``out``; NaN where none.

    ``origin`` (n, 2) are rows and columns of the subjects, ``steps`` (n, 4) rows and columns
    for a metre east, then north; ``trials`` and ``order`` (n, t) distances to try and which
    brackets to try first; ``subjects`` (n, 2) heights and widths.
    """
    tried = np.empty(trials.shape[1])
    run = np.empty(2)
    for i in range(len(base_m)):
        known = math.isfinite(base_m[i]) and math.isfinite(trials[i, 0])
        for j in range(back_deg.shape[1]):
            out[i, j] = math.nan
            if not (known and wanted[i, j]):
                continue
            east = math.sin(back_deg[i, j] / DEGREES)
            north = math.cos(back_deg[i, j] / DEGREES)
            run[0] = steps[i, 0] * east + steps[i, 2] * north
            run[1] = steps[i, 1] * east + steps[i, 3] * north
            out[i, j] = _seek(
                z, origin[i], run, base_m[i], subjects[i], optics, asked,
                trials[i], order[i], tried,
            )  # fmt: skip


@_compiled
def ground_at(
    z: Any, origin: Any, steps: Any, back_deg: Any, distance_m: Any, half_m: float,
    ground: Any, slope_deg: Any,
) -> None:  # fmt: skip
    """Ground heights and slopes over one cell at stands, shape (n, m), into the last two."""
    for i in range(back_deg.shape[0]):
        er, ec, nr, nc = steps[i]
        for j in range(back_deg.shape[1]):
            ground[i, j] = slope_deg[i, j] = math.nan
            s = distance_m[i, j]
            if math.isnan(s):
                continue
            east = s * math.sin(back_deg[i, j] / DEGREES)
            north = s * math.cos(back_deg[i, j] / DEGREES)
            r = origin[i, 0] + east * er + north * nr
            c = origin[i, 1] + east * ec + north * nc
            ground[i, j] = height_at(z, r, c)
            up = height_at(z, r + half_m * nr, c + half_m * nc)
            down = height_at(z, r - half_m * nr, c - half_m * nc)
            right = height_at(z, r + half_m * er, c + half_m * ec)
            left = height_at(z, r - half_m * er, c - half_m * ec)
            rise = math.hypot(up - down, right - left) / (2.0 * half_m)
            slope_deg[i, j] = math.atan(rise) * DEGREES


@_compiled
def falls_and_levels(z: Any, row: Any, col: Any, rows_m: float, cols_m: float, reach_m: float,
                     least_slope: float, fall: Any, over: Any, level: Any) -> None:  # fmt: skip
    """Largest fall between neighbouring pixels near places, and how many lie dead level.

    Of the falls with at least a slope (rise over run); ``fall`` and ``over`` are metres;
    ``level`` counts the pixels within reach that have the height of the nearest one. NaN where
    there is no such fall, -1 where nothing is known.
    """
    down, across = int(reach_m / rows_m) + 1, int(reach_m / cols_m) + 1
    for i in range(len(row)):
        fall[i] = over[i] = math.nan
        level[i] = -1
        if not (math.isfinite(row[i]) and math.isfinite(col[i])):
            continue
        r, c = round(row[i]), round(col[i])
        top, bottom = max(r - down, 0), min(r + down, z.shape[0] - 1)
        left, right = max(c - across, 0), min(c + across, z.shape[1] - 1)
        if not (0 <= r < z.shape[0] and 0 <= c < z.shape[1]):
            continue
        level[i] = 0
        for a in range(top, bottom + 1):
            for b in range(left, right + 1):
                if z[a, b] == z[r, c]:
                    level[i] += 1
                for k in range(4):
                    p, q = a + (1 if k else 0), b + (1 if k % 2 == 0 else 0) - (k == 3)
                    if p > bottom or q > right or q < left:
                        continue
                    drop = abs(float(z[a, b]) - float(z[p, q]))
                    run = math.hypot((p - a) * rows_m, (q - b) * cols_m)
                    if drop >= least_slope * run and not drop <= fall[i]:
                        fall[i] = drop
                        over[i] = run


@_compiled
def heights_at(z: Any, row: Any, col: Any, out: Any) -> None:
    """Heights at fractional pixels of a window, shape (n, m)."""
    for i in range(row.shape[0]):
        for j in range(row.shape[1]):
            out[i, j] = height_at(z, row[i, j], col[i, j])
