"""All that is known of the cover, in order of trust, brought to the ground's cells."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.terrain.cover.kinds import CoverKind
from backbearing.terrain.cover.rasters import GroundWindow

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.cover.mapped import MappedCover
    from backbearing.terrain.cover.rasters import CanopyRaster, SurfaceRaster
    from backbearing.terrain.grid import Grid
    from backbearing.terrain.reading.sources import Source

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Kinds = NDArray[np.uint8]


PLACED_WITHIN_M: Final = 5.0
"""As far as this a raster's trees and a thing's own place lie off (common practice, no source)."""


class Cleared(NamedTuple):
    """Places about which no cover counts, WGS84 degrees and metres, arrays of shape (m,).

    A cell more is cleared about them, and `PLACED_WITHIN_M` at least.
    """

    lat: Floats
    lon: Floats
    radius_m: Floats


NOWHERE: Final = Cleared(np.empty(0), np.empty(0), np.empty(0))


class CoverWindow(NamedTuple):
    """Cover of a window of cells, shape (rows, cols): metres, NaN where unknown; `CoverKind`."""

    height_m: Singles
    kind: Kinds


@dataclass(frozen=True, eq=False)
class CoverStack:
    """What is known of the cover: a raster of the canopy, a surface model, a map.

    The canopy is believed before the surface, and the surface before the map: where one knows,
    the next is not asked. Only a mapped building counts beside a canopy, which knows none.
    """

    canopy: CanopyRaster | None = None
    surface: SurfaceRaster | None = None
    mapped: MappedCover | None = None
    cleared: Cleared = field(default=NOWHERE, repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the files, in order of trust."""
        files = [one.file.path.name for one in (self.canopy, self.surface) if one is not None]
        return (*files, *([] if self.mapped is None else [self.mapped.name]))

    def clear_about(self, cleared: Cleared) -> CoverStack:
        """The same, without cover about some places."""
        return replace(self, cleared=cleared)

    def over(self, bare: Source, rows: slice, cols: slice) -> CoverWindow:
        """Cover of a window of the bare ground's cells."""
        grid = bare.grid
        shape = (rows.stop - rows.start, cols.stop - cols.start)
        height = np.full(shape, np.nan, dtype=np.float32)
        kind = np.zeros(shape, dtype=np.uint8)
        if self.canopy is not None:
            _fill(height, kind, self.canopy.over(grid, rows, cols), CoverKind.CANOPY)
        by_canopy = np.isfinite(height)
        if self.surface is not None and not by_canopy.all():
            ground = _ground_about(bare, rows, cols)
            _fill(height, kind, self.surface.over(grid, rows, cols, ground), CoverKind.SURFACE)
        if self.mapped is not None:
            mapped, kinds = self.mapped.over(grid, rows, cols)
            builds = (kinds == CoverKind.BUILDING) | (kinds == CoverKind.GUESSED_BUILDING)
            with np.errstate(invalid="ignore"):
                better = by_canopy & builds & (mapped > height)
            better |= np.isnan(height) & np.isfinite(mapped)
            height[better], kind[better] = mapped[better], kinds[better]
        _clear(height, kind, grid, (rows, cols), self.cleared)
        kind[~(height > 0.0)] = CoverKind.NONE
        return CoverWindow(height, kind)


def _fill(height: Singles, kind: Kinds, found: Singles, as_kind: CoverKind) -> None:
    """Put what was found where nothing better is known."""
    new = np.isnan(height) & np.isfinite(found)
    height[new], kind[new] = found[new], as_kind


def _ground_about(bare: Source, rows: slice, cols: slice) -> GroundWindow:
    high, wide = bare.grid.shape
    own = slice(max(rows.start - 1, 0), min(rows.stop + 1, high))
    across = slice(max(cols.start - 1, 0), min(cols.stop + 1, wide))
    return GroundWindow(bare.read(own, across), own.start, across.start)


def _clear(
    height: Singles, kind: Kinds, grid: Grid, window: tuple[slice, slice], cleared: Cleared
) -> None:
    """Take the cover off every cell whose middle lies within the radius of a cleared place.

    The cell that holds the place is cleared in any case.
    """
    if not cleared.lat.size:
        return
    rows, cols = window
    down, across = grid.steps_m
    at = grid.pixels(lat=cleared.lat, lon=cleared.lon)
    radii = cleared.radius_m + max(grid.cell_size_m, PLACED_WITHIN_M)
    wide = float(radii.max())
    reach = int(np.ceil(wide / down)) + 1, int(np.ceil(wide / across)) + 1
    near = (
        (at.row > rows.start - reach[0] - 1) & (at.row < rows.stop + reach[0])
        & (at.col > cols.start - reach[1] - 1) & (at.col < cols.stop + reach[1])
    )  # fmt: skip
    row, col, radius = at.row[near], at.col[near], radii[near]
    here = np.rint(row).astype(np.int64), np.rint(col).astype(np.int64)
    for i in range(-reach[0], reach[0] + 1):
        for j in range(-reach[1], reach[1] + 1):
            r, c = here[0] + i, here[1] + j
            away = np.hypot((r - row) * down, (c - col) * across)
            off = (away <= radius) | ((i == 0) & (j == 0))
            off &= (r >= rows.start) & (r < rows.stop) & (c >= cols.start) & (c < cols.stop)
            known = np.isfinite(height[r[off] - rows.start, c[off] - cols.start])
            r, c = r[off][known] - rows.start, c[off][known] - cols.start
            height[r, c], kind[r, c] = 0.0, CoverKind.NONE


@dataclass(frozen=True, eq=False)
class CoveredSource:
    """The bare ground with its cover on it: heights of tops where cover is known.

    Where the cover is unknown these are the bare ground's own: what is not known is told beside
    them (`CoverStack.over`), for a march would have to look into every cell of unknown height.
    Ground without cover may be put lower by ``sunk_m``.
    """

    bare: Source
    stack: CoverStack
    sunk_m: float = 0.0

    @property
    def grid(self) -> Grid:
        """The ground's."""
        return self.bare.grid

    @property
    def name(self) -> str:
        """The ground's."""
        return self.bare.name

    @property
    def tags(self) -> dict[str, str]:
        """The ground's."""
        return dict(self.bare.tags)

    @property
    def array(self) -> None:
        """Nothing is in memory before it is asked for."""
        return None

    def read(self, rows: slice, cols: slice) -> Singles:
        """Read a window in metres."""
        ground = np.asarray(self.bare.read(rows, cols), dtype=np.float32)
        cover = self.stack.over(self.bare, rows, cols).height_m
        with np.errstate(invalid="ignore"):
            return np.where(cover > 0.0, ground + cover, ground - np.float32(self.sunk_m))

    def covered(self, pixels: object) -> NDArray[np.bool_]:
        """Tell where a tile of the ground was given."""
        return self.bare.covered(pixels)  # type: ignore[arg-type]
