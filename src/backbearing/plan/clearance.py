"""Where the target clears the ridge, cell by cell, as values for every writer to read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.cautions import CoverKnown
from backbearing.base.numbers import num, per_cent
from backbearing.base.wall_clock import clock_change, hm, wall_hours
from backbearing.sky.zones import named_zone

if TYPE_CHECKING:
    import datetime as dt

    from affine import Affine
    from numpy.typing import NDArray

    Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class AreaCells:
    """A rectangle of a raster's cells: rows ``row0`` up to ``row1``, columns likewise.

    ``transform`` leads from column and row, counted from the rectangle's own outer corner, to
    the raster's reference system ``crs_wkt``. ``cover_known`` says whether trees and buildings
    are in its skylines.
    """

    row0: int
    row1: int
    col0: int
    col1: int
    transform: Affine
    crs_wkt: str
    cover_known: CoverKnown = CoverKnown.NONE

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.row1 - self.row0, self.col1 - self.col0


@dataclass(frozen=True, slots=True)
class AreaTrial:
    """How far a swept area lies off the exact skylines of its test cells.

    Attributes
    ----------
    cells : int
        Test cells compared; they had no part in choosing the bearings.
    margin_p90_deg : float
        What 90 % of the margins are off by at most, against a scan with steps of half a
        degree and two minutes; a bound that holds nine times in ten. NaN without cells.
    minutes_p90 : float
        The same for first and last clear minutes together.
    disagree : int
        Cells that clear in one and never in the other.
    sigma_median_deg : float
        Median over the cells of one standard deviation of a clearance, from the raster's
        heights and the rest; see `backbearing.terrain.skyline.doubt`.
    """

    cells: int
    margin_p90_deg: float
    minutes_p90: float
    disagree: int
    sigma_median_deg: float


@dataclass(frozen=True, slots=True)
class RidgeArea:
    """Where the target clears the ridge: arrays of shape ``(rows, columns)`` of the area.

    Attributes
    ----------
    first_clear_minutes, last_clear_minutes : ndarray
        Minutes since ``start``; NaN where it never clears or the ground is unknown.
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

    first_clear_minutes: Singles
    last_clear_minutes: Singles
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
    def first_clear_h(self) -> Singles:
        """First clear minute, in hours of the wall clock from the evening's midnight on.

        25.5 is half past one, also on a night on which the clocks change; where they go back
        an hour's numbers come twice. NaN where it never clears or the ground is unknown.
        """
        return self._wall_h(self.first_clear_minutes)

    @property
    def last_clear_h(self) -> Singles:
        """Last clear minute, counted as the first."""
        return self._wall_h(self.last_clear_minutes)

    def _wall_h(self, minutes: Singles) -> Singles:
        zone = named_zone(self.zone)
        begin = wall_hours(self.start, zone, self.evening)
        hours = np.asarray(minutes / np.float32(60.0) + np.float32(begin))
        turn, by_h = clock_change(self.start, self.end, zone)
        if turn is not None:
            hours[minutes >= (turn - self.start).total_seconds() / 60.0] += np.float32(by_h)
        return hours

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


@dataclass(frozen=True, slots=True)
class ClearGround:
    """Clearance over the ridge, cell by cell, at one minute.

    Attributes
    ----------
    time : datetime
        The minute, UTC.
    lenses : tuple of int
        Which of the plan's lenses stand then.
    cells : AreaCells
        Which part of the raster this is.
    margin_deg : ndarray
        Target altitude less the skyline's, shape as the cells; NaN where unknown.
    sigma_deg : float
        One standard deviation of the clearance at the first of these lenses' stands.
    looks_m : float
        How far the cells look.
    """

    time: dt.datetime
    lenses: tuple[int, ...]
    cells: AreaCells
    margin_deg: Singles
    sigma_deg: float
    looks_m: float

    def share_over(self, margin_deg: float) -> float:
        """Share of the known cells with at least this margin; NaN where none is known."""
        known = self.margin_deg[np.isfinite(self.margin_deg)]
        return float((known >= margin_deg).mean()) if known.size else float("nan")


def area_words(area: RidgeArea) -> str:
    """Say in a few sentences how much of the area clears the ridge, and how sure that is."""
    zone = named_zone(area.zone)
    if area.one_minute:
        dark = "" if area.dark else " (not a dark minute)"
        when = f"At {area.start.astimezone(zone):%H:%M %Z}{dark}"
    else:
        ends = (hm(end, zone) for end in (area.start, area.end))
        when = f"In the dark time, {' to '.join(ends)} ({area.zone}),"
    if not area.known_share:
        return f"{when} nothing is known: no cell's skyline could be found."
    unknown = 1.0 - area.known_share
    lacking = f"; {percent(unknown)} of the area is unknown" if unknown else ""
    return (
        f"{when} the target stands at least {num(area.clear_by_deg)}° over the ridge from "
        f"{percent(area.clear_share)} of the cells whose ground is known{lacking}. "
        f"{_trial_words(area)} {NOT_IN_AREA[area.cells.cover_known]}"
    )


NOT_IN_AREA: Final = {
    CoverKnown.NONE: "Ground beyond the raster and trees are not in it.",
    CoverKnown.PART: "Of trees those that are known are in it, in the raster's cells; ground "
    "beyond the raster is not.",
    CoverKnown.ALL: "Trees and buildings are in it in the raster's cells; ground beyond the raster "
    "is not.",
}


def percent(share: float) -> str:
    """Write a share so that nearly all is not read as all, nor a little as none."""
    if not math.isfinite(share):
        return "an unknown part"
    if 0.0 < share < 0.005:
        return "less than 1%"
    return "more than 99%" if 0.995 <= share < 1.0 else per_cent(share)


def _trial_words(area: RidgeArea) -> str:
    trial, swept = area.trial, len(area.bearings_deg)
    said = f"{swept} bearing{'s were' if swept > 1 else ' was'} swept."
    if not trial.cells:
        return f"{said} No test cell could be compared."
    said += f" Against exact skylines at {trial.cells} test cells, 90% of the margins lie within "
    said += f"{num(trial.margin_p90_deg, 2)}°"
    if math.isfinite(trial.minutes_p90):
        said += f" and of the first and last minutes within {num(max(trial.minutes_p90, 0.1), 1)}"
    said += f"; {_wrong_words(trial.disagree)}."
    return (
        f"{said} The raster's own heights are worse: one standard deviation of a margin is "
        f"{num(trial.sigma_median_deg, 1)}° there (median)."
    )


def _wrong_words(disagree: int) -> str:
    if not disagree:
        return "all agree whether the ridge is cleared at all"
    return f"{disagree} disagree{'s' if disagree == 1 else ''} whether the ridge is cleared at all"
