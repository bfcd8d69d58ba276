"""The stand at a lens's best minute, worked out in full for every candidate of a group."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from backbearing.alignment.stand.uncertainty import sight_errors
from backbearing.base.grouped import FieldOf, changed, flat_names
from backbearing.scouting.ranking.hour_angle_grid import seen_altitude_deg
from backbearing.sky.directions import direction
from backbearing.terrain.cover.covered_elevation import covered_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.tally import Tallied
    from backbearing.terrain.skyline.doubt import Doubt

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BestMinutes:
    """When each candidate's stand is at its best, arrays of shape (n,).

    Attributes
    ----------
    utc : ndarray of datetime64[us]
        The minute; NaT where there is none.
    night : ndarray of int
        Which night; -1 where there is none.
    """

    utc: NDArray[np.datetime64]
    night: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class StandSpots:
    """Where the stands are, and how their lens looks at the subject; arrays of shape (n,)."""

    lat: Floats
    lon: Floats
    ground_m: Floats
    distance_m: Floats
    bearing_deg: Floats
    pitch_deg: Floats


@dataclass(frozen=True, slots=True)
class Directions:
    """Altitudes and azimuths from the stands, degrees, arrays of shape (n,).

    ``base_altitude_deg`` and ``top_altitude_deg`` are the subject's.
    """

    target_azimuth_deg: Floats
    target_altitude_deg: Floats
    base_altitude_deg: Floats
    top_altitude_deg: Floats


@dataclass(frozen=True, slots=True)
class StandRidges:
    """The skyline below the target from the stands, arrays of shape (n,).

    Attributes
    ----------
    clearance_deg, skyline_deg, skyline_distance_m : ndarray
    unknown_share : ndarray
        Of the way over the raster towards the target.
    hidden_from_m : ndarray
        From where ground beyond the raster could hide the target; NaN where it could not.
    """

    clearance_deg: Floats
    skyline_deg: Floats
    skyline_distance_m: Floats
    unknown_share: Floats
    hidden_from_m: Floats


@dataclass(frozen=True, slots=True)
class BestStands:
    """One lens's best stand for n candidates, arrays of shape (n,); NaN where it has none.

    What its parts hold can be read from the whole, as ``best.lat``.
    """

    minutes: BestMinutes
    spots: StandSpots
    directions: Directions
    ridges: StandRidges
    utc: ClassVar[FieldOf[NDArray[np.datetime64]]] = FieldOf("minutes")
    night: ClassVar[FieldOf[NDArray[np.int64]]] = FieldOf("minutes")
    lat: ClassVar[FieldOf[Floats]] = FieldOf("spots")
    lon: ClassVar[FieldOf[Floats]] = FieldOf("spots")
    ground_m: ClassVar[FieldOf[Floats]] = FieldOf("spots")
    distance_m: ClassVar[FieldOf[Floats]] = FieldOf("spots")
    bearing_deg: ClassVar[FieldOf[Floats]] = FieldOf("spots")
    pitch_deg: ClassVar[FieldOf[Floats]] = FieldOf("spots")
    target_azimuth_deg: ClassVar[FieldOf[Floats]] = FieldOf("directions")
    target_altitude_deg: ClassVar[FieldOf[Floats]] = FieldOf("directions")
    clearance_deg: ClassVar[FieldOf[Floats]] = FieldOf("ridges")
    skyline_deg: ClassVar[FieldOf[Floats]] = FieldOf("ridges")
    skyline_distance_m: ClassVar[FieldOf[Floats]] = FieldOf("ridges")
    unknown_share: ClassVar[FieldOf[Floats]] = FieldOf("ridges")
    hidden_from_m: ClassVar[FieldOf[Floats]] = FieldOf("ridges")
    base_altitude_deg: ClassVar[FieldOf[Floats]] = FieldOf("directions")
    top_altitude_deg: ClassVar[FieldOf[Floats]] = FieldOf("directions")


def best_stands(context: Context, tallied: Tallied, lens: int) -> BestStands:
    """Settle one lens at its own best minutes, by the rules of `alignment.stand.settled_stands`."""
    question = tallied.questions[lens]
    group, fit = question.group, question.fit
    utc, night = best_minutes(context, tallied, lens)
    some = ~np.isnat(utc)

    def direction_from(lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
        return _direction(context, lat, lon, np.nan_to_num(group.ground_m), utc)

    def wanted(lat: Floats, lon: Floats) -> Floats:
        return direction_from(lat, lon)[0] - fit.framing.offset_deg

    places = question.settled(wanted, some)
    lat, lon, distance = places.lat, places.lon, places.distance_m
    ground = np.asarray(context.elevation.height_at(lat=lat, lon=lon), dtype=np.float64)
    azimuth, altitude = direction_from(lat, lon)
    base, top = question.asked.altitudes_deg(np.arange(len(lat)), ground, distance)
    seen = context.elevation.skylines(
        lat=lat,
        lon=lon,
        azimuths_deg=np.where(np.isfinite(lat), azimuth, np.nan),
        eye_height_m=context.task.framing.eye_height_m,
        max_distance_m=context.task.ground.reach_m,
        refraction_k=context.task.ground.refraction_k,
    )
    return BestStands(
        BestMinutes(np.where(some & np.isfinite(distance), utc, np.datetime64("NaT")), night),
        StandSpots(
            lat=lat,
            lon=lon,
            ground_m=ground,
            distance_m=distance,
            bearing_deg=places.bearing_deg,
            pitch_deg=fit.pitch_deg(base),
        ),
        Directions(
            target_azimuth_deg=azimuth,
            target_altitude_deg=np.where(np.isfinite(lat), altitude, np.nan),
            base_altitude_deg=base,
            top_altitude_deg=top,
        ),
        StandRidges(
            clearance_deg=altitude - seen.altitudes_deg,
            skyline_deg=seen.altitudes_deg,
            skyline_distance_m=seen.distances_m,
            unknown_share=seen.unknown_share,
            hidden_from_m=seen.could_be_hidden_from_m,
        ),
    )


def best_minutes(
    context: Context, tallied: Tallied, lens: int
) -> tuple[NDArray[np.datetime64], NDArray[np.int64]]:
    """Instant and night of a lens's best minute; NaT and -1 where there is none."""
    best = tallied.best[:, lens]
    utc = np.full(len(best), np.datetime64("NaT"), dtype="datetime64[us]")
    night = np.full(len(best), -1, dtype=np.int64)
    some = best[:, 0] >= 0.0
    if some.any():
        stretch = best[some, 2].astype(np.int64)
        utc[some] = tallied.stretches.instants(context.clock, stretch, best[some, 3])
        night[some] = tallied.stretches.night[stretch]
    return utc, night


def _direction(
    context: Context, lat: Floats, lon: Floats, height_m: Floats, utc: NDArray[np.datetime64]
) -> tuple[Floats, Floats]:

    azimuth, altitude = np.full(lat.shape, np.nan), np.full(lat.shape, np.nan)
    known = np.isfinite(lat) & ~np.isnat(utc)
    if known.any():
        azimuth[known], altitude[known] = direction(
            context.task.target,
            lat=lat[known],
            lon=lon[known],
            height_m=height_m[known],
            times=utc[known],
            refraction=False,
        )
    return azimuth, seen_altitude_deg(altitude, height_m)


def clearance_doubt(context: Context, at: BestStands) -> Doubt:
    """How far the skylines below the target may be off."""
    task, elevation = context.task, context.elevation
    seen = elevation.skylines(
        lat=at.lat,
        lon=at.lon,
        azimuths_deg=np.where(np.isfinite(at.lat), at.target_azimuth_deg, np.nan),
        eye_height_m=task.framing.eye_height_m,
        max_distance_m=task.ground.reach_m,
        refraction_k=task.ground.refraction_k,
    )
    errors = sight_errors(task.height_errors, elevation, position_sigma_m=task.position_sigma_m)
    return elevation.skyline_doubt(seen, errors)


def behind_deg(context: Context, at: BestStands) -> Floats:
    """Altitude of the ground behind the subjects, degrees."""
    seen = context.elevation.skylines(
        lat=at.lat,
        lon=at.lon,
        azimuths_deg=at.bearing_deg,
        eye_height_m=context.task.framing.eye_height_m,
        min_distance_m=np.where(np.isfinite(at.distance_m), at.distance_m, 0.0),
        max_distance_m=context.task.ground.reach_m,
        refraction_k=context.task.ground.refraction_k,
    )
    return np.asarray(seen.altitudes_deg)


def canopy_clearance_deg(context: Context, at: BestStands) -> Floats:
    """Clearance if trees stood on all ground beyond the clearing, degrees; NaN without trees.

    As `alignment.stands` has it: an eye lower by the trees' height.
    """
    ground = context.task.ground
    # One height for all ridges is not put on cover that is known.
    if ground.canopy_m <= 0.0 or covered_of(context.elevation) is not None:
        return np.full(at.lat.shape, np.nan)
    seen = context.elevation.skylines(
        lat=at.lat,
        lon=at.lon,
        azimuths_deg=np.where(np.isfinite(at.lat), at.target_azimuth_deg, np.nan),
        eye_height_m=context.task.framing.eye_height_m,
        min_distance_m=ground.clearing_m,
        max_distance_m=ground.reach_m,
        refraction_k=ground.refraction_k,
        ground_m=at.ground_m - ground.canopy_m,
    )
    return np.asarray(at.target_altitude_deg - np.fmax(seen.altitudes_deg, at.skyline_deg))


def one_of(stands: list[BestStands], which: NDArray[np.int64]) -> BestStands:
    """Take each candidate's row from one of the lenses."""
    rows = np.arange(len(which))
    chosen = {
        name: np.stack([getattr(one, name) for one in stands])[which, rows]
        for name in flat_names(BestStands)
    }
    return changed(stands[0], **chosen)
