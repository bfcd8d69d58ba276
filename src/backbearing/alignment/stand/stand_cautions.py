"""What the data can see that may hurt or spoil at a stand, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.uncertainty import NEAR_GROUND_M
from backbearing.base.cautions import STEEP_DEG
from backbearing.base.geodesy import altitude_of, point_along
from backbearing.base.numbers import num, per_cent
from backbearing.base.text import length

if TYPE_CHECKING:
    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.stand import StandSkyline

HIGH_ALTITUDE_DEG = 70.0
"""Above this a bearing says little: azimuth runs away towards the zenith."""

TRIPOD_M = 0.5
"""A tripod's feet reach so far from its middle (common practice, no source)."""


def stand_cautions(
    scene: Scene,
    lens: Lens,
    settled: Settled,
    skyline: StandSkyline,
) -> tuple[str, ...]:
    """Say what may hurt or spoil at the middle one of three settled moments.

    What a ridge may hide is said with the stand's doubt; see `stand_doubts`.
    """
    at = settled.places
    if not np.isfinite(at.distance_m[1]):
        return (_no_stand_reason(scene, lens),)
    said = []
    altitude = float(settled.target_altitude_deg[1])
    if altitude < 0.0:
        said.append(f"The target is {num(-altitude, 1)}° below the horizontal.")
    if altitude > HIGH_ALTITUDE_DEG:
        said.append(
            f"The target stands {num(altitude, 0)}° up: so near the zenith a bearing says little."
        )
    if settled.unknown_share[1] > 0.0:
        said.append(
            f"{per_cent(settled.unknown_share[1])} of the ground towards the target is unknown; "
            "a ridge there would not be seen."
        )
    if skyline.distance_m < NEAR_GROUND_M:
        said.append(
            f"The skyline below the target stands {length(skyline.distance_m)} away: rocks, bushes "
            "and hollows so near are in no raster; look for yourself."
        )
    if skyline.break_deg < 0.0:
        said.append(
            f"The subject's top stands {num(-skyline.break_deg, 1)}° below the land behind it: "
            "no skyline break."
        )
    said.extend(_beside_caution(scene, float(at.distance_m[1])))
    said.extend(_behind_caution(scene, settled))
    said.extend(_ground_cautions(scene, settled))
    said.extend(_frame_cautions(settled))
    return tuple(said)


def _no_stand_reason(scene: Scene, lens: Lens) -> str:
    if not np.isfinite(scene.level_distance_m(lens)):
        return (
            f"Seen from {num(scene.framing.eye_height_m)} m above the ground the subject never "
            f"fills {per_cent(scene.framing.share)} of this frame from any distance; lower the "
            "camera, ask for a smaller share, or take a longer lens."
        )
    return (
        f"No place within reach gives the subject {per_cent(scene.framing.share)} of the frame: "
        "the ground along the back bearing is unknown, or falls or rises too fast."
    )


def _ground_cautions(scene: Scene, settled: Settled) -> list[str]:
    """Say what the raster sees: steep ground at the stand, ground in the line of sight."""
    if scene.elevation is None:
        return []

    at = settled.places
    lat, lon, distance = float(at.lat[1]), float(at.lon[1]), float(at.distance_m[1])
    said = []
    slope = float(scene.elevation.slope_at(lat=lat, lon=lon))
    if slope >= STEEP_DEG:
        said.append(f"Steep ground: the raster slopes {num(slope, 0)}° at the stand.")
    between = distance * np.linspace(0.05, 0.95, 31)
    line = point_along(lat=lat, lon=lon, azimuth_deg=at.bearing_deg[1], distance_m=between)
    rise = scene.elevation.height_at(lat=line.lat, lon=line.lon) - (
        at.ground_m[1] + scene.framing.eye_height_m
    )
    hidden = np.nanmax(altitude_of(rise, between, scene.refraction_k), initial=-90.0)
    if hidden > at.base_altitude_deg[1] + 0.05:
        said.append("Ground between stand and subject hides the subject's base.")
    return said


def _beside_caution(scene: Scene, distance_m: float) -> list[str]:
    """Say when the tripod would stand within the subject, or against it."""
    wide = scene.subject.shown_width_m
    if distance_m > wide / 2.0 + TRIPOD_M:
        return []
    said = (
        f"The stand is {num(distance_m, 1)} m from the middle of a subject {length(wide)} wide: "
        "within it or against it. Ask for a smaller share, or take a longer lens."
    )
    return [said]


def _behind_caution(scene: Scene, settled: Settled) -> list[str]:
    """Say when the target is no higher than the subject and within its width."""
    at = settled.places
    above = float(settled.target_altitude_deg[1] - at.top_altitude_deg[1])
    half = np.degrees(np.arctan2(scene.subject.shown_width_m / 2.0, at.distance_m[1]))
    if settled.spoilt_behind[1]:
        said = (
            f"The target stands behind the subject itself, {num(-above, 1)}° below its top: ask "
            "for a smaller share or an offset, or say behind_subject = true."
        )
        return [said]
    if settled.behind[1] or above >= 0.0 or abs(scene.framing.offset_deg) > half:
        return []
    return [
        f"The target stands {num(-above, 1)}° below the subject's top, in a gap of its outline."
    ]


def _frame_cautions(settled: Settled) -> list[str]:
    """Say what of the subject falls outside the frame, and by how much."""
    base, share = float(settled.base_margin[1]), float(settled.share[1])
    wide = float(settled.share_width[1])
    said = []
    if base < -1e-9:
        said.append(
            f"The frame cuts off the subject's base: it falls {per_cent(-base)} of the frame's "
            "height below the lower edge; ask for a smaller share, or lower the frame (rise_mm)."
        )
    if base + share > 1.0 + 1e-9:
        said.append(
            f"The frame cuts off the subject's top: it stands {per_cent(base + share - 1.0)} of "
            "the frame's height over the upper edge; ask for a smaller share, or raise the frame."
        )
    if wide > 1.0:
        said.append(
            f"The subject is {per_cent(wide)} as wide as the frame; a share of at most "
            f"{num(share / wide, 2)} of the height shows all of it."
        )
    return said
