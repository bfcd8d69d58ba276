"""An area from which the ridge is clear, written as a GeoTIFF or into the plan's page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.ridge.foreground import clear_ground
from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_all_free
from backbearing.exports.ridge_geotiff import write_ridge_geotiff
from backbearing.plan.turns import as_planned
from backbearing.workflows.plan_page import write_page

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import RidgeArea
    from backbearing.terrain.elevation import Elevation

RASTERS = (".tif", ".tiff")
PAGES = (".html", ".htm")


def check_area_files(paths: Sequence[Path], *, overwrite: bool = False) -> None:
    """Refuse, before anything is computed, what could not be written.

    Raises
    ------
    WriteRefusedError
        For a suffix that names no format here, a path given twice, a file in the way, or no
        folder.
    """
    for path in paths:
        if path.suffix.lower() not in (*RASTERS, *PAGES):
            raise WriteRefusedError(
                f"{path.name} cannot be written: an area is written as .tif (its numbers) or "
                ".html (a layer of the plan's page)",
                hint="end the name in one of these",
                path=str(path),
            )
    check_all_free(paths, overwrite=overwrite)


def write_area(
    outing: Outing,
    elevation: Elevation,
    area: RidgeArea,
    paths: Sequence[Path],
    *,
    at: str | None = None,
    overwrite: bool = False,
) -> None:
    """Write an area to each path, in the format that its suffix names.

    Parameters
    ----------
    outing : Outing
        For the page, which holds the whole plan.
    elevation : Elevation
        The raster that the area is part of.
    area : RidgeArea
        What to write.
    paths : sequence of Path
        Ending in ``.tif`` or ``.html``.
    at : str, optional
        The minute of the page's stands.
    overwrite : bool
        Whether files that are already there may be replaced.

    Raises
    ------
    WriteRefusedError
        When a file is in the way or cannot be written.
    """
    pages = [path for path in paths if path.suffix.lower() in PAGES]
    for path in paths:
        if path not in pages:
            write_ridge_geotiff(area, path, overwrite=overwrite)
    if pages:
        plan = plan_night(outing, elevation, at=at)
        clear = clear_ground(as_planned(plan), elevation)
        for path in pages:
            write_page(
                plan,
                elevation,
                path,
                clear=clear,
                area=area,
                units=outing.units,
                outing=outing,
                overwrite=overwrite,
            )
