"""Scouting: from many candidates to the few that are worth the drive.

Names load on first use, so importing this package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.scouting.candidates import Candidates, Rejected, read_candidates
    from backbearing.scouting.chunk import ChunkResult, Context, rank_chunk
    from backbearing.scouting.ranking import Ranking
    from backbearing.scouting.region import scout_region
    from backbearing.scouting.run import scout
    from backbearing.scouting.task import ScoutTask, task_of
    from backbearing.scouting.weights import ScoutRequest, Weights

_HOMES = {
    "Candidates": "candidates",
    "ChunkResult": "chunk",
    "Context": "chunk",
    "Ranking": "ranking",
    "Rejected": "candidates",
    "ScoutRequest": "weights",
    "ScoutTask": "task",
    "Weights": "weights",
    "rank_chunk": "chunk",
    "read_candidates": "candidates",
    "scout": "run",
    "scout_region": "region",
    "task_of": "task",
}

__all__ = [
    "Candidates",
    "ChunkResult",
    "Context",
    "Ranking",
    "Rejected",
    "ScoutRequest",
    "ScoutTask",
    "Weights",
    "rank_chunk",
    "read_candidates",
    "scout",
    "scout_region",
    "task_of",
]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
