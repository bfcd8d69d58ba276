"""The subjects of a year: outing files by name or by folder, or the first of a scouting run."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import NothingFoundError, OutingError
from backbearing.outing.load import load_outing
from backbearing.outing.marks_request import MarksRequest
from backbearing.outing.scouting_request import MOST_NIGHTS
from backbearing.outing.subject import Subject
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.run.run import scout

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence
    from pathlib import Path

    import pandas as pd

    from backbearing.outing.request import Outing

KIT_NAME: Final = "kit.toml"


def outings_named(paths: Sequence[Path]) -> list[Outing]:
    """Read the outings that files and folders name, each once, in the order given.

    A folder stands for the outing files in it and for the ``outing.toml`` of each folder in it;
    a ``kit.toml`` there is no outing.

    Raises
    ------
    OutingError
        For a folder without an outing, or a file that is none.
    """
    files: dict[Path, Path] = {}
    for path in paths:
        for file in _in_folder(path) if path.is_dir() else [path]:
            files.setdefault(file.resolve(), file)
    return [load_outing(file) for file in files.values()]


def _in_folder(folder: Path) -> list[Path]:
    found = [path for path in sorted(folder.glob("*.toml")) if path.name != KIT_NAME]
    found += sorted(folder.glob("*/outing.toml"))
    if not found:
        raise OutingError(
            f"{folder}: no outing file there", hint="name a folder that holds .toml files"
        )
    return found


def outings_of_candidates(
    outing: Outing,
    file: Path,
    *,
    top: int,
    first_night: dt.date,
    nights: int,
    processes: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[Outing]:
    """Rank candidates by an outing, and make an outing of each of the first.

    Camera, lenses, framing, target and darkness stay the outing's; what belonged to its own
    subject (a measured drop, skyline marks, minutes asked for, the session) is left out.

    Raises
    ------
    NothingFoundError
        When no candidate has a good minute.
    """
    ranking = scout(
        outing,
        read_candidates(file),
        first_night=first_night,
        nights=min(nights, MOST_NIGHTS),
        processes=processes,
        progress=progress,
    )
    rows = [row for _, row in ranking.top(top).iterrows()]
    if not rows:
        raise NothingFoundError(
            f"{file.name}: no candidate has a good minute on any of these nights",
            hint="`backbearing scout` says why for each",
        )
    return [_of_candidate(outing, row) for row in rows]


def _of_candidate(outing: Outing, row: pd.Series[Any]) -> Outing:
    subject = Subject(
        lat=float(row.geometry.y),
        lon=float(row.geometry.x),
        height_m=float(row["height_m"]),
        width_m=float(row["width_m"]) if np.isfinite(row["width_m"]) else None,
        name=str(row["name"]) or str(row["id"]),
        kind=str(row["kind"]),
    )
    return replace(
        outing,
        name=subject.name,
        subject=subject,
        session=None,
        night=replace(outing.night, at=None),
        framing=replace(outing.framing, stand_drop_m=None),
        ground=replace(outing.ground, marks=MarksRequest()),
        lenses=tuple(replace(one, at=None, stand_drop_m=None) for one in outing.lenses),
    )
