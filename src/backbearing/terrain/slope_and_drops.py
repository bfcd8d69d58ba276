"""Slopes, sudden drops and flat ground, for the cautions beside a stand.

What these can say is bounded by the raster. Between two pixels 30 to 90 m apart a
cliff, a quarry face, a river bank or a wall may stand unseen, and a drop that is found
is spread over a whole cell: its true edge is sharper, higher in places, and up to a
cell away. A raster that shows no drop is no sign that there is none. Flat ground is
what open water looks like in most elevation products, and so do dry lakes, airfields
and fields in whole-metre rasters; narrow water does not show at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.geodesy import line_between, point_along
from backbearing.terrain.surroundings import Surroundings

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.height_field import HeightField
    from backbearing.terrain.reading.sources import Heights

    Floats = NDArray[np.float64]

NEIGHBOURS = ((0, 1), (1, 0), (1, 1), (1, -1))
"""Steps down and across to half of a pixel's neighbours; the other half look back."""

FEWEST_PIXELS = 9
"""Pixels below which level ground is chance."""


@dataclass(frozen=True)
class Drop:
    """The largest fall between neighbouring pixels near a place or walk.

    Attributes
    ----------
    fall_m, over_m : float
        Height lost and the level distance between the two pixels.
    top_lat, top_lon, foot_lat, foot_lon : float
        The two pixels' centres, degrees.
    distance_m : float
        From the place or walk to the nearer of the two pixels.
    unknown_share : float
        Share of the pixel pairs looked at that have an unknown end.
    """

    fall_m: float
    over_m: float
    top_lat: float
    top_lon: float
    foot_lat: float
    foot_lon: float
    distance_m: float
    unknown_share: float

    @property
    def slope_deg(self) -> float:
        """Mean slope from the one pixel to the other, degrees; the true edge is steeper."""
        return math.degrees(math.atan2(self.fall_m, self.over_m))


@dataclass(frozen=True)
class FlatPatch:
    """Connected pixels at one height: perhaps open water, perhaps only level.

    Attributes
    ----------
    height_m : float
        Height of the patch.
    area_m2 : float
        Its area within the window that was looked at.
    lat, lon : float
        Its nearest pixel, degrees.
    distance_m : float
        How far away that is.
    """

    height_m: float
    area_m2: float
    lat: float
    lon: float
    distance_m: float


def slope_at(elevation: HeightField, *, lat: ArrayLike, lon: ArrayLike) -> Floats:
    """Slope of the ground in degrees, over one cell across the place.

    From heights half a cell to the north, south, east and west, so that the steepness of
    anything shorter than a cell is lost: it is a lower bound for rough ground.

    Returns
    -------
    ndarray
        Shape of lat and lon broadcast together; NaN where any of the four is unknown.
    """
    lat_a, lon_a = np.broadcast_arrays(
        np.asarray(lat, dtype=np.float64), np.asarray(lon, dtype=np.float64)
    )
    half = elevation.cell_size_m / 2.0
    azimuths = np.array([0.0, 90.0, 180.0, 270.0]).reshape(4, *(1,) * lat_a.ndim)
    end = point_along(lat=lat_a, lon=lon_a, azimuth_deg=azimuths, distance_m=half)
    north, east, south, west = elevation.height_at(lat=end.lat, lon=end.lon)
    rise = np.hypot(north - south, east - west) / (2.0 * half)
    slope: Floats = np.degrees(np.arctan(rise))
    return slope[()]


def largest_drop(
    elevation: HeightField,
    *,
    lat: float,
    lon: float,
    within_m: float,
    end_lat: float | None = None,
    end_lon: float | None = None,
    least_slope_deg: float = 0.0,
) -> Drop | None:
    """Find the largest fall between neighbouring pixels near a place, or along a walk.

    Pixels are neighbours across, down and on both diagonals. The reach is widened by one
    cell, since an edge between two pixels may lie anywhere between them.

    Parameters
    ----------
    lat, lon : float
        The place, or where the walk begins, degrees.
    within_m : float
        How far to look from the place or to either side of the walk.
    end_lat, end_lon : float, optional
        Where a straight walk ends.
    least_slope_deg : float, optional
        Falls between pixels less steep than this are left out, so that a longer and gentler
        one across the diagonal does not hide a steep one.

    Returns
    -------
    Drop or None
        None where no two known neighbours within reach are so steep, or none are known:
        neither is a sign of safe ground.

    Raises
    ------
    OutsideRasterError
        When the place lies outside the raster.
    TerrainError
        When the reach is not positive or holds too many cells.
    """
    area = Surroundings.of(
        elevation, lat=lat, lon=lon, within_m=within_m, end_lat=end_lat, end_lon=end_lon
    )
    return largest_drop_in(area, elevation, within_m=within_m, least_slope_deg=least_slope_deg)


def largest_drop_in(
    area: Surroundings, elevation: HeightField, *, within_m: float, least_slope_deg: float = 0.0
) -> Drop | None:
    """Do as `largest_drop` in surroundings that hold all within reach."""
    z, steps = area.heights_m, area.steps_m
    reach = within_m + max(elevation.grid.steps_m)
    falls, firsts, nears = [], [], []
    for down, across in NEIGHBOURS:
        one, two = _neighbours(z.shape, down, across)
        distance = np.minimum(area.distance_m[one], area.distance_m[two])
        near = distance <= reach
        fall = np.abs(z[one] - z[two])[near]
        over = math.hypot(down * steps[0], across * steps[1])
        fall[fall < math.tan(math.radians(least_slope_deg)) * over] = -1.0
        row, col = np.nonzero(near)
        falls.append(fall)
        firsts.append(np.stack([row, col - min(across, 0)]))
        nears.append(distance[near])
    fall_m, first = np.concatenate(falls), np.concatenate(firsts, axis=1)
    if not (fall_m >= 0.0).any():
        return None
    best = int(np.lexsort((np.concatenate(nears), -np.nan_to_num(fall_m, nan=-1.0)))[0])
    which = int(np.searchsorted(np.cumsum([len(f) for f in falls]), best, side="right"))
    ends = [tuple(first[:, best]), tuple(first[:, best] + np.array(NEIGHBOURS[which]))]
    ends.sort(key=lambda pixel: -z[pixel])
    return _drop(elevation, area, ends, float(np.isnan(fall_m).mean()))


def _drop(
    elevation: HeightField, area: Surroundings, ends: list[tuple[Any, ...]], unknown_share: float
) -> Drop:
    """Place a fall between two pixels, top first, on the Earth."""
    top, foot = ends
    lat, lon = elevation.grid.places(
        row=[area.row0 + top[0], area.row0 + foot[0]],
        col=[area.col0 + top[1], area.col0 + foot[1]],
    )
    line = line_between(lat1=lat[0], lon1=lon[0], lat2=lat[1], lon2=lon[1])
    return Drop(
        fall_m=float(area.heights_m[top] - area.heights_m[foot]),
        over_m=float(line.distance_m),
        top_lat=float(lat[0]),
        top_lon=float(lon[0]),
        foot_lat=float(lat[1]),
        foot_lon=float(lon[1]),
        distance_m=float(min(area.distance_m[top], area.distance_m[foot])),
        unknown_share=unknown_share,
    )


def flat_patches(
    elevation: HeightField,
    *,
    lat: float,
    lon: float,
    within_m: float,
    min_area_m2: float = 40_000.0,
    tolerance_m: float = 0.0,
) -> list[FlatPatch]:
    """Find level ground that may be open water, nearest first.

    A patch is a set of pixels of one height joined by their sides, at least nine of them.
    In whole-metre rasters level fields look the same; a sloping river does not show.

    Parameters
    ----------
    lat, lon, within_m : float
        Where to look, degrees and metres.
    min_area_m2 : float
        Smallest patch worth a word.
    tolerance_m : float
        How much neighbouring pixels may differ.
    """
    area = Surroundings.of(elevation, lat=lat, lon=lon, within_m=within_m)
    return flat_patches_in(
        area, elevation, within_m=within_m, min_area_m2=min_area_m2, tolerance_m=tolerance_m
    )


def flat_patches_in(
    area: Surroundings,
    elevation: HeightField,
    *,
    within_m: float,
    min_area_m2: float = 40_000.0,
    tolerance_m: float = 0.0,
) -> list[FlatPatch]:
    """Do as `flat_patches` in surroundings that hold all within reach."""
    pairs = _level_pairs(area.heights_m, tolerance_m)
    if pairs.shape[1] < FEWEST_PIXELS - 1:
        return []
    label = _level_ground(pairs, area.heights_m.size)
    size = np.bincount(label)
    cell_m2 = math.prod(area.steps_m)
    distances = area.distance_m.ravel()
    found = []
    for patch in np.flatnonzero((size >= FEWEST_PIXELS) & (size * cell_m2 >= min_area_m2)):
        members = np.flatnonzero(label == patch)
        nearest = int(members[np.argmin(distances[members])])
        if distances[nearest] > within_m:
            continue
        row, col = divmod(nearest, area.heights_m.shape[1])
        place = elevation.grid.places(row=area.row0 + row, col=area.col0 + col)
        found.append(
            FlatPatch(
                height_m=float(area.heights_m[row, col]),
                area_m2=float(size[patch] * cell_m2),
                lat=float(place.lat),
                lon=float(place.lon),
                distance_m=float(distances[nearest]),
            )
        )
    return sorted(found, key=lambda patch: patch.distance_m)


def _level_pairs(heights_m: Heights, tolerance_m: float) -> NDArray[np.intp]:
    """Numbers of side neighbours of like height, shape (2, pairs)."""
    number = np.arange(heights_m.size).reshape(heights_m.shape)
    ends = []
    for down, across in NEIGHBOURS[:2]:
        one, two = _neighbours(heights_m.shape, down, across)
        level = np.abs(heights_m[one] - heights_m[two]) <= tolerance_m
        ends.append(np.stack([number[one][level], number[two][level]]))
    return np.concatenate(ends, axis=1)


def _level_ground(pairs: NDArray[np.intp], pixels: int) -> NDArray[np.intp]:
    """Label pixels so that the two of a pair share their set's smallest number, shape (pixels,).

    A library for graphs would take longer to load than this takes.
    """
    label = np.arange(pixels)
    one, two = pairs
    while one.size:
        low, high = np.minimum(label[one], label[two]), np.maximum(label[one], label[two])
        np.minimum.at(label, high, low)
        while (label[label] != label).any():
            label = label[label]
        apart = label[one] != label[two]
        one, two = one[apart], two[apart]
    return label


def _neighbours(
    shape: tuple[int, ...], down: int, across: int
) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Index pairs of every pixel and its neighbour so far down and across."""
    rows, cols = shape
    one_c = slice(0, cols - across) if across >= 0 else slice(-across, cols)
    two_c = slice(across, cols) if across >= 0 else slice(0, cols + across)
    return (slice(0, rows - down), one_c), (slice(down, rows), two_c)
