"""Where the target clears the ridge, for every cell of a raster, at a minute or all night.

The target crosses few bearings in a night, and between two of them the skyline changes
little. The bearings are chosen at a few test cells, where the skyline is solved exactly;
each is swept once (:meth:`Elevation.horizon_map`), and other test cells check the result.
When and how high the target stands on a bearing is solved at nodes and carried between.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.night.setup import night_sky, open_elevation, scene_of, zone_of
from backbearing.alignment.ridge.cells import AreaCells, Nodes
from backbearing.alignment.ridge.moments import dark_stretches
from backbearing.alignment.ridge.sweep import sweep_minute, sweep_night
from backbearing.sky.zones import at_clock, named_zone

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.ridge.accuracy import AreaTrial
    from backbearing.alignment.ridge.sweep import Swept
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.terrain.elevation import Elevation

    Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class RidgeArea:
    """Where the target clears the ridge: arrays of shape ``(rows, columns)`` of the area.

    Attributes
    ----------
    first_clear_h, last_clear_h : ndarray
        Local clock hours counted on from the evening's midnight, so that 25.5 is half past
        one; NaN where it never clears or the ground is unknown.
    clear_minutes : ndarray
        How long it stands clear by the asked margin within the dark window; NaN where the
        ground is unknown.
    margin_deg : ndarray
        Largest clearance in the dark window, or the clearance at the asked minute; NaN
        where the ground is unknown.
    bearings_deg : tuple of float
        The bearings that were swept.
    start, end : datetime
        The stretch looked at, UTC: the dark time at the subject with the target up, or
        twice the asked minute.
    clear_by_deg : float
        The asked margin.
    target_name : str
        What stands over the ridge.
    dark : bool
        Whether an asked minute lies in the dark window.
    cells : AreaCells
        Which part of the raster this is.
    trial : AreaTrial
        How far off it is at the test cells.
    reach_m : float
        How far the sweep looked.
    """

    first_clear_h: Singles
    last_clear_h: Singles
    clear_minutes: Singles
    margin_deg: Singles
    bearings_deg: tuple[float, ...]
    start: dt.datetime
    end: dt.datetime
    evening: dt.date
    zone: str
    clear_by_deg: float
    target_name: str
    dark: bool
    cells: AreaCells
    trial: AreaTrial
    reach_m: float

    @property
    def one_minute(self) -> bool:
        """Whether this is about one minute and not a night."""
        return self.start == self.end

    @property
    def known_share(self) -> float:
        """Share of the cells whose answer is known."""
        return float(np.isfinite(self.margin_deg).mean())

    @property
    def clear_share(self) -> float:
        """Share of the known cells from which the target clears by the asked margin."""
        known = np.isfinite(self.margin_deg)
        clear = self.margin_deg[known] >= self.clear_by_deg
        return float(clear.mean()) if clear.size else math.nan


def ridge_area(
    outing: Outing,
    elevation: Elevation | None = None,
    *,
    at: str | None = None,
    within_m: float | None = None,
) -> RidgeArea:
    """Sweep the raster for a night, or for one local minute such as ``"23:40"``.

    Darkness is that of the subject: elsewhere it comes four minutes earlier for each degree
    east. The skyline is that of the raster's own ground.

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
    elevation = open_elevation(outing) if elevation is None else elevation
    scene = scene_of(outing, elevation)
    cells = AreaCells.of(elevation, scene.subject, within_m)
    zone = zone_of(outing)
    sky = night_sky(outing, scene, zone)
    nodes = Nodes.of(elevation, cells, scene.subject_ground_m)
    if at is None:
        swept = sweep_night(scene, cells, nodes, dark_stretches(sky), sky.clear_by_deg)
    else:
        moment = at_clock(outing.night.evening, at, named_zone(zone)).astimezone(dt.UTC)
        swept = sweep_minute(scene, cells, nodes, moment, sky.clear_by_deg)
    return _told(outing, scene, sky, zone, cells, swept)


def _told(
    outing: Outing, scene: Scene, sky: NightSky, zone: str, cells: AreaCells, swept: Swept
) -> RidgeArea:

    midnight = dt.datetime.combine(outing.night.evening, dt.time(), tzinfo=named_zone(zone))
    offset_h = (swept.start.timestamp() - midnight.timestamp()) / 3600.0
    lasting = (swept.end - swept.start).total_seconds() / 60.0
    first_h, last_h = (
        (np.clip(minutes, 0.0, lasting) / np.float32(60.0) + np.float32(offset_h))
        for minutes in (swept.first, swept.last)
    )
    known = np.isfinite(swept.margin)
    return RidgeArea(
        first_clear_h=first_h.astype(np.float32),
        last_clear_h=last_h.astype(np.float32),
        clear_minutes=np.where(known, swept.minutes, np.float32(np.nan)),
        margin_deg=swept.margin,
        bearings_deg=swept.bearings_deg,
        start=swept.start,
        end=swept.end,
        evening=outing.night.evening,
        zone=zone,
        clear_by_deg=sky.clear_by_deg,
        target_name=outing.target.name,
        dark=sky.is_dark(swept.start),
        cells=cells,
        trial=swept.trial,
        reach_m=scene.reach_m,
    )


def area_words(area: RidgeArea) -> str:
    """Say in a few sentences how much of the area clears the ridge, and how sure that is."""
    zone = named_zone(area.zone)
    if area.one_minute:
        dark = "" if area.dark else " (not a dark minute)"
        when = f"At {area.start.astimezone(zone):%H:%M %Z}{dark}"
    else:
        ends = (f"{end.astimezone(zone):%H:%M}" for end in (area.start, area.end))
        when = f"In the dark time, {' to '.join(ends)} ({area.zone}),"
    if not area.known_share:
        return f"{when} nothing is known: no cell's skyline could be found."
    unknown = 1.0 - area.known_share
    lacking = f"; {percent(unknown)} of the area is unknown" if unknown else ""
    return (
        f"{when} the target stands at least {area.clear_by_deg:g}° over the ridge from "
        f"{percent(area.clear_share)} of the cells whose ground is known{lacking}. "
        f"{_trial_words(area)} Ground beyond the raster and trees are not in it."
    )


def percent(share: float) -> str:
    """Write a share so that nearly all is not read as all, nor a little as none."""
    if not math.isfinite(share):
        return "an unknown part"
    if 0.0 < share < 0.005:
        return "less than 1%"
    return "more than 99%" if 0.995 <= share < 1.0 else f"{share:.0%}"


def _trial_words(area: RidgeArea) -> str:
    trial, swept = area.trial, len(area.bearings_deg)
    said = f"{swept} bearing{'s were' if swept > 1 else ' was'} swept."
    if not trial.cells:
        return f"{said} No test cell could be compared."
    said += f" Against exact skylines at {trial.cells} test cells, 90% of the margins lie within "
    said += f"{trial.margin_p90_deg:.2f}°"
    if math.isfinite(trial.minutes_p90):
        said += f" and of the first and last minutes within {max(trial.minutes_p90, 0.1):.1f}"
    said += f"; {_wrong_words(trial.disagree)}."
    return (
        f"{said} The raster's own heights are worse: one standard deviation of a margin is "
        f"{trial.sigma_median_deg:.1f}° there (median)."
    )


def _wrong_words(disagree: int) -> str:
    if not disagree:
        return "all agree whether the ridge is cleared at all"
    return f"{disagree} disagree{'s' if disagree == 1 else ''} whether the ridge is cleared at all"
