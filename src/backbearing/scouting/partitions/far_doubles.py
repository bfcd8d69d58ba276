"""Rows within a metre of one another among more than can be held, wherever they lie.

Space is cut into cubes of 4 m, and each row is noted on disk under its own cube and under those
that begin within a metre. Two rows within a metre of one another share a cube, so that only
rows in company need be held to join doubles exactly as `.reading.duplicates` does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.geodesy import earth_xyz_m
from backbearing.scouting.reading.duplicates import APART_M, doubles

if TYPE_CHECKING:
    from pathlib import Path
    from typing import BinaryIO

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CUBE_M: Final = 4.0
FILES: Final = 64
"""Into so many files notes are dealt; one at a time is held."""

_NOTE: Final = np.dtype(
    [("cube", "u8"), ("row", "i8"), ("lat", "f8"), ("lon", "f8"), ("group", "i4")]
)
_FACTORS: Final = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], "u8")
"""Odd numbers that spread cubes over 64 bits; cubes that meet by chance cost a look and no more."""


class FarDoubles:
    """Notes of rows in a folder, from which doubles are found once all are there."""

    def __init__(self, folder: Path) -> None:
        self._paths = [folder / f"places-{number:02d}" for number in range(FILES)]
        self._files: list[BinaryIO] = [path.open("wb") for path in self._paths]
        self._groups: dict[str, int] = {}

    def add(
        self, rows: NDArray[np.int64], *, lat: Floats, lon: Floats, group: NDArray[Any]
    ) -> None:
        """Note rows, arrays of shape (n,); only those of one group can be doubles."""
        known = [self._groups.setdefault(str(one), len(self._groups)) for one in group]
        notes = np.zeros(len(rows), dtype=_NOTE)
        notes["row"], notes["lat"], notes["lon"], notes["group"] = rows, lat, lon, known
        place = earth_xyz_m(lat=lat, lon=lon) / CUBE_M
        cube = np.floor(place).astype(np.int64)
        near_next = place - cube > 1.0 - APART_M / CUBE_M
        for step in np.ndindex(2, 2, 2):
            here = np.flatnonzero((near_next | (np.array(step) == 0)).all(axis=1))
            self._note(notes[here], cube[here] + step)

    def _note(self, notes: NDArray[Any], cube: NDArray[np.int64]) -> None:
        with np.errstate(over="ignore"):
            key = (cube.astype(np.uint64) * _FACTORS).sum(axis=1, dtype=np.uint64)
            key = (key + notes["group"].astype(np.uint64)) * _FACTORS[0]
        notes["cube"] = key ^ (key >> np.uint64(29))
        file_of = (notes["cube"] % np.uint64(FILES)).astype(np.int64)
        order = np.argsort(file_of, kind="stable")
        ends = np.searchsorted(file_of[order], np.arange(FILES + 1))
        for number, file in enumerate(self._files):
            some = notes[order[ends[number] : ends[number + 1]]]
            if len(some):
                file.write(some.tobytes())

    def found(self, without: set[int]) -> tuple[dict[int, tuple[int, float]], NDArray[Any]]:
        """Find all doubles, leaving some rows out.

        Returns
        -------
        tuple
            Row to the earlier row that stays and their distance in metres, as `doubles` gives
            it; and the notes of rows in company, in order: ``row``, ``lat`` and ``lon``.
        """
        self.close()
        found = [np.zeros(0, dtype=_NOTE)]
        for path in self._paths:
            notes = np.fromfile(path, dtype=_NOTE)
            if not len(notes):
                continue
            notes = notes[np.argsort(notes["cube"], kind="stable")]
            if not len(notes):
                continue
            same = notes["cube"][1:] == notes["cube"][:-1]
            found.append(notes[np.append(same, False) | np.append(False, same)])
        company = np.concatenate(found)
        _, first = np.unique(company["row"], return_index=True)
        company = company[first]
        company = company[~np.isin(company["row"], np.array(sorted(without), dtype=np.int64))]
        of = doubles(
            lat=company["lat"],
            lon=company["lon"],
            group=company["group"],
            among=np.ones(len(company), dtype=np.bool_),
        )
        row = company["row"]
        return {int(row[j]): (int(row[i]), metres) for j, (i, metres) in of.items()}, company

    def close(self) -> None:
        """Close the files."""
        for file in self._files:
            file.close()
