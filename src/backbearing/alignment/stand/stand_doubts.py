"""The doubt of stands: how far the skyline below the target may be off, for all in one go."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.cloud_seen import with_cloud
from backbearing.alignment.stand.uncertainty import errors_of, verdict
from backbearing.base.numbers import num
from backbearing.base.text import rise_words
from backbearing.plan.stand import StandDoubt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.skylines import Skylines


def no_doubt_yet(scene: Scene) -> StandDoubt:
    """The doubt of a stand before it is worked out: nothing may be said of its clearance."""
    return StandDoubt(scene.position_sigma_m, math.nan, math.nan, "unknown")


def plan_with_doubts(plan: Plan, scene: Scene) -> Plan:
    """Return the plan with the doubt of every stand of its lenses and turns, asked together."""
    shots = () if plan.session is None else plan.session.shots
    held = [one.stand for one in plan.lenses if one.stand is not None]
    shown = with_doubts([*held, *(shot.stand for shot in shots)], scene)
    found = iter(with_cloud(shown, scene.forecast))
    lenses = tuple(
        one if one.stand is None else replace(one, stand=next(found)) for one in plan.lenses
    )
    session = plan.session
    if session is not None:
        turns = tuple(replace(shot, stand=next(found)) for shot in shots)
        session = replace(session, shots=turns)
    return replace(plan, lenses=lenses, session=session)


def with_doubts(stands: Sequence[Stand], scene: Scene, seen: Skylines | None = None) -> list[Stand]:
    """Return stands with their doubt, and with what it leaves to be said of the ridge.

    Parameters
    ----------
    stands : sequence of Stand
        Of one scene; its drop and share may be another's.
    scene : Scene
    seen : Skylines, optional
        Those of all the stands by `target_skylines`, where they are known already.
    """
    asked = [i for i, stand in enumerate(stands) if math.isfinite(stand.clearance_deg)]
    said = list(stands)
    if scene.elevation is None or not asked:
        return said
    if seen is None or len(asked) < len(stands):
        seen = target_skylines([stands[i] for i in asked], scene, scene.elevation)
    found = scene.elevation.skyline_doubt(seen, errors_of(scene, scene.elevation))
    for i, sigma, bias in zip(
        asked, found.sigma_deg.tolist(), found.rise_deg.tolist(), strict=True
    ):
        grade = verdict(stands[i].clearance_deg, sigma, bias)
        doubt = StandDoubt(scene.position_sigma_m, sigma, bias, grade)
        cautions = (*stands[i].cautions, *_ridge_cautions(stands[i], doubt))
        said[i] = replace(stands[i], doubt=doubt, cautions=cautions)
    return said


def target_skylines(stands: Sequence[Stand], scene: Scene, elevation: Elevation) -> Skylines:
    """Look from each stand towards its target, over the ground as it is believed there."""
    lat, lon, azimuth, ground = np.array(
        [(one.lat, one.lon, one.target_azimuth_deg, one.ground_m) for one in stands]
    ).T
    raster = np.asarray(elevation.height_at(lat=lat, lon=lon), dtype=np.float64)
    return elevation.skylines(
        lat=lat,
        lon=lon,
        azimuths_deg=azimuth,
        eye_height_m=scene.framing.eye_height_m,
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
        # Never inside the raster's ground, as when the skyline itself was found.
        ground_m=np.fmax(ground, raster),
        to_the_last_bit=False,
    )


def _ridge_cautions(stand: Stand, doubt: StandDoubt) -> list[str]:
    clearance, sigma = stand.clearance_deg, doubt.clearance_sigma_deg
    if doubt.verdict == "hidden":
        return [f"A ridge hides the target by {num(-clearance, 1)}° ± {num(sigma, 1)}°."]
    if doubt.verdict == "too close to call":
        rise = rise_words(doubt.clearance_bias_deg)
        more = f"; {rise}" if rise else ""
        over = f"{num(clearance, 1, sign=True)}° ± {num(sigma, 1)}°"
        return [f"The ridge is too close to call: {over}{more}."]
    if stand.canopy_clearance_deg < 0.0:
        return [
            f"Trees on the ridge would hide the target by {num(-stand.canopy_clearance_deg, 1)}°."
        ]
    return []
