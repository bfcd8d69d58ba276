"""The ground round the subject from which the ridge is clear, at each stand's own minute."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.ridge.area_cells import AreaPart, Look, Nodes, area_cells
from backbearing.alignment.ridge.bearing_sweep import MinutePasses
from backbearing.alignment.ridge.ground_ahead import GroundAhead
from backbearing.alignment.ridge.over_cover import swept_of, under_cover
from backbearing.base.geodesy import drop_per_m2
from backbearing.plan.clearance import ClearGround
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array
from backbearing.terrain.marks.marked_elevation import bare_of

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from backbearing.plan.clearance import AreaCells
    from backbearing.plan.plan import Plan
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.skylines import Skylines

    Singles = NDArray[np.float32]

WITHIN_M: Final = 2_500.0
"""Half side of the square that is answered."""

LOOKS_M: Final = 30_000.0
"""How far its cells look: a ridge 1000 m higher rises 1.9 degrees at that distance."""

MOST_MINUTES: Final = 8
"""Minutes that are answered, earliest first: each is swept by itself."""

FEW_RAYS: Final = 20_000
"""So many cells at so many minutes look along rays of their own, exact: 0.6 s of CPU for 16,000.

The compiled sweep takes a tenth of that, a second to load, and fifteen to compile at first.
"""


def clear_ground(
    plan: Plan, elevation: Elevation, *, within_m: float = WITHIN_M
) -> tuple[ClearGround, ...]:
    """Look from the subject's surroundings at the minutes of the plan's stands.

    Parameters
    ----------
    plan : Plan
        Read for its subject, target and stands.
    elevation : Elevation
        The raster.
    within_m : float
        Half side of the square round the subject, metres.

    Returns
    -------
    tuple of ClearGround
        One for each minute at which a lens stands; empty without stands.

    Raises
    ------
    TerrainError
        When the square holds too many cells.
    """
    minutes = _minutes(plan)
    if not minutes:
        return ()
    cells = area_cells(elevation, plan.subject, within_m)
    nodes = Nodes.of(elevation, cells, plan.subject_ground_m)
    elevation = bare_of(elevation)
    look = Look(elevation, plan.framing.eye_height_m, plan.refraction_k, LOOKS_M)
    answered = list(minutes.items())[:MOST_MINUTES]
    few = len(answered) * cells.shape[0] * cells.shape[1] <= FEW_RAYS
    found = []
    for time, lenses in answered:
        instant = np.datetime64(utc_array(time).item(), "us")
        if few:
            margin = _from_each_cell(look, cells, nodes, plan.target, instant)
        else:
            middle, _ = direction(
                plan.target, lat=plan.subject.lat, lon=plan.subject.lon, times=instant
            )
            passes = MinutePasses.of(nodes, plan.target, float(middle), instant, 0.0)
            over = replace(look, elevation=swept_of(elevation))
            ground = GroundAhead(cells, over, passes.bearings_deg)
            margin = passes.margin(ground, nodes, AreaPart.whole(cells))
            margin[under_cover(elevation, *AreaPart.whole(cells).of_raster(cells))] = np.nan
        stand = plan.lenses[lenses[0]].stand
        sigma = float("nan") if stand is None else stand.clearance_sigma_deg
        found.append(ClearGround(time, tuple(lenses), cells, margin, sigma, LOOKS_M))
    return tuple(found)


def _from_each_cell(
    look: Look, cells: AreaCells, nodes: Nodes, target: Target, instant: np.datetime64
) -> Singles:
    """Clearance of every cell on its own ray to the target, degrees; NaN where it is unknown."""
    row, col = np.mgrid[cells.row0 : cells.row1, cells.col0 : cells.col1]
    here = look.elevation.grid.places(row=row.ravel(), col=col.ravel())
    azimuth, altitude = direction(
        target, lat=here.lat, lon=here.lon, height_m=nodes.height_m, times=instant
    )
    seen = look.elevation.skylines(
        lat=here.lat,
        lon=here.lon,
        azimuths_deg=azimuth,
        eye_height_m=look.eye_height_m,
        max_distance_m=look.reach_m,
        refraction_k=look.refraction_k,
        to_the_last_bit=False,
    )
    margin = np.where(_void_could_hide_more(seen), np.nan, altitude - seen.altitudes_deg)
    return margin.reshape(cells.shape).astype(np.float32)


def _void_could_hide_more(seen: Skylines) -> NDArray[np.bool_]:
    """Tell on which rays a void, as high as the raster's highest ground, could stand higher."""
    drop = drop_per_m2(seen.refraction_k)
    over = seen.highest_ground_m - (seen.eye_ground_m + seen.eye_height_m)
    # Ground below the eye looks highest where the level surface falls away as fast as it.
    crest = np.sqrt(np.maximum(-over, 0.0) / drop) if drop > 0.0 else np.inf
    at = np.maximum(seen.unknown_from_m, np.where(over < 0.0, crest, 0.0))
    with np.errstate(invalid="ignore"):
        could: NDArray[np.bool_] = over / at - drop * at > np.tan(np.radians(seen.altitudes_deg))
    return could


def _minutes(plan: Plan) -> dict[dt.datetime, list[int]]:
    """Whole minutes in order, and the lenses that stand at each."""
    import datetime as dt

    stands = [(lens.stand.time, i) for i, lens in enumerate(plan.lenses) if lens.stand]
    minutes: dict[dt.datetime, list[int]] = {}
    for time, i in sorted(stands):
        whole = (time + dt.timedelta(seconds=30)).astimezone(dt.UTC)
        minutes.setdefault(whole.replace(second=0, microsecond=0), []).append(i)
    return minutes
