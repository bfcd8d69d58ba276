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
from backbearing.alignment.ridge.area_cells import Look, Nodes, area_cells
from backbearing.alignment.ridge.area_parts import AreaJob, over_the_tops, parts_of, swept_shared
from backbearing.alignment.ridge.bearing_sweep import settle_minute, settle_night, swept_whole
from backbearing.alignment.ridge.moments import dark_stretches
from backbearing.alignment.ridge.over_cover import under_cover
from backbearing.outing.known_cover import known_cover
from backbearing.outing.marks_request import MarksRequest
from backbearing.plan.clearance import RidgeArea
from backbearing.sky.zones import at_clock, named_zone
from backbearing.terrain.cover.covered_elevation import covered_of
from backbearing.terrain.marks.marked_elevation import bare_of

if TYPE_CHECKING:
    from backbearing.alignment.ridge.bearing_sweep import Layers, Settled, Swept
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.cluster.kept import Progress
    from backbearing.cluster.shared_work import Sharing
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import AreaCells
    from backbearing.terrain.elevation import Elevation


def ridge_area(
    outing: Outing,
    elevation: Elevation | None = None,
    *,
    at: str | None = None,
    within_m: float | None = None,
    sharing: Sharing | None = None,
    progress: Progress | None = None,
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
    sharing : Sharing, optional
        Cut the area into parts, share them among processes or over a cluster and keep what is
        finished; else all of it is swept in one. The figures are the same to the last bit.
    progress : callable, optional
        With ``sharing``: told how many cells are done, and of how many.

    Raises
    ------
    NothingFoundError
        When the night has no dark window with the target up.
    OutingError
        When ``at`` is not a time of day.
    TerrainError
        When the area is too large, or ``within_m`` is not positive.
    WriteRefusedError, BackbearingError
        With ``sharing``, as `shared_out`.
    """
    # Measured marks are of one place; an area is swept over the bare raster.
    outing = replace(outing, ground=replace(outing.ground, marks=MarksRequest()))
    elevation = open_elevation(outing) if elevation is None else bare_of(elevation)
    scene = scene_of(outing, elevation)
    cells = replace(
        area_cells(elevation, scene.subject, within_m), cover_known=known_cover(outing.ground)
    )
    zone = zone_of(outing)
    sky = night_sky(outing.night, scene, zone)
    nodes = Nodes.of(elevation, cells, scene.subject_ground_m)
    above = over_the_tops(scene)
    settled: Settled
    if at is None:
        settled = settle_night(above, cells, nodes, dark_stretches(sky), sky.clear_by_deg)
    else:
        moment = at_clock(outing.night.evening, at, named_zone(zone)).astimezone(dt.UTC)
        settled = settle_minute(above, cells, nodes, moment, sky.clear_by_deg)
    look = Look.of(above)
    if sharing is None:
        layers = swept_whole(settled.passes, look, cells, nodes)
    else:
        job = AreaJob.of(outing, look, cells, nodes, settled.passes)
        layers = swept_shared(job, look, sharing, progress)
    swept = settled.swept(layers)
    _forget_covered(layers, scene, cells)
    return _area_of(outing.night.evening, scene, sky, cells, swept)


def _forget_covered(layers: Layers, scene: Scene, cells: AreaCells) -> None:
    """Nothing is said of cells under trees or roofs: the sweep's eye stood on their tops."""
    if scene.elevation is None or covered_of(scene.elevation) is None:
        return
    for part in parts_of(cells):
        under = under_cover(scene.elevation, *part.of_raster(cells))
        for figures in (layers.first, layers.last, layers.margin):
            figures[part.window][under] = np.nan


def _area_of(
    evening: dt.date, scene: Scene, sky: NightSky, cells: AreaCells, swept: Swept
) -> RidgeArea:
    """Keep the moments within the stretch looked at, and say what they rest on."""
    lasting = np.float32((swept.end - swept.start).total_seconds() / 60.0)
    first, last, minutes, margin = swept.layers
    for moments in (first, last):
        np.clip(moments, np.float32(0.0), lasting, out=moments)
    minutes[~np.isfinite(margin)] = np.nan
    return RidgeArea(
        first_clear_minutes=first,
        last_clear_minutes=last,
        clear_minutes=minutes,
        margin_deg=margin,
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
