"""``backbearing ridge --area``: an answer to every cell of the raster, written to files."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.cli.common import print_json
from backbearing.cli.sharing import SharingAsked, watched
from backbearing.plan.clearance import area_words
from backbearing.workflows.write_area import check_area_files, write_area

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.cluster.kept import Progress
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import RidgeArea
    from backbearing.terrain.elevation import Elevation


@dataclass(frozen=True, slots=True)
class AreaAsked(SharingAsked):
    """Files for an answer to every cell, how far from the subject, and how it is shared."""

    areas: tuple[Path, ...]
    within_km: float | None

    @property
    def within_m(self) -> float | None:
        """The same in metres."""
        return None if self.within_km is None else 1000.0 * self.within_km


def answer_area(
    asked: Outing,
    every: AreaAsked,
    at: str | None,
    *,
    overwrite: bool,
    as_json: bool,
) -> int:
    """Sweep the area and write it; give the exit code."""
    paths = every.areas
    check_area_files(paths, overwrite=overwrite)
    elevation = open_elevation(asked)
    area = _swept(asked, elevation, every, at, quiet=as_json)
    write_area(asked, elevation, area, paths, at=at, overwrite=overwrite)
    words = area_words(area)
    if asked.ground.marks:
        words += " Skyline marks are not used here: they were read at one place."
    if as_json:
        print_json(
            {
                "format": "backbearing-ridge-area",
                "version": 1,
                "file": str(paths[0]),
                "files": [str(path) for path in paths],
                "says": words,
                "start": area.start,
                "end": area.end,
                "clear_share": area.clear_share,
                "known_share": area.known_share,
                "bearings_deg": area.bearings_deg,
                "trial": area.trial,
            }
        )
    else:
        click.echo(words)
        for path in paths:
            click.echo(f"Wrote {path}.")
    return 0 if bool((area.margin_deg >= area.clear_by_deg).any()) else 3


def _swept(
    asked: Outing,
    elevation: Elevation,
    every: AreaAsked,
    at: str | None,
    *,
    quiet: bool,
) -> RidgeArea:
    """All in one, or shared out with a bar of the cells that are done."""
    sweep = partial(ridge_area, asked, elevation, at=at, within_m=every.within_m)
    sharing = every.sharing
    if sharing is None:
        return sweep()

    def work(progress: Progress | None) -> RidgeArea:
        return sweep(sharing=sharing, progress=progress)

    return watched(work, "Sweeping", "cells", keep=sharing.keep, quiet=quiet)
