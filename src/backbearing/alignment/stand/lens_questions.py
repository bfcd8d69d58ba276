"""Scenes and lenses as the solver's rows: what is asked of each, and the ground behind it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.stand.solve import GroundAlong, StandQuestions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


class LensRows(NamedTuple):
    """One lens, framed as its scene has it, and how many rows in turn ask for it."""

    scene: Scene
    lens: Lens
    rows: int


def stand_questions(asked: Sequence[LensRows]) -> StandQuestions:
    """Put the lenses' questions free of cameras, each on rows of its own.

    The scenes share their refraction; all else may differ.
    """
    scenes, counts = [one.scene for one in asked], [one.rows for one in asked]
    fits = [one.scene.fit(one.lens) for one in asked]
    over = np.array([scene.base_over_eye_m() for scene in scenes])
    level = [float(fit.level_m(over[i : i + 1])[0]) for i, fit in enumerate(fits)]

    def excess(which: Ints, distance_m: Floats, rise_m: Floats) -> Floats:
        """Each lens's own, on those of the rows that are its own; the rows rise."""
        out = np.empty(rise_m.shape)
        ends = np.searchsorted(which.reshape(len(which), -1)[:, 0], np.cumsum(counts))
        for fit, (first, last) in zip(fits, pairwise([0, *ends]), strict=True):
            if first < last:
                rows = slice(first, last)
                out[rows] = fit.excess(which[rows], distance_m[rows], rise_m[rows])
        return out

    return StandQuestions(
        base_m=np.repeat([s.subject_ground_m + s.subject.base_height_m for s in scenes], counts),
        height_m=np.repeat([s.subject.height_m for s in scenes], counts),
        eye_height_m=np.repeat([s.framing.eye_height_m for s in scenes], counts),
        base_over_eye_m=np.repeat(over, counts),
        level_m=np.repeat(level, counts),
        refraction_k=scenes[0].refraction_k,
        excess=excess,
    )


def ground_along(asked: Sequence[LensRows], reach_m: float, back_deg: Floats) -> GroundAlong:
    """Give ground heights behind the subject: as measured, level, or by the raster.

    The scenes share their subject and raster; ``reach_m`` is how far heights are asked for.
    """
    scene = asked[0].scene
    fixed = np.repeat([_fixed_ground_m(one.scene) for one in asked], [one.rows for one in asked])
    if scene.elevation is None or not np.isnan(fixed).any() or reach_m == 0.0:
        return lambda which, distance_m: np.broadcast_to(
            fixed[which], np.broadcast_shapes(which.shape, distance_m.shape)
        )
    subject = scene.subject
    around = scene.elevation.about(lat=subject.lat, lon=subject.lon, reach_m=reach_m)

    def heights(which: Ints, distance_m: Floats) -> Floats:
        raster = around.height_along(back_deg[which], distance_m)
        return np.where(np.isnan(fixed[which]), raster, fixed[which])

    return heights


def distances_on_lifted_ground_m(
    asked: Sequence[tuple[Scene, Lens]], back_deg: Floats, lifts_m: Floats
) -> Floats:
    """Distances of lenses' stands on bearings, (n,), if the ground were higher by lifts, (n, k)."""
    count = lifts_m.shape[1]
    rows = [LensRows(scene, lens, count) for scene, lens in asked]
    questions = stand_questions(rows)
    # The subject so much lower over the same ground is the same question.
    lower = replace(questions, base_m=questions.base_m - lifts_m.ravel())
    ground = ground_along(rows, questions.reach_m, np.repeat(back_deg, count))
    return lower.distances_m(ground).reshape(lifts_m.shape)


def _fixed_ground_m(scene: Scene) -> float:
    """Elevation of the ground behind the subject, wherever that is; NaN where the raster tells."""
    if scene.framing.stand_drop_m is not None:
        return scene.subject_ground_m - scene.framing.stand_drop_m
    return scene.subject_ground_m if scene.elevation is None else float("nan")
