"""The ground: elevation rasters, the skyline from a point, slopes and drops.

Heights live at pixel centres. Pixel ``(row, col)`` has its centre at
``transform * (col + 0.5, row + 0.5)`` and the surface between four neighbouring
centres is bilinear; beyond the outermost centres nothing is known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Bounds, Grid
    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.skylines import Skylines
    from backbearing.terrain.sources import Ground, TerrainWarning

__all__ = ["Bounds", "Elevation", "Grid", "Ground", "Horizon", "Skylines", "TerrainWarning"]

_HOMES = {
    "Bounds": "grid",
    "Elevation": "elevation",
    "Grid": "grid",
    "Ground": "sources",
    "Horizon": "horizon",
    "Skylines": "skylines",
    "TerrainWarning": "sources",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
