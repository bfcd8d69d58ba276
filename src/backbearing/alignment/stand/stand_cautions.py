"""What the data can see that may hurt or spoil at a stand, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.uncertainty import NEAR_GROUND_M
from backbearing.base.cautions import STEEP_DEG
from backbearing.base.geodesy import altitude_of, point_along
from backbearing.base.numbers import num, per_cent
from backbearing.base.text import length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.stand import StandSkyline

HIGH_ALTITUDE_DEG = 70.0
"""Above this a bearing says little: azimuth runs away towards the zenith."""

TRIPOD_M = 0.5
"""A tripod's feet reach so far from its middle (common practice, no source)."""


SIDES_DEG: Final = np.array([0.0, 90.0, 180.0, 270.0])
"""To these sides of a stand the raster's slope is taken, half a cell away."""

BEFORE: Final = np.linspace(0.05, 0.95, 31)
"""Shares of the way from stand to subject at which the ground is looked at."""


class GroundSeen(NamedTuple):
    """What the raster has at a stand and before it, degrees; NaN where nothing is known.

    ``slope_deg`` is that of the ground over one cell, ``highest_before_deg`` the altitude at which
    the ground between stand and subject stands highest.
    """

    slope_deg: float = float("nan")
    highest_before_deg: float = float("nan")


def stand_cautions(
    scene: Scene,
    lens: Lens,
    settled: Settled,
    skyline: StandSkyline,
    seen: GroundSeen,
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
            f"The skyline below the target is ground within {length(NEAR_GROUND_M)}: rocks, bushes "
            "and hollows so near are in no raster; look for yourself."
        )
    if skyline.break_deg < 0.0:
        said.append(
            f"The subject's top stands {num(-skyline.break_deg, 1)}° below the land behind it: "
            "no skyline break."
        )
    said.extend(_beside_caution(scene, float(at.distance_m[1])))
    said.extend(_behind_caution(scene, settled))
    said.extend(_ground_cautions(settled, seen))
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


def ground_seen(scenes: Sequence[Scene], settled: Sequence[Settled]) -> list[GroundSeen]:
    """Look at the ground at and before stands, the middle ones of three, all together.

    The scenes share their raster and refraction.
    """
    elevation, n = scenes[0].elevation, len(scenes)
    if elevation is None:
        return [GroundSeen()] * n
    lat, lon, ground, distance, bearing = (
        np.array([getattr(one.places, name)[1] for one in settled])
        for name in ("lat", "lon", "ground_m", "distance_m", "bearing_deg")
    )
    there = np.isfinite(distance)
    half = elevation.cell_size_m / 2.0
    between = np.where(there, distance, 1.0) * BEFORE[:, None]
    azimuth = np.concatenate([np.broadcast_to(SIDES_DEG[:, None], (len(SIDES_DEG), n)), between])
    azimuth[len(SIDES_DEG) :] = np.nan_to_num(bearing)
    end = point_along(
        lat=np.where(there, lat, 0.0),
        lon=np.where(there, lon, 0.0),
        azimuth_deg=azimuth,
        distance_m=np.concatenate([np.full((len(SIDES_DEG), n), half), between]),
    )
    heights = elevation.height_at(lat=end.lat, lon=end.lon)
    north, east, south, west = heights[: len(SIDES_DEG)]
    slope = np.degrees(np.arctan(np.hypot(north - south, east - west) / (2.0 * half)))
    rise = heights[len(SIDES_DEG) :] - (ground + [one.framing.eye_height_m for one in scenes])
    hidden = np.fmax.reduce(
        altitude_of(rise, between, scenes[0].refraction_k), axis=0, initial=-90.0
    )
    return [GroundSeen(*row) for row in zip(slope.tolist(), hidden.tolist(), strict=True)]


def _ground_cautions(settled: Settled, seen: GroundSeen) -> list[str]:
    """Say what the raster sees: steep ground at the stand, ground in the line of sight."""
    said = []
    if seen.slope_deg >= STEEP_DEG:
        said.append(f"Steep ground: the raster slopes {num(seen.slope_deg, 0)}° at the stand.")
    if seen.highest_before_deg > settled.places.base_altitude_deg[1] + 0.05:
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
