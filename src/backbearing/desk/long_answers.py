"""What takes seconds: asked in the desk's work processes, each with nights of its own."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from backbearing.base.plain import plain
from backbearing.desk.map_features import read_map_features
from backbearing.desk.night_answers import NightAnswers
from backbearing.desk.outing_on_disk import OutingOnDisk
from backbearing.desk.take_along import taken

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.desk.outing_on_disk import Changes
    from backbearing.desk.work import Tell


@lru_cache(1)
def _answers(file: Path) -> NightAnswers:
    return NightAnswers(OutingOnDisk(file))


def ready(file: Path, tell: Tell) -> None:
    """Do beforehand what the first question would have to wait for."""
    del tell
    _answers(file).make_ready()


def season(file: Path, changes: Changes, tell: Tell) -> Any:
    """Many nights; see :meth:`.NightAnswers.season`."""
    del tell
    return plain(_answers(file).season(changes))


def evening(file: Path, changes: Changes, fixed: Mapping[int, float], tell: Tell) -> Any:
    """All lenses in one evening; see :meth:`.NightAnswers.evening`."""
    del tell
    return plain(_answers(file).evening(changes, fixed))


def take(file: Path, name: str, tell: Tell) -> str | bytes:
    """A file to take along; see :func:`.take_along.taken`."""
    del tell
    return taken(file, name)


def map_features(file: Path, bounds: tuple[float, float, float, float], tell: Tell) -> Any:
    """What a file shows of the land within south, west, north and east, packed."""
    del tell
    south, west, north, east = bounds
    return read_map_features(file, (west, south, east, north)).packed()
