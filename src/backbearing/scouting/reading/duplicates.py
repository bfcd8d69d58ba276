"""Rows that stand for one thing: the same kind within a metre."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.geodesy import earth_xyz_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

APART_M: Final = 1.0


def doubles(
    *, lat: Floats, lon: Floats, group: NDArray[Any], among: NDArray[np.bool_]
) -> dict[int, tuple[int, float]]:
    """Find rows within a metre of an earlier one of the same group.

    Parameters
    ----------
    lat, lon : ndarray, shape (n,)
        Degrees.
    group : ndarray, shape (n,)
        What must be equal.
    among : ndarray of bool, shape (n,)
        Rows that count.

    Returns
    -------
    dict
        Row to the earlier row that stays, and their distance in metres.
    """
    from scipy.spatial import cKDTree

    rows = np.flatnonzero(among)
    spot_of, spots = _spots(lat=lat[rows], lon=lon[rows], group=group[rows])
    tree = cKDTree(spots)
    away, _ = tree.query(spots, k=2, distance_upper_bound=APART_M)
    order = np.argsort(spot_of, kind="stable")
    ends = np.cumsum(np.bincount(spot_of))
    in_company = (np.diff(ends, prepend=0) > 1) | np.isfinite(away[:, 1])
    nearest: dict[int, tuple[int, float]] = {}
    for i in np.flatnonzero(in_company[spot_of]).tolist():
        if i in nearest:
            continue
        # Only rows that stay claim later ones, so that a crowd costs little.
        here = spots[spot_of[i]]
        for spot in tree.query_ball_point(here, APART_M):
            metres = float(np.linalg.norm(spots[spot] - here))
            for j in order[ends[spot - 1] if spot else 0 : ends[spot]].tolist():
                if j > i and metres < nearest.get(j, (i, np.inf))[1]:
                    nearest[j] = (i, metres)
    return {int(rows[j]): (int(rows[i]), metres) for j, (i, metres) in sorted(nearest.items())}


def _spots(*, lat: Floats, lon: Floats, group: NDArray[Any]) -> tuple[NDArray[np.intp], Floats]:
    """Which spot each row is on, and each spot once: a tree is slow with many on one.

    Spots are metres, shape (spots, 4); groups lie far apart along the fourth axis.
    """
    _, groups = np.unique(group.astype(str), return_inverse=True)
    order = np.lexsort((lon, lat, groups))
    sorted_by = np.column_stack([groups, lat, lon])[order]
    is_new = np.append(True, (np.diff(sorted_by, axis=0) != 0.0).any(axis=1))[: len(order)]
    spot_of = np.empty(len(order), dtype=np.intp)
    spot_of[order] = np.cumsum(is_new) - 1
    group_of, lat, lon = sorted_by[is_new].T
    return spot_of, np.column_stack([earth_xyz_m(lat=lat, lon=lon), 10.0 * APART_M * group_of])
