"""Columns of a ranking: plain arrays, saved at once and joined again."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.files import write_file

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

_PREFIX = "c_"


@dataclass(frozen=True, eq=False)
class ChunkResult:
    """What a chunk came to: n rows as in its slice of the candidates.

    Attributes
    ----------
    columns : dict of str to ndarray, shape (n,)
        Numbers, and texts as objects.
    minutes : ndarray of uint16, shape (n, nights, lenses)

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, read_candidates
    >>> from backbearing.scouting import Context, rank_chunk, task_of
    >>> task = task_of(load_outing(sample / "outing.toml"), lat=36.35, lon=-84.13, nights=3)
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> found = rank_chunk(task, candidates.frame.iloc[:2], Context.of(task, candidates))
    >>> sorted(found.columns)[:4]
    ['access', 'air_mag', 'air_sigma_mag', 'back_bearing_deg']
    """

    columns: dict[str, NDArray[Any]]
    minutes: NDArray[np.uint16]

    def __len__(self) -> int:
        return len(self.minutes)

    def save(self, path: Path) -> None:
        """Write to an .npz file at once, or leave what is there."""
        buffer = io.BytesIO()
        named = {
            f"{_PREFIX}{name}": values.astype(np.str_) if values.dtype == object else values
            for name, values in self.columns.items()
        }
        np.savez_compressed(buffer, minutes=self.minutes, **named)  # type: ignore[arg-type]
        write_file(path, buffer.getvalue(), overwrite=True)

    @classmethod
    def load(cls, path: Path) -> ChunkResult | None:
        """Read a saved chunk; None where there is none or it cannot be read."""
        try:
            with np.load(path, allow_pickle=False) as data:
                columns = {
                    name.removeprefix(_PREFIX): _read(data[name])
                    for name in data.files
                    if name.startswith(_PREFIX)
                }
                return cls(columns, data["minutes"])
        except Exception:  # a damaged archive fails in every way there is
            return None

    @classmethod
    def joined(cls, parts: Sequence[ChunkResult]) -> ChunkResult:
        """Put chunks one after another."""
        if len(parts) == 1:
            return parts[0]
        names = parts[0].columns
        return cls(
            {name: np.concatenate([part.columns[name] for part in parts]) for name in names},
            np.concatenate([part.minutes for part in parts]),
        )

    @classmethod
    def gathered(cls, parts: Sequence[ChunkResult], rows: NDArray[np.integer[Any]]) -> ChunkResult:
        """Put groups together whose rows stand at the given places."""
        whole = cls.joined(parts)
        order = np.argsort(rows, kind="stable")
        return cls({k: v[order] for k, v in whole.columns.items()}, whole.minutes[order])


def _read(values: NDArray[Any]) -> NDArray[Any]:
    """Texts as objects again: an array of them takes the longest one's room for each."""
    return values.astype(object) if values.dtype.kind == "U" else values
