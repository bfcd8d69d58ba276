"""What a straight sight line meets within one cell of the raster, in closed form.

Between two grid lines a straight ray crosses one bilinear cell, where the height is a
quadratic in the distance ``s``. With the curvature's drop ``c s^2`` the tangent of the
altitude is ``A / s + B + C s``; it has one maximum, at ``s = sqrt(A / C)`` when A and C
are both negative, and otherwise lies highest at an end. So nothing is sampled.

Numbers in, numbers out, or arrays: the march in plain numpy calls these as they stand, and the
compiled one compiles them.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np

Number: TypeAlias = Any
"""A float, or an array of float64: all of a call's are one or the other."""


def rise_in_cell(
    corners: tuple[Number, Number, Number, Number],
    start: tuple[Number, Number],
    run: tuple[Number, Number],
    eye_m: Number,
) -> tuple[Number, Number, Number]:
    """Height over the eye on the way through a cell: ``rise + slope x + curve x^2``.

    Parameters
    ----------
    corners : tuple
        Heights of the cell's pixels, metres: the first, that below it, that beside it, and
        the one across.
    start : tuple
        Where the way begins, rows and columns from the first pixel.
    run : tuple
        Rows and columns for a metre.
    eye_m : float or ndarray
        Height of the eye.

    Returns
    -------
    tuple
        In metres, by the distance x from where the way begins.
    """
    first, below, beside, opposite = corners
    (u, v), (du, dv) = start, run
    down, across = below - first, beside - first
    twist = opposite - first - down - across
    rise = first + down * u + across * v + twist * u * v - eye_m
    slope = down * du + across * dv + twist * (u * dv + v * du)
    return rise, slope, twist * du * dv


def tangents_in_cell(
    way: tuple[Number, Number, Number], near_m: Number, length_m: Number, drop_per_m2: float
) -> tuple[Number, Number, Number, Number]:
    """Tangents where a way enters a cell, where it leaves it, and where it looks highest.

    Parameters
    ----------
    way : tuple
        As `rise_in_cell` gives it.
    near_m, length_m : float or ndarray
        Distance from the eye at which the way begins, and its length.
    drop_per_m2 : float
        ``(1 - k) / 2R``.

    Returns
    -------
    tuple
        The three tangents, and the distance of the highest place. That is an end where the
        way is not arched: the highest tangent is the largest of the three in any case.
    """
    rise, slope, curve = way
    far = near_m + length_m
    enters = rise / near_m - drop_per_m2 * near_m
    leaves = (rise + (slope + curve * length_m) * length_m) / far - drop_per_m2 * far
    a, c = rise - (slope - curve * near_m) * near_m, curve - drop_per_m2
    # Where A and C are not both negative this is no summit, or an end, and no higher.
    top = np.minimum(np.maximum(np.sqrt(np.fmax(a / c, 0.0)), near_m), far)
    return enters, leaves, a / top + (slope - 2.0 * curve * near_m) + c * top, top
