"""Trees and buildings as stands meet them: before the target, over the tripod, at the subject."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.geodesy import point_along
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.terrain.cover.covered_elevation import covered_of
from backbearing.terrain.cover.covered_rays import covered_rays
from backbearing.terrain.cover.kinds import UNDER_COVER_M, WORDS, CoverKind
from backbearing.terrain.cover.near_cover import NEAR_GROUND_CELLS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.outing.subject import Subject
    from backbearing.terrain.cover.covered_elevation import CoveredElevation

CROWN_SHARE: Final = 0.5
"""A tree's crown reaches as far as half its height (common practice, no source)."""

SAME_SKYLINE_DEG: Final = 1e-3
"""A skyline that stands higher than the cover's by more is a measured mark's."""


class CoverSeen(NamedTuple):
    """What cover does at a stand: the bare skyline, what stands on it, and what to say.

    ``bare_deg`` is NaN and ``words`` empty where nothing is known of cover.
    """

    bare_deg: float = float("nan")
    words: str = ""
    cautions: tuple[str, ...] = ()


def cleared_at(subject: Subject, covered: CoveredElevation) -> CoveredElevation:
    """Take the subject itself off the cover: a lone tree is no wood before the target.

    Cleared is half its height or width, whichever is more, and a cell about it.
    """
    return covered.clear_about(
        lat=subject.lat,
        lon=subject.lon,
        radius_m=crown_radius_m(
            subject.height_m, np.nan if subject.width_m is None else subject.width_m
        ),
    )


def crown_radius_m(height_m: np.ndarray | float, width_m: np.ndarray | float) -> np.ndarray:
    """How far things of such a height and width reach to the side, metres."""
    crown = np.fmax(CROWN_SHARE * np.asarray(height_m), 0.5 * np.asarray(width_m))
    return np.asarray(np.nan_to_num(crown))


def cover_seen(scenes: Sequence[Scene], settled: Sequence[Settled]) -> list[CoverSeen]:
    """Look at the cover from stands, the middle ones of three settled moments.

    The scenes share their ground.
    """
    covered = covered_of(scenes[0].elevation)
    if covered is None:
        return [CoverSeen()] * len(scenes)
    lat, lon, ground, azimuth, target, skyline = np.array(
        [
            (
                *(float(column[1]) for column in (at.lat, at.lon, at.ground_m)),
                one.target_azimuth_deg[1],
                one.target_altitude_deg[1],
                one.skyline_deg[1],
            )
            for one in settled
            for at in [one.places]
        ]
    ).T
    raster = np.asarray(covered.height_at(lat=lat, lon=lon), dtype=np.float64)
    seen = covered.skylines(
        lat=lat,
        lon=lon,
        azimuths_deg=azimuth,
        eye_height_m=[scene.framing.eye_height_m for scene in scenes],
        max_distance_m=[scene.reach_m for scene in scenes],
        refraction_k=scenes[0].refraction_k,
        ground_m=np.fmax(ground, raster),
        to_the_last_bit=False,
    )
    rays = covered_rays(seen)
    assert rays is not None  # noqa: S101  # a raster with cover says what is covered
    there = covered.cover_at(lat=seen.skyline_lat, lon=seen.skyline_lon, near=rays.are_near)
    here = covered.cover_at(lat=lat, lon=lon, nearest=True, near=True)
    unknown = unknown_from_m(covered, lat, lon, azimuth, seen.distances_m)
    said = []
    for i in range(len(scenes)):
        by_mark = not skyline[i] <= seen.altitudes_deg[i] + SAME_SKYLINE_DEG
        bare = float(rays.bare_deg[i])
        ridge = Ridge(
            float(target[i]) - bare,
            float(target[i] - seen.altitudes_deg[i]),
            float(seen.distances_m[i]),
            float(there.height_m[i]),
            CoverKind(int(there.kind[i])) if rays.are_covered[i] else CoverKind.NONE,
        )
        words = "" if by_mark else cover_words(ridge)
        over = () if by_mark else ridge_words(ridge, covered.stack.names)
        over += under_words(float(here.height_m[i]), CoverKind(int(here.kind[i])))
        over += unknown_words(float(unknown[i]), covered.stack.names)
        said.append(CoverSeen(bare, words, over))
    return said


def unknown_from_m(
    covered: CoveredElevation,
    lat: np.ndarray,
    lon: np.ndarray,
    azimuth_deg: np.ndarray,
    skyline_m: np.ndarray,
) -> np.ndarray:
    """How near, on the ways from stands to their skylines, cover begins to be unknown; (n,).

    Metres; NaN where it is known all the way, or as far as trees would look much higher than
    the skyline: `NEAR_GROUND_CELLS`. Looked at every half cell of the ground.
    """
    step = covered.cell_size_m / 2.0
    away = step * np.arange(1.0, 2.0 * NEAR_GROUND_CELLS + 1.0)
    end = point_along(
        lat=lat[:, None], lon=lon[:, None], azimuth_deg=azimuth_deg[:, None], distance_m=away
    )
    found = covered.cover_at(lat=end.lat, lon=end.lon, nearest=True, near=True)
    unknown = np.isnan(found.height_m).reshape(end.lat.shape) & (away < skyline_m[:, None] - step)
    return np.where(unknown.any(axis=1), away[unknown.argmax(axis=1)], np.nan)


def unknown_words(from_m: float, names: tuple[str, ...]) -> tuple[str, ...]:
    """Say that trees near the eye may hide the target, for no file knows them."""
    if not np.isfinite(from_m):
        return ()
    unknown = (
        f"From {length(from_m)} on towards the target no height of trees is in "
        f"{' or '.join(names)}: look whether any stand there."
    )
    return (unknown,)


class Ridge(NamedTuple):
    """How clear a target stands of a ridge, bare and covered, degrees, and what stands on it."""

    bare_clearance_deg: float
    clearance_deg: float
    distance_m: float
    cover_m: float
    kind: CoverKind


def cover_words(ridge: Ridge) -> str:
    """What makes the skyline: a word for it, empty for bare ground, ``unknown`` where unknown."""
    if ridge.kind is not CoverKind.NONE:
        guess = " (its height is a guess)" if ridge.kind.is_guess else ""
        return f"{WORDS[ridge.kind]}, {num(ridge.cover_m, 0)} m{guess}"
    return "" if np.isfinite(ridge.cover_m) else "unknown"


def ridge_words(ridge: Ridge, names: tuple[str, ...]) -> tuple[str, ...]:
    """Say both clearances of a covered ridge, or that its cover is unknown; nothing otherwise."""
    if not np.isfinite(ridge.clearance_deg):
        return ()
    if ridge.kind is not CoverKind.NONE:
        over = (
            f"{num(ridge.clearance_deg, 1)}° over {WORDS[ridge.kind]} at {length(ridge.distance_m)}"
        )
        doubt = "; its height is a guess" if ridge.kind.is_guess else ""
        bare = f"{num(ridge.bare_clearance_deg, 1)}° over bare ground"
        return (f"The target stands {bare}, {over}{doubt}.",)
    if np.isfinite(ridge.cover_m):
        return ()
    unknown = (
        f"Whether trees stand on the skyline at {length(ridge.distance_m)} is unknown: no height "
        f"there in {' or '.join(names)}; it counts as bare."
    )
    return (unknown,)


def under_words(height_m: float, kind: CoverKind) -> tuple[str, ...]:
    """Say that a stand lies under trees or a roof."""
    if not height_m >= UNDER_COVER_M:
        return ()
    guess = ", a guess" if kind.is_guess else ""
    under = (
        f"The stand lies under {WORDS[kind]} ({num(height_m, 0)} m{guess}): look for a gap to the "
        "sky there."
    )
    return (under,)
