"""Open the cover that an outing names, over its bare ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.errors import TerrainError
from backbearing.base.input_files import check_readable, is_missing
from backbearing.terrain.cover.covered_elevation import CoveredElevation
from backbearing.terrain.cover.mapped import read_mapped
from backbearing.terrain.cover.rasters import CanopyRaster, SurfaceRaster, open_cover
from backbearing.terrain.cover.stack import CoverStack

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Bounds

MOST_EXTRACT_BYTES = 2 * 10**9
"""An extract of woods is read whole; larger ones are to be cut."""


def with_cover(
    bare: Elevation,
    *,
    canopy: Path | None = None,
    surface: Path | None = None,
    woods: Path | None = None,
) -> CoveredElevation:
    """Put trees and buildings on a raster.

    Parameters
    ----------
    bare : Elevation
        The bare ground.
    canopy : path, optional
        GeoTIFF of the height of trees over the ground.
    surface : path, optional
        GeoTIFF of a surface model, counted from the same level as the ground.
    woods : path, optional
        OpenStreetMap extract (``.osm.pbf``).

    Raises
    ------
    TerrainError, OutingError
        For a file that cannot be read and placed, or lies nowhere on the ground.
    """
    stack = CoverStack(
        canopy=None if canopy is None else CanopyRaster(open_cover(canopy, "canopy")),
        surface=None if surface is None else SurfaceRaster(open_cover(surface, "surface")),
        mapped=None if woods is None else read_mapped(_extract(woods)),
    )
    for key, raster in (("canopy", stack.canopy), ("surface", stack.surface)):
        if raster is not None and not _touch(raster.file.grid.bounds, bare.bounds):
            raise TerrainError(
                f"[ground] {key}: {raster.file.path.name} lies nowhere on the elevation raster",
                hint="name a raster of the same land",
                path=str(raster.file.path),
            )
    return CoveredElevation.of(bare, stack)


def _extract(path: Path) -> Path:
    if is_missing(path):
        raise TerrainError(
            f"There is no file at {path} for [ground] woods",
            hint="correct [ground] woods, or leave it out",
            path=str(path),
        )
    if not path.name.lower().endswith(".pbf"):
        raise TerrainError(
            f"[ground] woods names {path.name}, which is no OpenStreetMap extract",
            hint="give one that ends in .osm.pbf",
            path=str(path),
        )
    check_readable(
        path, "woods", largest_bytes=MOST_EXTRACT_BYTES, error=TerrainError, path=str(path)
    )
    return path


def _touch(one: Bounds, other: Bounds) -> bool:
    """Whether two rasters have ground in common; longitudes may be a turn apart."""
    if one.north < other.south or other.north < one.south:
        return False
    return any(
        one.west + turn <= other.east and other.west <= one.east + turn
        for turn in (-360.0, 0.0, 360.0)
    )
