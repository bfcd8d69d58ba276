"""The skyline all round the subject, with the target's way through the night before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from starlette.routing import Route

from backbearing.alignment.night.plan_facts import SKYLINE_STEP_DEG, skyline_of
from backbearing.desk.answering import answered, changes_of
from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.desk.open_outing import OpenOuting

PATH_MINUTES = 5
"""The target's way is told every so many minutes; the page draws lines between."""


def routes(desk: OpenOuting) -> list[Route]:
    """Its one address."""

    async def ridge(request: Request) -> Response:
        changes = changes_of(request)
        return await answered(lambda: ridge_round(desk.answers.prepared(changes)))

    return [Route("/api/ridge", ridge)]


def ridge_round(night: PreparedNight) -> dict[str, Any]:
    """The skyline from the subject at eye height, and where the target goes.

    Parameters
    ----------
    night : PreparedNight

    Returns
    -------
    dict
        ``step_deg``, ``ridge_deg`` (apparent altitudes from azimuth 0 on, one a step; None
        where the ground is not known) and ``path`` (rows of time, azimuth, altitude).
    """
    scene = night.scene
    if scene.elevation is None:
        ridge = np.full(round(360.0 / SKYLINE_STEP_DEG), np.nan)
    else:
        ridge = skyline_of(scene).altitudes_deg
    times = night.sky.times[::PATH_MINUTES]
    azimuth, altitude = direction(
        scene.target,
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        times=times,
    )
    return {
        "step_deg": SKYLINE_STEP_DEG,
        "ridge_deg": [None if np.isnan(v) else round(float(v), 3) for v in ridge],
        "path": [
            [time.timestamp(), round(float(a), 3), round(float(h), 3)]
            for time, a, h in zip(times, azimuth, altitude, strict=True)
        ],
    }
