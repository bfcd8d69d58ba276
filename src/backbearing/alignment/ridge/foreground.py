"""The ground round the subject from which the ridge is clear, at each stand's own minute."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.ridge.area_cells import Look, Nodes, area_cells
from backbearing.alignment.ridge.bearing_sweep import margin_at
from backbearing.plan.clearance import ClearGround
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation

WITHIN_M: Final = 2_500.0
"""Half side of the square that is answered."""

LOOKS_M: Final = 30_000.0
"""How far its cells look: a ridge 1000 m higher rises 1.9 degrees at that distance."""

MOST_MINUTES: Final = 8
"""Minutes that are answered, earliest first: each is swept by itself."""


def clear_ground(
    plan: Plan, elevation: Elevation, *, within_m: float = WITHIN_M
) -> tuple[ClearGround, ...]:
    """Sweep the subject's surroundings at the minutes of the plan's stands.

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
    look = Look(elevation, plan.framing.eye_height_m, plan.refraction_k, LOOKS_M)
    found = []
    for time, lenses in list(minutes.items())[:MOST_MINUTES]:
        instant = np.datetime64(utc_array(time).item(), "us")
        middle, _ = direction(
            plan.target, lat=plan.subject.lat, lon=plan.subject.lon, times=instant
        )
        margin, _ = margin_at(look, cells, nodes, plan.target, float(middle), instant)
        stand = plan.lenses[lenses[0]].stand
        sigma = float("nan") if stand is None else stand.clearance_sigma_deg
        found.append(ClearGround(time, tuple(lenses), cells, margin, sigma, LOOKS_M))
    return tuple(found)


def _minutes(plan: Plan) -> dict[dt.datetime, list[int]]:
    """Whole minutes in order, and the lenses that stand at each."""
    import datetime as dt

    stands = [(lens.stand.time, i) for i, lens in enumerate(plan.lenses) if lens.stand]
    minutes: dict[dt.datetime, list[int]] = {}
    for time, i in sorted(stands):
        whole = (time + dt.timedelta(seconds=30)).astimezone(dt.UTC)
        minutes.setdefault(whole.replace(second=0, microsecond=0), []).append(i)
    return minutes
