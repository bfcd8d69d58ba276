"""A raster with trees and buildings on it: asked like any other, its skylines are theirs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.terrain.cover.covered_rays import covered_rays, raised
from backbearing.terrain.cover.kinds import (
    SIGMA_OF_RASTER_M,
    SIGMA_SHARE_OF_GUESS,
    CoverKind,
)
from backbearing.terrain.cover.near_cover import (
    CLOSEST_M,
    LEAST_FINE_M,
    PIECE,
    SUNK_M,
    finer_ground,
    near_reach_m,
)
from backbearing.terrain.cover.stack import Cleared, CoveredSource, CoverStack
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.marks.marked_elevation import bare_of
from backbearing.terrain.skyline.doubt import Doubt

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.cover.near_cover import FinerGround
    from backbearing.terrain.height_errors import SightErrors
    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.reading.sources import Source
    from backbearing.terrain.skylines import Skylines

    Floats = NDArray[np.float64]


MOST_CELLS_AT_ONCE: Final = 1_000_000
"""Cells up to which the cover of several places is read in one window."""


@dataclass(frozen=True)
class CoverAt:
    """What stands at n places: metres, NaN where unknown, and what it is."""

    height_m: Floats
    kind: NDArray[np.uint8]

    @property
    def sigma_m(self) -> Floats:
        """One standard deviation of the heights, metres; an assumption for all kinds."""
        guess = self.kind >= CoverKind.GUESSED_WOOD
        share = np.where(guess, SIGMA_SHARE_OF_GUESS * self.height_m, SIGMA_OF_RASTER_M)
        return np.asarray(np.minimum(share, self.height_m))


class CoveredElevation(Elevation):
    """An elevation raster whose skylines are those of the trees and buildings on it.

    Heights, slopes and drops are the bare ground's: nobody stands on a tree. The eye is above
    the bare ground, and cover within a cell of it (of the cover's own, where these are finer,
    and 5 m at least), or within the asked least distance, is left out.

    Parameters
    ----------
    bare : Elevation
        The raster. What it has read and prepared is shared.
    stack : CoverStack
        What is known of its cover.
    finer : FinerGround or None
        The ground in cells as fine as its cover's near the eye; None where its own are.

    Attributes
    ----------
    tops : Elevation
        The ground with its cover as one raster, to be swept.
    near : Elevation or None
        The same in cells as fine as the cover's; None where the ground's are no coarser.
    near_m : float
        How far from an eye ``near`` is looked at, metres, and ``tops`` only beyond.
    """

    def __init__(self, bare: Elevation, stack: CoverStack, finer: FinerGround | None) -> None:
        self.__dict__.update(vars(bare))
        self.bare = bare
        self.stack = stack
        self.tops = Elevation(CoveredSource(self._source, stack))
        # Sight lines hang on the grid alone.
        self.tops._fits = self._fits
        self._finer = finer
        self.near: Elevation | None = None
        self.near_m = 0.0
        if finer is not None:
            self.near = Elevation(CoveredSource(finer, stack, SUNK_M), PIECE)
            self.near_m = near_reach_m(finer)

    def clear_about(
        self, *, lat: ArrayLike, lon: ArrayLike, radius_m: ArrayLike
    ) -> CoveredElevation:
        """The same, without cover about some places: a subject is no tree before itself."""
        places = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in (lat, lon, radius_m))
        )
        known = np.all(np.isfinite(places), axis=0)
        cleared = Cleared(*(column[known] for column in places))
        had = self.stack.cleared
        if all(np.array_equal(a, b) for a, b in zip(had, cleared, strict=True)):
            return self
        return CoveredElevation(self.bare, self.stack.clear_about(cleared), self._finer)

    @classmethod
    def of(
        cls, bare: Elevation, stack: CoverStack, least_m: float = LEAST_FINE_M
    ) -> CoveredElevation:
        """Cover on a raster, looked at near an eye in cells no finer than so many metres."""
        return cls(bare, stack, finer_ground(bare._source, stack, least_m))

    def cover_at(
        self,
        *,
        lat: ArrayLike,
        lon: ArrayLike,
        nearest: bool = False,
        near: ArrayLike = False,
    ) -> CoverAt:
        """Highest cover of the four cells about each place, where the surface there has it from.

        Or that of the nearest cell alone. Where ``near``, of cells as fine as the cover's own.
        Unknown is NaN: where any of them is, and off the raster.
        """
        places = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(v, dtype=np.float64)).ravel() for v in (lat, lon))
        )
        fine = np.broadcast_to(np.asarray(near, dtype=np.bool_), places[0].shape)
        height = np.full(places[0].shape, np.nan)
        kind = np.zeros(places[0].shape, dtype=np.uint8)
        for source, some in (
            (self._source, ~fine | (self._finer is None)), (self._finer, fine)
        ):  # fmt: skip
            which = np.flatnonzero(some)
            if source is not None and which.size:
                found = self._cover_of(source, places[0][which], places[1][which], nearest)
                height[which], kind[which] = found
        return CoverAt(height, kind)

    def _cover_of(
        self, ground: Source, lat: Floats, lon: Floats, nearest: bool
    ) -> tuple[Floats, NDArray[np.uint8]]:
        """Cover about places in the cells of one ground: metres, and kinds."""
        grid = ground.grid
        at = grid.pixels(lat=lat, lon=lon)
        height, kind = np.full(at.row.shape, np.nan), np.zeros(at.row.shape, dtype=np.uint8)
        on = np.flatnonzero(grid.holds(at))
        if not on.size:
            return height, kind
        row, col = (
            _first_cell(v[on], n, nearest=nearest) for v, n in zip(at, grid.shape, strict=True)
        )
        wide = 1 if nearest else 2
        for some in _together(row, col):
            first = int(row[some].min()), int(col[some].min())
            found = self.stack.over(
                ground,
                slice(first[0], min(int(row[some].max()) + wide, grid.shape[0])),
                slice(first[1], min(int(col[some].max()) + wide, grid.shape[1])),
            )
            for i in some.tolist():
                part = np.s_[
                    row[i] - first[0] : row[i] - first[0] + wide,
                    col[i] - first[1] : col[i] - first[1] + wide,
                ]
                tops = found.height_m[part]
                height[on[i]] = tops.max()
                kind[on[i]] = found.kind[part].flat[int(np.argmax(np.nan_to_num(tops)))]
        return height, kind

    def horizon(self, **question: Any) -> Horizon:
        """As :meth:`.Elevation.horizon`, raised to the cover's tops."""
        bare = self.bare.horizon(**question)

        def over(raster: Elevation, from_m: float, to_m: float, above: Horizon) -> Horizon | None:
            from_m, to_m = max(from_m, bare.min_distance_m), min(to_m, bare.max_distance_m)
            if from_m >= to_m:
                return None
            return raster.horizon(
                lat=bare.lat,
                lon=bare.lon,
                eye_height_m=bare.eye_height_m,
                azimuths_deg=bare.azimuths_deg,
                max_distance_m=to_m,
                refraction_k=bare.refraction_k,
                min_distance_m=from_m,
                ground_m=bare.eye_ground_m,
                highest_ground_m=bare.highest_ground_m,
                above_deg=above.altitudes_deg,
            )

        near = None
        if self.near is not None:
            near = over(self.near, self._closest_m, self.near_m, bare)
        far = over(self.tops, self._coarse_from_m, np.inf, bare if near is None else near)
        return raised(bare, near, far)

    @property
    def _coarse_from_m(self) -> float:
        """From which distance on cover counts in the ground's cells."""
        return self.cell_size_m if self.near is None else self.near_m

    @property
    def _closest_m(self) -> float:
        """From which distance on cover counts in its own cells."""
        return CLOSEST_M if self.near is None else max(self.near.cell_size_m, CLOSEST_M)

    def skylines(self, **question: Any) -> Skylines:
        """As :meth:`.Elevation.skylines`, raised to the cover's tops."""
        bare = self.bare.skylines(**question)

        def over(raster: Elevation, from_m: float, to_m: float, above: Skylines) -> Skylines:
            first = np.fmax(bare.min_distance_m, from_m)
            last = np.fmin(bare.max_distance_m, to_m)
            there = np.isfinite(bare.eye_ground_m) & (first < last)
            return raster.skylines(
                lat=np.where(there, bare.lat, np.nan),
                lon=np.where(there, bare.lon, np.nan),
                azimuths_deg=bare.azimuths_deg,
                eye_height_m=bare.eye_height_m,
                max_distance_m=np.where(there, last, bare.max_distance_m),
                refraction_k=bare.refraction_k,
                min_distance_m=np.where(there, first, 0.0),
                ground_m=bare.eye_ground_m,
                highest_ground_m=bare.highest_ground_m,
                above_deg=np.fmax(above.altitudes_deg, bare.altitudes_deg),
                to_the_last_bit=question.get("to_the_last_bit", True),
            )

        near = None
        if self.near is not None:
            near = over(self.near, self._closest_m, self.near_m, bare)
        above = bare if near is None else near
        return raised(bare, near, over(self.tops, self._coarse_from_m, np.inf, above))

    def skyline_doubt(self, seen: Horizon | Skylines, errors: SightErrors) -> Doubt:
        """As :meth:`.Elevation.skyline_doubt`; where cover makes the skyline, its own in it."""
        rays = covered_rays(seen)
        if rays is None or not rays.are_covered.any():
            return self.bare.skyline_doubt(seen, errors)
        covered, far = rays.are_covered, rays.are_covered & ~rays.are_near
        # Near cover stands on ground whose errors are the bare raster's.
        ground = replace(seen, altitudes_deg=np.where(far, np.nan, seen.altitudes_deg))
        tops = replace(seen, altitudes_deg=np.where(far, seen.altitudes_deg, np.nan))
        of_ground = self.bare.skyline_doubt(ground, errors)
        of_tops = self.tops.skyline_doubt(tops, errors) if far.any() else of_ground
        own = np.zeros(len(covered))
        lat, lon = seen.skyline_lat[covered], seen.skyline_lon[covered]
        height = np.nan_to_num(self.cover_at(lat=lat, lon=lon, near=rays.are_near[covered]).sigma_m)
        own[covered] = np.degrees(np.arctan(height / seen.distances_m[covered]))
        tilt = np.radians(np.where(rays.are_near, seen.altitudes_deg, 0.0))
        aside = np.degrees(np.sin(tilt) * np.cos(tilt) * errors.position_m / seen.distances_m)
        return Doubt(
            np.where(far, of_tops.rise_deg, of_ground.rise_deg),
            np.hypot(
                np.where(far, of_tops.sigma_deg, of_ground.sigma_deg),
                np.where(covered, np.hypot(own, aside), 0.0),
            ),
        )


def _first_cell(at: Floats, count: int, *, nearest: bool) -> NDArray[np.int64]:
    """Rows, or columns: the nearest to each place, or the first of the two that it lies between."""
    first = np.rint(at) if nearest else np.floor(at)
    return np.clip(first, 0, max(count - (1 if nearest else 2), 0)).astype(np.int64)


def _together(row: NDArray[np.int64], col: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Places that are read in one window: all, or one by one where they lie far apart."""
    every = np.arange(len(row))
    if int(np.ptp(row) + 2) * int(np.ptp(col) + 2) <= MOST_CELLS_AT_ONCE:
        return [every]
    return [every[i : i + 1] for i in range(len(row))]


def covered_of(elevation: Elevation | None) -> CoveredElevation | None:
    """The raster with its cover under whatever lies over it; None where it has none."""
    under = bare_of(elevation) if elevation is not None else None
    return under if isinstance(under, CoveredElevation) else None
