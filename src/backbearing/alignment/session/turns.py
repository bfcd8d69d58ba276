"""Lenses as their turns in a session have them: stand, figures and placing of that turn."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.alignment.stand.lens_figures import lens_figures
from backbearing.base.grouped import flat_values
from backbearing.plan.optics import TurnFigures

if TYPE_CHECKING:
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import Outing
    from backbearing.plan.stand import Stand


def turn_figures(
    scene: Scene, lens: Lens, stand: Stand, outing: Outing, frames_minutes: float
) -> TurnFigures:
    """Work out shutter, trails, focus and light anew for a turn's own stand and minute."""
    figures = lens_figures(scene, lens, stand, outing)
    seconds = figures.shutter_s + outing.exposure.pause_s
    fit = int(60.0 * frames_minutes / seconds + 1e-9) if math.isfinite(seconds) else 0
    return TurnFigures(**flat_values(figures), frames_that_fit=fit)


def frames_minutes_for(frames: int, shutter_s: float, pause_s: float) -> float:
    """Whole minutes that so many frames and the pauses after them take, rounded up."""
    return float(math.ceil(frames * (shutter_s + pause_s) / 60.0 - 1e-9))
