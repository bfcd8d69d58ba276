"""Where the target clears the ridge, for every cell of a raster, at a minute or all night.

The target crosses few bearings in a night, and between two of them the skyline changes
little. The bearings are chosen at a few test cells, where the skyline is solved exactly;
each is swept once (:meth:`Elevation.horizon_map`), and other test cells check the result.
When and how high the target stands on a bearing is solved at nodes and carried between.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.night.from_outing import night_sky, open_elevation, scene_of, zone_of
from backbearing.alignment.ridge.area_cells import Nodes, area_cells
from backbearing.alignment.ridge.bearing_sweep import sweep_minute, sweep_night
from backbearing.alignment.ridge.moments import dark_stretches
from backbearing.alignment.ridge.over_cover import swept_of, under_cover
from backbearing.outing.known_cover import known_cover
from backbearing.outing.marks_request import MarksRequest
from backbearing.plan.clearance import RidgeArea
from backbearing.sky.zones import at_clock, named_zone
from backbearing.terrain.marks.marked_elevation import bare_of

if TYPE_CHECKING:
    from backbearing.alignment.ridge.bearing_sweep import Swept
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import AreaCells
    from backbearing.terrain.elevation import Elevation


def ridge_area(
    outing: Outing,
    elevation: Elevation | None = None,
    *,
    at: str | None = None,
    within_m: float | None = None,
) -> RidgeArea:
    """Sweep the raster for a night, or for one local minute such as ``"23:40"``.

    Darkness is that of the subject: elsewhere it comes four minutes earlier for each degree
    east. The skyline is that of the raster's own ground, with the trees and buildings known on it
    and without measured marks; cells under trees or roofs are unknown.

    Parameters
    ----------
    outing : Outing
        As read from its file.
    elevation : Elevation, optional
        The raster, when it is open already.
    at : str, optional
        A local wall time: the margin then, instead of a whole night.
    within_m : float, optional
        Answer only cells so far north, south, east and west of the subject; ground beyond
        still hides what it hides.

    Raises
    ------
    NothingFoundError
        When the night has no dark window with the target up.
    OutingError
        When ``at`` is not a time of day.
    TerrainError
        When the area is too large, or ``within_m`` is not positive.
    """
    # Measured marks are of one place; an area is swept over the bare raster.
    outing = replace(outing, ground=replace(outing.ground, marks=MarksRequest()))
    elevation = open_elevation(outing) if elevation is None else bare_of(elevation)
    scene = scene_of(outing, elevation)
    # The subject is taken off the cover.
    elevation = elevation if scene.elevation is None else scene.elevation
    cells = replace(
        area_cells(elevation, scene.subject, within_m), cover_known=known_cover(outing.ground)
    )
    zone = zone_of(outing)
    sky = night_sky(outing.night, scene, zone)
    nodes = Nodes.of(elevation, cells, scene.subject_ground_m)
    over = replace(scene, elevation=swept_of(elevation))
    if at is None:
        swept = sweep_night(over, cells, nodes, dark_stretches(sky), sky.clear_by_deg)
    else:
        moment = at_clock(outing.night.evening, at, named_zone(zone)).astimezone(dt.UTC)
        swept = sweep_minute(over, cells, nodes, moment, sky.clear_by_deg)
    under = under_cover(elevation, cells)
    for figures in (swept.first, swept.last, swept.margin):
        figures[under] = np.nan
    return _area_of(outing.night.evening, scene, sky, cells, swept)


def _area_of(
    evening: dt.date, scene: Scene, sky: NightSky, cells: AreaCells, swept: Swept
) -> RidgeArea:
    """Keep the moments within the stretch looked at, and say what they rest on."""
    lasting = np.float32((swept.end - swept.start).total_seconds() / 60.0)
    known = np.isfinite(swept.margin)
    return RidgeArea(
        first_clear_minutes=np.clip(swept.first, np.float32(0.0), lasting),
        last_clear_minutes=np.clip(swept.last, np.float32(0.0), lasting),
        clear_minutes=np.where(known, swept.minutes, np.float32(np.nan)),
        margin_deg=swept.margin,
        bearings_deg=swept.bearings_deg,
        start=swept.start,
        end=swept.end,
        evening=evening,
        zone=sky.zone,
        clear_by_deg=sky.clear_by_deg,
        target_name=scene.target.name,
        dark=sky.is_dark(swept.start),
        cells=cells,
        trial=swept.trial,
        reach_m=scene.reach_m,
    )
