"""What every lens sees at one minute, quickly enough to be turned by hand.

The same views as a plan's own pictures, worked out as finely as the page shows them.
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.stand.lens_figures import longest_shutter
from backbearing.alignment.stand.sky_behind import behind_each
from backbearing.alignment.view.bodies import sky_adds_mag
from backbearing.alignment.view.lens_views import view_of
from backbearing.camera.framing import Frame
from backbearing.drawing.mark_rows import panel_rows
from backbearing.drawing.palette import VIEW, VIEW_RED
from backbearing.pictures.preview_frame import frame_panel, star_dots, star_rgb
from backbearing.plan.view import Stars

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.land.dark_sky import DarkSky
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.plan.view import View
    from backbearing.terrain.elevation import Elevation

FRAME_PX: Final = 480
"""Width that a lens's picture is worked out for."""


def quick_views(
    plan: Plan,
    stands: Sequence[Stand | None],
    elevation: Elevation | None,
    sky: DarkSky | None = None,
) -> list[View | None]:
    """Look through every lens from its stand of one minute; None where it has none.

    ``plan`` gives the facts that all lenses share. What Moon and twilight add to the sky is worked
    out at the first stand, and stands for all: they are at most a few kilometres apart.
    """
    first = next((stand for stand in stands if stand is not None), None)
    if first is None:
        return [None] * len(stands)
    height = first.ground_m if math.isfinite(first.ground_m) else plan.subject_ground_m
    added = sky_adds_mag(plan, first, height)
    return [
        None
        if stand is None
        else view_of(plan, seen_by(plan, stand, sky), elevation, width_px=FRAME_PX, adds_mag=added)
        for stand in stands
    ]


def seen_by(plan: Plan, stand: Stand, sky: DarkSky | None = None) -> LensPlan:
    """A lens of the plan put to a stand, with the dark sky behind its target."""
    one = plan.lenses[0]
    behind = None if sky is None else behind_each(sky, [stand])[0]
    return replace(one, lens=stand.lens, stand=stand, figures=replace(one.figures, behind=behind))


def frame_rows(view: View, stand: Stand, outing: Outing, *, red: bool) -> dict[str, Any]:
    """One lens's picture as rows to paint, with what a hand may take hold of.

    Fractions count from the frame's left and lower edge.
    """
    palette = VIEW_RED if red else VIEW
    # Stars are a thousand marks: they go as columns of numbers instead.
    empty = Stars(*(getattr(view.stars, part.name)[:0] for part in fields(Stars)))
    starless = replace(view, sky=replace(view.sky, stars=empty))
    panel = frame_panel(starless, x=0, y=0, width=FRAME_PX, palette=palette, guides=False)
    shutter_s, _ = longest_shutter(outing.camera, stand.lens, stand, outing.accepted_trail_px)
    return {
        **panel_rows(panel),
        "stars": _stars(view, red=red),
        "caption": view.caption,
        "base_margin": stand.base_margin,
        "share": stand.share,
        "target": [_known(part) for part in view.target],
        "shutter_s": _known(shutter_s),
        "cuts": _cuts(stand, outing),
    }


def _stars(view: View, *, red: bool) -> dict[str, Any]:
    """The stars as columns, the faintest first: place, radius, ink and how strong."""
    dots = star_dots(view, FRAME_PX, FRAME_PX / view.aspect)
    packed = star_rgb(view.stars.b_v, red=red) @ np.array([65536, 256, 1])
    return {
        "x": np.round(dots.x, 2).tolist(),
        "y": np.round(dots.y, 2).tolist(),
        "radius": np.round(dots.radius, 2).tolist(),
        "alpha": np.round(dots.alpha, 2).tolist(),
        "ink": [f"#{ink:06x}" for ink in packed.tolist()],
        "halos": np.flatnonzero(dots.halo).tolist(),
    }


def _cuts(stand: Stand, outing: Outing) -> list[list[Any]]:
    """What the longer lenses would keep of this frame, held alike on the same tripod.

    Each its label and the left, lower, right and upper edge of what it keeps, on the frame's own
    middle lines.
    """
    camera, own = outing.camera, stand.lens
    held = Frame(camera, own, stand.pitch_deg, stand.bearing_deg)
    found: list[list[Any]] = []
    for one in outing.lenses:
        if one.lens.focal_length_mm <= own.focal_length_mm:
            continue
        longer = Frame(camera, one.lens, stand.pitch_deg, stand.bearing_deg)
        middles = longer.direction(np.array([0.0, 0.5, 1.0, 0.5]), np.array([0.5, 0.0, 0.5, 1.0]))
        x, y = held.place(*middles)
        edges = [float(x[0]), float(y[1]), float(x[2]), float(y[3])]
        if all(0.0 < edge < 1.0 for edge in edges):
            found.append([one.lens.label, [round(edge, 4) for edge in edges]])
    return found


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
