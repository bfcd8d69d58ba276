"""The page of a plan: everything on it computed once, then written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.alignment.view.lens_views import views
from backbearing.base.files import check_free, write_file
from backbearing.base.units import METRIC
from backbearing.maps.night_page import PageValues, Still, night_page
from backbearing.plan.turns import at_turns
from backbearing.workflows.carried_night import carried_night
from backbearing.workflows.map_ground import cells_on_map, map_ground
from backbearing.workflows.printed_sheet import sheet_inside

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import ClearGround, RidgeArea
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View
    from backbearing.terrain.elevation import Elevation


def write_page(
    plan: Plan,
    elevation: Elevation,
    path: str | Path,
    *,
    clear: Sequence[ClearGround] = (),
    area: RidgeArea | None = None,
    units: Units = METRIC,
    outing: Outing | None = None,
    overwrite: bool = False,
) -> Path:
    """Write the plan's page.

    Parameters
    ----------
    plan : Plan
        What to show.
    elevation : Elevation
        The ground under it, for relief and contours.
    path : str or Path
        Where to write; its folder must exist.
    clear, area, units, outing
        As in :func:`page_html`.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    WriteRefusedError
        When a file is in the way or cannot be written; nothing on disk changes then.

    Examples
    --------
    The sample outing's ``plan`` over its ``elevation``, into ``folder``:

    >>> from backbearing.maps import write_page
    >>> write_page(plan, elevation, folder / "map.html").name
    'map.html'
    """
    check_free(Path(path), overwrite=overwrite)
    page = page_html(plan, elevation, clear=clear, area=area, units=units, outing=outing)
    return write_file(path, page, overwrite=overwrite)


def page_html(
    plan: Plan,
    elevation: Elevation,
    *,
    clear: Sequence[ClearGround] = (),
    area: RidgeArea | None = None,
    units: Units = METRIC,
    outing: Outing | None = None,
) -> str:
    """Make the page; the same plan and raster give the same bytes.

    Parameters
    ----------
    plan : Plan
        What to show.
    elevation : Elevation
        The ground under it, for relief and contours.
    clear : sequence of ClearGround
        Ground round the stands from which the ridge is clear, at their minutes; a layer
        that the page's key turns on.
    area : RidgeArea, optional
        The same for a larger area and a whole night.
    units : Units
        How a person reads lengths, such as ``outing.units``.
    outing : Outing, optional
        What the plan was made from: then the page carries what its solver works from, and finds
        stands for any minute and any correction.

    Returns
    -------
    str
        HTML, complete, with nothing left to fetch.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.maps import page_html
    >>> page = page_html(plan, elevation)
    >>> page[:15], "Content-Security-Policy" in page
    ('<!DOCTYPE html>', True)
    """
    seen = views(at_turns(plan), elevation)
    values = page_values(plan, elevation, seen, clear=clear, area=area, units=units, outing=outing)
    return night_page(plan, values)


def page_values(
    plan: Plan,
    elevation: Elevation,
    seen: tuple[View, ...],
    *,
    clear: Sequence[ClearGround] = (),
    area: RidgeArea | None = None,
    units: Units = METRIC,
    outing: Outing | None = None,
) -> PageValues:
    """Read from the raster what the page needs of it.

    Parameters
    ----------
    plan, elevation, clear, area, units, outing
        As in :func:`page_html`.
    seen : tuple of View
        What the lenses see at their turns.
    """
    cells = {ground.cells for ground in clear} | ({area.cells} if area is not None else set())
    return PageValues(
        ground=map_ground(plan, elevation),
        seen=seen,
        still=Still(*sheet_inside(plan, seen, units=units)),
        clear=tuple(clear),
        area=area,
        pixels={one: cells_on_map(plan, elevation, one) for one in cells},
        units=units,
        carried=None if outing is None else carried_night(outing, elevation, plan),
    )
