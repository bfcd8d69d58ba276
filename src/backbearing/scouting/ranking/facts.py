"""Facts of the best stands: what the raster and the user's files say of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.alignment.stand.ground_cautions import REACH_M
from backbearing.scouting.ranking.best_stands import (
    behind_deg,
    canopy_clearance_deg,
    lens_finals,
    one_of,
)
from backbearing.scouting.ranking.clutter import clutter
from backbearing.scouting.ranking.failures import target_word
from backbearing.scouting.site.town_glow import glow_sentence

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.best_stands import Finals
    from backbearing.scouting.ranking.clutter import Clutter
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.stand_solver import Group
    from backbearing.scouting.ranking.tally import Tallied

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Facts:
    """What the parts and the reasons are made of, for n candidates; shapes (n,).

    Attributes
    ----------
    which : ndarray of int
        Each candidate's best lens; 0 where there is none.
    finals, at : list of Finals, and Finals
        Every lens's own best stand, and that of the best lens.
    clutter : Clutter
    night_minutes : ndarray of uint16, shape (n, nights)
        By the best lens of each night.
    break_deg, canopy_deg, slope_deg
        Skyline break, clearance over trees, slope at the stand, degrees.
    fall_m, fall_over_m, level_cells
        Largest fall near the stand and over what length, metres; pixels dead level with it.
    stands : ndarray
        Share of the lenses that have a feasible stand.
    walk_m, walk_from
        Straight way from the nearest known way, metres, and its name.
    glow_mag, glow_words, sky_mag
        Towns' glow behind the target, and the zenith's brightness, magnitudes.
    land, land_names
        Word on the land under the stand (empty without data), and its name.
    """

    which: NDArray[np.int64]
    finals: list[Finals]
    at: Finals
    clutter: Clutter
    night_minutes: NDArray[np.uint16]
    break_deg: Floats
    canopy_deg: Floats
    slope_deg: Floats
    fall_m: Floats
    fall_over_m: Floats
    level_cells: NDArray[np.int64]
    stands: Floats
    walk_m: Floats
    walk_from: list[str]
    glow_mag: Floats
    glow_words: list[str]
    sky_mag: Floats
    land: list[str]
    land_names: list[str]


def gather_facts(context: Context, group: Group, tallied: Tallied) -> Facts:
    """Work out the best stand of every candidate and what is known of it."""
    which = tallied.best[:, :, 0].argmax(axis=1).astype(np.int64)
    finals = [lens_finals(context, tallied, i) for i in range(len(tallied.problems))]
    at = one_of(finals, which)
    fall, over, level = _surroundings(group, context, at)
    walk, walk_from = _walk(context, at)
    glow_mag, glow_words = _glow(context, at)
    land, land_names = _land(context, at)
    return Facts(
        which=which,
        finals=finals,
        at=at,
        clutter=clutter(context, tallied.problems, which, at),
        night_minutes=tallied.minutes.max(axis=2),
        break_deg=at.top_altitude_deg - behind_deg(context, at),
        canopy_deg=canopy_clearance_deg(context, at),
        slope_deg=np.asarray(context.elevation.slope_at(lat=at.lat, lon=at.lon)),
        fall_m=fall,
        fall_over_m=over,
        level_cells=level,
        stands=np.mean([one.feasible for one in tallied.nodes], axis=0),
        walk_m=walk,
        walk_from=walk_from,
        glow_mag=glow_mag,
        glow_words=glow_words,
        sky_mag=context.site.sky_mag(lat=at.lat, lon=at.lon),
        land=land,
        land_names=land_names,
    )


def _surroundings(
    group: Group, context: Context, at: Finals
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Largest fall near each stand, over what length, and how many pixels lie dead level."""
    from backbearing.scouting.ranking._stand_kernels import falls_and_levels

    window, n = group.window, len(at.lat)
    pixels = context.elevation.grid.pixels(lat=at.lat, lon=at.lon)
    fall, over, level = np.empty(n), np.empty(n), np.empty(n, dtype=np.int64)
    falls_and_levels(
        window.heights_m,
        np.atleast_1d(pixels.row - window.row0),
        np.atleast_1d(pixels.col - window.col0),
        *window.steps_m,
        REACH_M,
        fall,
        over,
        level,
    )
    return fall, over, level


def _walk(context: Context, at: Finals) -> tuple[Floats, list[str]]:
    found = context.site.nearest_way(lat=at.lat, lon=at.lon)
    if found is None:
        return np.full(len(at.lat), np.nan), [""] * len(at.lat)
    return found.distance_m, [str(name) for name in found.name]


def _glow(context: Context, at: Finals) -> tuple[Floats, list[str]]:
    azimuth = np.where(np.isfinite(at.lat), at.target_azimuth_deg, np.nan)
    found: Any = context.site.glow(lat=at.lat, lon=at.lon, azimuth_deg=azimuth)
    if found is None or context.site.towns is None:
        return np.full(len(at.lat), np.nan), [""] * len(at.lat)

    name = f"the {target_word(context)}"
    words = [glow_sentence(context.site.towns, found, i, behind=name) for i in range(len(at.lat))]
    return found.mag, words


def _land(context: Context, at: Finals) -> tuple[list[str], list[str]]:
    """Word on the land under each stand: closed, ask first, open, unknown, or empty."""
    found = context.site.land_of(lat=at.lat, lon=at.lon)
    if found is None:
        return [""] * len(at.lat), [""] * len(at.lat)
    return [str(a) for a in found.access], [str(n) for n in found.name]
