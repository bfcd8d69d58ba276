"""Finished chunks of candidates in a folder, so that a stopped run goes on where it was."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.cluster.kept import Kept, KeptFormat
from backbearing.scouting.ranking.columns import ChunkResult

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray


def _load(path: Path, count: int) -> ChunkResult | None:
    found = ChunkResult.load(path)
    return found if found is not None and len(found) == count else None


CHUNKS: Final = KeptFormat("scouted", ChunkResult.save, _load)
"""How a chunk is kept."""


def kept_chunks(
    folder: Path | None, task_digest: str, pieces: Sequence[NDArray[np.intp]]
) -> Kept[ChunkResult]:
    """Where the chunks of one task are kept, cut as told; errors as for `Kept.of`."""
    return Kept.of(folder, task_digest, [len(piece) for piece in pieces], CHUNKS)
