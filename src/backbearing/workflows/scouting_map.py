"""The scouting map: a ranking and the ground under it, as one page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_free, write_file
from backbearing.drawing.mercator import Box
from backbearing.maps.scouting_page import ScoutingAbout, ScoutingGround, scouting_page
from backbearing.workflows.map_ground import mercator_grid

if TYPE_CHECKING:
    from backbearing.plan.ranking import Ranking
    from backbearing.terrain.elevation import Elevation

LARGEST_DEG: Final = 1.2
"""A raster no larger than this is drawn whole; of a larger one, what the candidates need."""


def write_scouting_page(
    ranking: Ranking,
    elevation: Elevation,
    path: str | Path,
    *,
    about: ScoutingAbout | None = None,
    overwrite: bool = False,
) -> Path:
    """Write the scouting map.

    Parameters
    ----------
    ranking : Ranking
        What `backbearing.scouting.scout` found.
    elevation : Elevation
        The ground under it, for the relief.
    path : str or Path
        Where to write; its folder must exist.
    about : ScoutingAbout, optional
        Title, credit, and links to plans.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    WriteRefusedError
        When a file is in the way, cannot be written, or there is no candidate to draw.
    """
    check_free(Path(path), overwrite=overwrite)
    page = scouting_html(ranking, elevation, about=about)
    return write_file(path, page, overwrite=overwrite)


def scouting_html(
    ranking: Ranking, elevation: Elevation, *, about: ScoutingAbout | None = None
) -> str:
    """Make the scouting map; the same ranking and raster give the same text.

    Raises
    ------
    WriteRefusedError
        When the ranking is empty.
    """
    ground = scouting_ground(ranking, elevation)
    return scouting_page(ranking, ground, about or ScoutingAbout())


def scouting_ground(ranking: Ranking, elevation: Elevation) -> ScoutingGround:
    """Read the ground under the candidates.

    Raises
    ------
    WriteRefusedError
        When the ranking is empty.
    """
    if not len(ranking.frame):
        raise WriteRefusedError("The ranking holds no candidate; there is no map to draw.")
    box = _box(ranking, elevation)
    return ScoutingGround(box, mercator_grid(elevation, box))


def _box(ranking: Ranking, elevation: Elevation) -> Box:
    """The raster's extent, or the part round the candidates where it is very large."""
    south, west, north, east = (float(v) for v in elevation.bounds)
    points = ranking.frame.geometry
    lat, lon = np.asarray(points.y), np.asarray(points.x)
    middle = (west + east) / 2.0
    turn = 360.0 * round((middle - float(lon[0])) / 360.0)
    whole = Box(west - turn, south, east - turn, north)
    if max(north - south, east - west) <= LARGEST_DEG:
        return whole
    edge = 0.05
    wanted = Box(
        float(lon.min()) - edge, float(lat.min()) - edge,
        float(lon.max()) + edge, float(lat.max()) + edge,
    )  # fmt: skip
    return wanted.cut(whole) or wanted
