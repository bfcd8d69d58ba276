"""Facts of the best stands: what the raster and the user's files say of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.alignment.stand.ground_cautions import REACH_M
from backbearing.base.cautions import STEEP_DEG
from backbearing.scouting.ranking.best_stands import (
    behind_deg,
    best_stands,
    canopy_clearance_deg,
    clearance_doubt,
    one_of,
)
from backbearing.scouting.ranking.clutter import clutter
from backbearing.scouting.ranking.failures import target_word
from backbearing.scouting.site.town_glow import glow_sentence
from backbearing.sky.extinction import dimming

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.best_stands import BestStands
    from backbearing.scouting.ranking.candidate_stands import CandidateGroup
    from backbearing.scouting.ranking.clutter import Clutter
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.tally import Tallied
    from backbearing.scouting.site.site import SiteData
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.skyline.doubt import Doubt

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GroundFound:
    """The ground at n stands, shapes (n,).

    Attributes
    ----------
    slope_deg : ndarray
    fall_m, fall_over_m : ndarray
        Largest steep fall near the stand and over what length; NaN where there is none.
    level_cells : ndarray of int
        Pixels dead level with it.
    """

    slope_deg: Floats
    fall_m: Floats
    fall_over_m: Floats
    level_cells: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class WayFound:
    """Straight way to n stands from the nearest known way: metres, and its name."""

    metres: Floats
    start: list[str]


@dataclass(frozen=True, slots=True)
class SkyFound:
    """Magnitudes at n stands: towns' glow behind the target, and the zenith's brightness.

    ``air_mag`` is how much dimmer than overhead the air makes the target at the best minute, and
    ``behind_mag`` the dark sky behind it, a square arcsecond; each with one standard deviation.
    """

    glow_mag: Floats
    glow_words: list[str]
    zenith_mag: Floats
    air_mag: Floats
    air_sigma_mag: Floats
    behind_mag: Floats
    behind_sigma_mag: Floats


@dataclass(frozen=True, slots=True)
class LandFound:
    """Word on the land under n stands (empty without data), and its name."""

    access: list[str]
    name: list[str]


@dataclass(frozen=True, slots=True)
class StandFacts:
    """What the parts and the reasons are made of, for n candidates; shapes (n,).

    Attributes
    ----------
    which : ndarray of int
        Each candidate's best lens; 0 where there is none.
    each, best : list of BestStands, and BestStands
        Every lens's own best stand, and that of the best lens.
    clutter : Clutter
    night_minutes : ndarray of uint16, shape (n, nights)
        By the best lens of each night.
    break_deg, canopy_deg : ndarray
        Skyline break, and clearance over trees, degrees.
    doubt : Doubt
        How far the skyline below the target may be off.
    feasible_share : ndarray
        Share of the lenses that have a feasible stand.
    ground : GroundFound
    way : WayFound
    sky : SkyFound
    land : LandFound
    """

    which: NDArray[np.int64]
    each: list[BestStands]
    best: BestStands
    clutter: Clutter
    night_minutes: NDArray[np.uint16]
    break_deg: Floats
    canopy_deg: Floats
    doubt: Doubt
    feasible_share: Floats
    ground: GroundFound
    way: WayFound
    sky: SkyFound
    land: LandFound


def gather_facts(context: Context, group: CandidateGroup, tallied: Tallied) -> StandFacts:
    """Work out the best stand of every candidate and what is known of it."""
    which = tallied.best[:, :, 0].argmax(axis=1).astype(np.int64)
    each = [best_stands(context, tallied, i) for i in range(len(tallied.questions))]
    best = one_of(each, which)
    return StandFacts(
        which=which,
        each=each,
        best=best,
        clutter=clutter(context, tallied.questions, which, best),
        night_minutes=tallied.minutes.max(axis=2),
        break_deg=best.top_altitude_deg - behind_deg(context, best),
        canopy_deg=canopy_clearance_deg(context, best),
        doubt=clearance_doubt(context, best),
        feasible_share=np.mean([one.feasible for one in tallied.looks], axis=0),
        ground=_ground(context.elevation, group, best),
        way=_way(context.site, best),
        sky=_sky(context, best),
        land=_land(context.site, best),
    )


def _ground(elevation: Elevation, group: CandidateGroup, at: BestStands) -> GroundFound:
    from backbearing.scouting.ranking._drop_kernels import falls_and_levels

    window, n = group.window, len(at.lat)
    pixels = elevation.grid.pixels(lat=at.lat, lon=at.lon)
    fall, over, level = np.empty(n), np.empty(n), np.empty(n, dtype=np.int64)
    falls_and_levels(
        window.heights_m,
        np.atleast_1d(pixels.row - window.row0),
        np.atleast_1d(pixels.col - window.col0),
        *window.steps_m,
        REACH_M,
        math.tan(math.radians(STEEP_DEG)),
        fall,
        over,
        level,
    )
    slope = np.asarray(elevation.slope_at(lat=at.lat, lon=at.lon))
    return GroundFound(slope, fall, over, level)


def _way(site: SiteData, at: BestStands) -> WayFound:
    found = site.nearest_way(lat=at.lat, lon=at.lon)
    if found is None:
        return WayFound(np.full(len(at.lat), np.nan), [""] * len(at.lat))
    return WayFound(found.distance_m, [str(name) for name in found.name])


def _sky(context: Context, at: BestStands) -> SkyFound:
    site, haze, count = context.site, context.task.night.aerosol_mag, len(at.lat)
    some = np.isfinite(at.lat)
    azimuth = np.where(some, at.target_azimuth_deg, np.nan)
    altitude = np.where(some, at.target_altitude_deg, np.nan)
    height = np.asarray(context.elevation.height_at(lat=at.lat, lon=at.lon), dtype=np.float64)
    air = dimming(altitude, height_m=height, aerosol_mag=haze)
    behind, sigma = site.sky_behind(
        lat=at.lat,
        lon=at.lon,
        azimuth_deg=azimuth,
        altitude_deg=altitude,
        site=(np.where(some, height, np.nan), haze),
    )
    found: Any = site.glow(lat=at.lat, lon=at.lon, azimuth_deg=azimuth)
    name = f"the {target_word(context.task.target)}"
    glow, words = np.full(count, np.nan), [""] * count
    if found is not None and site.towns is not None:
        glow = found.mag
        words = [glow_sentence(site.towns, found, i, behind=name) for i in range(count)]
    return SkyFound(
        glow_mag=glow,
        glow_words=words,
        zenith_mag=site.sky_mag(lat=at.lat, lon=at.lon),
        air_mag=air.below_zenith_mag,
        air_sigma_mag=air.sigma_mag,
        behind_mag=behind,
        behind_sigma_mag=sigma,
    )


def _land(site: SiteData, at: BestStands) -> LandFound:
    """Word on the land under each stand: closed, ask first, open, unknown, or empty."""
    found = site.land_of(lat=at.lat, lon=at.lon)
    if found is None:
        return LandFound([""] * len(at.lat), [""] * len(at.lat))
    return LandFound([str(a) for a in found.access], [str(n) for n in found.name])
