"""Everything about a lens that follows from its stand: for a plan, and again when it moves."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.stand import lens_optics
from backbearing.alignment.stand.lens_air import air_facts
from backbearing.alignment.stand.lens_tracking import tracker_facts
from backbearing.alignment.stand.sky_behind import as_zenith, behind_each, dark_sky_over
from backbearing.camera.exposure import STANDARD_SHUTTERS_S
from backbearing.camera.focus import hyperfocal_distance_m, subject_blur_px
from backbearing.camera.frame_trails import trails_in_frame
from backbearing.camera.trailing import trail_at
from backbearing.plan.optics import LensFigures

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.camera.frame_trails import FrameTrails
    from backbearing.outing.request import Outing
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.stand import Stand


class LensStand(NamedTuple):
    """A lens as its scene frames it, its own share and drop in place, and its stand if any."""

    scene: Scene
    lens: Lens
    stand: Stand | None


def lens_figures(scene: Scene, lens: Lens, stand: Stand | None, outing: Outing) -> LensFigures:
    """Do as `figures_of_each` for one lens."""
    return figures_of_each([LensStand(scene, lens, stand)], outing)[0]


def figures_of_each(asked: Sequence[LensStand], outing: Outing) -> list[LensFigures]:
    """Work out shutter, trails, focus, light and the core's width at lenses' stands.

    Parameters
    ----------
    asked : sequence of LensStand
        Their scenes share subject and target.
    outing : Outing

    Returns
    -------
    list of LensFigures
        For a ``LensPlan``: again, whenever its stand is replaced. NaN and None throughout where
        there is no stand, but for the hyperfocal distance.
    """
    stands = [one.stand for one in asked if one.stand is not None]
    skies = iter(_skies(asked[0].scene, stands, outing) if stands else ())
    return [
        LensFigures(_hyperfocal_m(one.lens))
        if one.stand is None
        else _figures(one.scene, one.lens, one.stand, outing, next(skies))
        for one in asked
    ]


def _skies(
    scene: Scene, stands: Sequence[Stand], outing: Outing
) -> list[tuple[BehindFacts, float]]:
    """The dark sky behind the target at each stand, and what the Moon adds to it, magnitudes."""
    sky = dark_sky_over(scene, outing)
    behind = behind_each(sky, stands)
    zenith = as_zenith(sky, stands, behind)
    return list(zip(behind, lens_optics.moons_add_mag(scene, stands, zenith), strict=True))


def longest_shutter(
    camera: Camera, lens: Lens, stand: Stand, accepted_px: float
) -> tuple[float, float]:
    """Longest standard shutter whose trail at the target is accepted, seconds, and it in pixels.

    NaN for both where no shutter is short enough, or the target is out of the frame's reach.
    """
    if not np.isfinite(stand.target_x):
        return math.nan, math.nan
    series = np.sort(np.asarray(STANDARD_SHUTTERS_S, dtype=np.float64))
    trails = trail_at(
        camera,
        lens,
        x=stand.target_x,
        y=stand.target_y,
        shutter_s=series,
        pitch_deg=stand.pitch_deg,
        azimuth_deg=stand.bearing_deg,
        lat=stand.lat,
    )
    accepted = np.flatnonzero(trails <= accepted_px)
    if not accepted.size:
        return math.nan, math.nan
    best = int(accepted[-1])
    return float(series[best]), float(trails[best])


def _hyperfocal_m(lens: Lens) -> float:
    return float(hyperfocal_distance_m(lens.focal_length_mm, lens.f_number))


def _figures(
    scene: Scene, lens: Lens, stand: Stand, outing: Outing, sky: tuple[BehindFacts, float]
) -> LensFigures:
    behind, moon_mag = sky
    shutter_s, core_px, trails = _trails(scene, lens, stand, outing.accepted_trail_px)
    return LensFigures(
        hyperfocal_m=_hyperfocal_m(lens),
        infinity_blur_px=float(subject_blur_px(scene.camera, lens, stand.distance_m)),
        shutter_s=shutter_s,
        trail_core_px=core_px,
        trail_corner_px=math.nan if trails is None else float(trails.worst_corner_px),
        core_width_frame_heights=lens_optics.core_width_frame_heights(scene.camera, lens, stand),
        shutter=None
        if trails is None
        else lens_optics.shutter_facts(
            scene.camera,
            lens,
            stand,
            trails,
            max_trail_px=outing.accepted_trail_px,
            panorama=lens_optics.PanoramaAsked(
                lens_optics.widest_lens(outing.lenses),
                outing.panorama_overlap,
                outing.exposure.pause_s,
                any(one.panorama and one.lens == lens for one in outing.lenses),
            ),
        ),
        focus=lens_optics.focus_facts(
            scene.camera, lens, stand.distance_m, outing.accepted_blur_px
        ),
        light=lens_optics.light_facts(
            scene.camera,
            lens,
            shutter_s,
            replace(outing.exposure, sky_mag_arcsec2=behind.behind_mag_arcsec2),
            moon_mag=moon_mag,
            sky_sigma_mag=behind.behind_sigma_mag,
        ),
        tracker=None
        if outing.exposure.tracker is None
        else tracker_facts(scene, lens, stand, outing.exposure.tracker.polar_error_arcmin),
        air=air_facts(stand, scene.subject_ground_m, outing.night.aerosol_mag),
        behind=behind,
    )


def _trails(
    scene: Scene, lens: Lens, stand: Stand, accepted_px: float
) -> tuple[float, float, FrameTrails | None]:
    """Longest standard shutter whose trail at the target is accepted, that trail, and all others.

    NaN and None where no shutter is short enough.
    """
    shutter_s, trail_px = longest_shutter(scene.camera, lens, stand, accepted_px)
    if math.isnan(shutter_s):
        return math.nan, math.nan, None
    aim = {"pitch_deg": stand.pitch_deg, "azimuth_deg": stand.bearing_deg, "lat": stand.lat}
    frame = trails_in_frame(scene.camera, lens, shutter_s=shutter_s, **aim)
    return shutter_s, trail_px, frame
