"""A plan's stands for other heights of the subject, for the card that goes into the pocket."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.alignment.stand.scene import Scene
from backbearing.alignment.stand.settled_stands import LensTimes, settle_all
from backbearing.plan.correction import StandsByHeight
from backbearing.plan.turns import as_planned, order_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.terrain.elevation import Elevation

MEASURED_DROP: Final = "measured drop"
"""What a stand says of its ground where the outing gave a drop."""


def stands_by_height(
    plan: Plan, elevation: Elevation | None, heights_m: Sequence[float]
) -> StandsByHeight:
    """Settle each planned stand anew for other heights of the subject, without skylines.

    Parameters
    ----------
    plan : Plan
    elevation : Elevation or None
        The ground that the plan stands on.
    heights_m : sequence of float
        Metres; the planned height is put among them.

    Returns
    -------
    StandsByHeight
        The outline and an assumed width grow with the height, as they do in an outing.
    """
    planned = as_planned(plan)
    order = [i for i in order_of(plan) if planned.lenses[i].stand is not None]
    own_m = plan.subject.height_m
    heights = sorted({*(float(height) for height in heights_m), own_m})
    asked = [
        LensTimes(_scene(plan, lens, lens.stand, elevation, height), lens.lens, [lens.stand.time])
        for height in heights
        for lens in (planned.lenses[i] for i in order)
        if lens.stand is not None
    ]
    # Scenes of one height share their subject, as rows of one question must.
    found: list[float] = []
    for start in range(0, len(asked), max(len(order), 1)):
        rows = settle_all(asked[start : start + len(order)], skyline=False)
        found += [float(row.places.distance_m[0]) for row in rows]
    many = len(order)
    return StandsByHeight(
        heights_m=tuple(heights),
        planned=heights.index(own_m),
        lenses=tuple(order),
        distances_m=tuple(tuple(found[k * many : (k + 1) * many]) for k in range(len(heights))),
    )


def _scene(
    plan: Plan, lens: LensPlan, stand: Stand, elevation: Elevation | None, height_m: float
) -> Scene:
    scene = Scene(
        subject=plan.subject.as_high_as(height_m),
        subject_ground_m=plan.subject_ground_m,
        target=plan.target,
        camera=plan.camera,
        framing=plan.framing,
        elevation=elevation,
        refraction_k=plan.refraction_k,
    ).with_share(lens.asked_share)
    if stand.ground_source == MEASURED_DROP:
        return scene.with_drop(plan.subject_ground_m - stand.ground_m)
    return scene
