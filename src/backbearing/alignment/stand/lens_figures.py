"""Everything about a lens that follows from its stand: for a plan, and again when it moves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand import lens_optics
from backbearing.camera.exposure import STANDARD_SHUTTERS_S
from backbearing.camera.focus import hyperfocal_distance_m, subject_blur_px
from backbearing.camera.frame_trails import trails_in_frame
from backbearing.camera.trailing import trail_at
from backbearing.plan.optics import LensFigures

if TYPE_CHECKING:
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import Outing
    from backbearing.plan.stand import Stand


def lens_figures(scene: Scene, lens: Lens, stand: Stand | None, outing: Outing) -> LensFigures:
    """Work out shutter, trails, focus, light and the core's width at a stand.

    Parameters
    ----------
    scene : Scene
        As the lens saw it, its own share and drop in place.
    lens : Lens
    stand : Stand or None
        NaN and None throughout where there is none, but for the hyperfocal distance.
    outing : Outing

    Returns
    -------
    LensFigures
        For a ``LensPlan``: again, whenever its stand is replaced.
    """
    hyperfocal = float(hyperfocal_distance_m(lens.focal_length_mm, lens.f_number))
    if stand is None:
        return LensFigures(hyperfocal)
    shutter_s, core_px, corner_px = _trails(scene, lens, stand, outing.accepted_trail_px)
    return LensFigures(
        hyperfocal_m=hyperfocal,
        infinity_blur_px=float(subject_blur_px(scene.camera, lens, stand.distance_m)),
        shutter_s=shutter_s,
        trail_core_px=core_px,
        trail_corner_px=corner_px,
        core_width_frame_heights=lens_optics.core_width_frame_heights(scene.camera, lens, stand),
        shutter=lens_optics.shutter_facts(
            scene.camera,
            lens,
            stand,
            shutter_s,
            max_trail_px=outing.accepted_trail_px,
            panorama=lens_optics.PanoramaAsked(
                lens_optics.widest_lens(outing.lenses), outing.panorama_overlap
            ),
        ),
        focus=lens_optics.focus_facts(
            scene.camera, lens, stand.distance_m, outing.accepted_blur_px
        ),
        light=lens_optics.light_facts(
            scene.camera,
            lens,
            shutter_s,
            outing.exposure,
            moon_mag=lens_optics.moon_adds_mag(scene, stand, outing.exposure.sky_mag_arcsec2),
        ),
    )


def _trails(
    scene: Scene, lens: Lens, stand: Stand, accepted_px: float
) -> tuple[float, float, float]:
    """Longest standard shutter whose trail at the target is accepted, and its two trails."""
    if not np.isfinite(stand.target_x):
        return (math.nan, math.nan, math.nan)
    aim = {"pitch_deg": stand.pitch_deg, "azimuth_deg": stand.bearing_deg, "lat": stand.lat}
    series = np.sort(np.asarray(STANDARD_SHUTTERS_S, dtype=np.float64))
    trails = trail_at(
        scene.camera, lens, x=stand.target_x, y=stand.target_y, shutter_s=series, **aim
    )
    accepted = np.flatnonzero(trails <= accepted_px)
    if not accepted.size:
        return (math.nan, math.nan, math.nan)
    best = int(accepted[-1])
    worst = trails_in_frame(
        scene.camera, lens, shutter_s=float(series[best]), **aim
    ).worst_corner_px
    return float(series[best]), float(trails[best]), float(worst)
