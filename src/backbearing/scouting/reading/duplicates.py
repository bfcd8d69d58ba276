"""Rows that stand for one thing: the same kind within a metre."""

from __future__ import annotations

from collections import defaultdict
from itertools import product
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.geodesy import earth_xyz_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

APART_M: Final = 1.0
_AROUND: Final = tuple(product((-1, 0, 1), repeat=3))


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
    rows = np.flatnonzero(among)
    xyz = earth_xyz_m(lat=lat[rows], lon=lon[rows])
    _, groups = np.unique(group[rows].astype(str), return_inverse=True)
    near = _in_company(xyz, groups)
    found: dict[int, tuple[int, float]] = {}
    stays: defaultdict[tuple[int, ...], list[int]] = defaultdict(list)
    cells = np.floor(xyz / APART_M).astype(np.int64)
    for i in near:
        x, y, z = (int(v) for v in cells[i])
        name = int(groups[i])
        first, away = -1, np.inf
        for dx, dy, dz in _AROUND:
            for j in stays.get((x + dx, y + dy, z + dz, name), ()):
                metres = float(np.linalg.norm(xyz[i] - xyz[j]))
                if metres <= APART_M and metres < away:
                    first, away = j, metres
        if first >= 0:
            found[int(rows[i])] = (int(rows[first]), away)
        else:
            stays[(x, y, z, name)].append(int(i))
    return found


def _in_company(xyz: Floats, groups: NDArray[np.intp]) -> NDArray[np.intp]:
    """Rows that may have another of their group within a metre.

    Two points a metre apart share a cell of twice that size in one of eight grids, each
    shifted by half a cell along some of the axes.
    """
    company = np.zeros(len(xyz), dtype=np.bool_)
    for shift in product((0.0, 0.5), repeat=3):
        cells = np.floor(xyz / (2.0 * APART_M) + np.array(shift)).astype(np.int64)
        # Cells of the Earth fit into 24 bits an axis; unlike ones that fall together do no harm.
        key = (cells[:, 0] * 73_856_093) ^ (cells[:, 1] * 19_349_663) ^ (cells[:, 2] * 83_492_791)
        key = key * 4_099 + groups
        _, inverse, count = np.unique(key, return_inverse=True, return_counts=True)
        company |= count[inverse] > 1
    return np.flatnonzero(company)
