"""What an outing names of trees and buildings on its ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backbearing.base.lazy import Later

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.terrain.cover import opening
    from backbearing.terrain.elevation import Elevation
else:
    # Few outings name trees.
    opening = Later("backbearing.terrain.cover.opening")


@dataclass(frozen=True, slots=True)
class CoverRequest:
    """Files of trees and buildings, absolute paths; see :func:`.opening.with_cover`."""

    canopy: Path | None = None
    surface: Path | None = None
    woods: Path | None = None

    @property
    def files(self) -> tuple[Path, ...]:
        """Those that are named, in order of trust."""
        return tuple(p for p in (self.canopy, self.surface, self.woods) if p is not None)

    def over(self, bare: Elevation) -> Elevation:
        """Put them on a raster; the raster itself where none is named.

        Raises
        ------
        TerrainError, OutingError
            For a file that cannot be read and placed, or lies nowhere on the ground.
        """
        if not self.files:
            return bare
        return opening.with_cover(bare, canopy=self.canopy, surface=self.surface, woods=self.woods)
