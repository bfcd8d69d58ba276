"""How marks and raster differ, and what marks do at a plan's stands: values for every writer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.stand_doubts import target_skylines
from backbearing.base.geodesy import line_between
from backbearing.plan.marks import (
    MarkBesideRaster,
    MarkErrors,
    MarksAtStand,
    MarksFromEye,
    PlanMarks,
    RidgeMark,
)
from backbearing.terrain.marks.mark_set import FARTHEST_EYE_M
from backbearing.terrain.marks.over_raster import Eye

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.marks.marked_ground import OutingMarks, UsedMarks
    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.marks import Stands
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.terrain.horizon import Horizon

STANDS: tuple[Stands, ...] = ("as the raster", "over", "below")
"""By what `ComparedMarks.stands` says: 0, 1 and -1."""


def plan_marks(
    marked: OutingMarks, scene: Scene, lenses: Sequence[LensPlan], *, errors: bool = True
) -> PlanMarks:
    """Tell a plan's marks.

    Parameters
    ----------
    marked : OutingMarks
        The raster with the outing's marks over it.
    scene : Scene
    lenses : sequence of LensPlan
        At their minutes.
    errors : bool
        Whether tilt and turn are looked for, which takes some 10 to 200 ms.
    """
    stands = [(one.lens.label, one.stand) for one in lenses if one.stand is not None]
    return PlanMarks(
        tuple(_of_set(one, errors=errors) for one in marked.sets),
        _at_stands(marked, scene, stands),
        FARTHEST_EYE_M,
        ridge_marks(marked, _from_subject(marked, scene)),
    )


def _from_subject(marked: OutingMarks, scene: Scene) -> Horizon:
    """One ray from the plan's viewpoint: the eye is what is wanted of it."""
    return marked.bare.horizon(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        eye_height_m=scene.framing.eye_height_m,
        azimuths_deg=[0.0],
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
    )


def _of_set(one: UsedMarks, *, errors: bool) -> MarksFromEye:
    used = one.used
    marks = used.marks
    known = np.isfinite(used.over_deg)
    columns = (
        marks.azimuths_deg,
        marks.altitudes_deg,
        marks.sigmas_deg,
        marks.distances_m,
        used.raster.altitudes_deg,
        used.raster_sigma_deg,
        used.over_deg,
    )
    rows = zip(*(column.tolist() for column in columns), strict=True)
    stands: list[Stands] = [
        STANDS[int(i)] if k else "unknown" for i, k in zip(used.stands, known, strict=True)
    ]
    return MarksFromEye(
        one.read_from.words,
        marks.lat,
        marks.lon,
        marks.eye_m,
        tuple(_mark(row, say) for row, say in zip(rows, stands, strict=True)),
        _errors(one) if errors else _NOT_ASKED,
    )


def _mark(row: tuple[float, ...], say: Stands) -> MarkBesideRaster:
    azimuth, altitude, sigma, distance, raster, raster_sigma, over = row
    return MarkBesideRaster(azimuth, altitude, sigma, distance, raster, raster_sigma, over, say)


_NOT_ASKED = MarkErrors(*(float("nan"),) * 4, "not asked", False, False, 0.0, 0.0)


def _errors(one: UsedMarks) -> MarkErrors:
    found = one.read.reading_errors
    nothing = one.asked and not (one.tilt_taken_deg or one.turn_taken_deg)
    return MarkErrors(
        found.tilt_deg,
        found.tilt_sigma_deg,
        found.turn_deg,
        found.turn_sigma_deg,
        f"{found.why}; nothing is taken off" if nothing else found.why,
        found.tilted,
        found.turned,
        one.tilt_taken_deg,
        one.turn_taken_deg,
    )


def _at_stands(
    marked: OutingMarks, scene: Scene, stands: Sequence[tuple[str, Stand]]
) -> tuple[MarksAtStand, ...]:
    if not stands:
        return ()
    seen = target_skylines([stand for _, stand in stands], scene, marked)
    assert seen.marked is not None  # noqa: S101  # a marked raster says what marks do
    raises = np.where(seen.marked.are_marked, seen.altitudes_deg - seen.marked.raster_deg, 0.0)
    lat, lon = np.array([(stand.lat, stand.lon) for _, stand in stands]).T
    beyond = _out_of_reach(marked, lat, lon)
    rows = zip(stands, raises.tolist(), beyond, strict=True)
    return tuple(MarksAtStand(label, up, many) for (label, _), up, many in rows)


def _out_of_reach(
    marked: OutingMarks, lat: NDArray[np.float64], lon: NDArray[np.float64]
) -> list[int]:
    """Marks without a distance that do not hold at each of some places."""
    counts = np.zeros(len(lat), dtype=np.int64)
    for one in marked.sets:
        marks = one.used.marks
        line = line_between(lat1=marks.lat, lon1=marks.lon, lat2=lat, lon2=lon)
        counts += (line.distance_m > FARTHEST_EYE_M) * int((~marks.is_told).sum())
    found: list[int] = counts.tolist()
    return found


def ridge_marks(marked: OutingMarks, horizon: Horizon) -> tuple[RidgeMark, ...]:
    """Tell the marks as the eye of a skyline sees them, in order of azimuth.

    Parameters
    ----------
    marked : OutingMarks
    horizon : Horizon
        From that eye, with marks over it.
    """
    eye = Eye(horizon.lat, horizon.lon, horizon.eye_m, horizon.refraction_k)
    points = marked.marks.points(eye)
    if not len(points.azimuths_deg):
        return ()
    bare = marked.bare.horizon(
        lat=horizon.lat,
        lon=horizon.lon,
        eye_height_m=horizon.eye_height_m,
        azimuths_deg=points.azimuths_deg,
        max_distance_m=horizon.max_distance_m,
        refraction_k=horizon.refraction_k,
        ground_m=horizon.eye_ground_m,
    )
    order = np.argsort(points.azimuths_deg, kind="stable")
    columns = np.stack([*points, points.altitudes_deg - bare.altitudes_deg])[:, order]
    return tuple(RidgeMark(*row) for row in columns.T.tolist())
