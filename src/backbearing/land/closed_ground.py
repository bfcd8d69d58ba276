"""Ground on which no tripod is put: land marked closed, and areas of water or hazard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from backbearing.plan.place import Place

AREAS = ("Polygon", "MultiPolygon")


def closes(place: Place) -> bool:
    """Whether a place closes the ground that it covers to a tripod."""
    if place.geometry.geom_type not in AREAS:
        return False
    return place.kind in ("water", "hazard") or (place.kind == "land" and place.access == "closed")


def on_closed_ground(
    places: Sequence[Place], *, lat: ArrayLike, lon: ArrayLike
) -> NDArray[np.bool_]:
    """Whether each spot lies on closed ground; what the file does not name is not closed."""
    import shapely

    x, y = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    found = np.zeros(np.shape(x), dtype=bool)
    for place in places:
        if closes(place):
            found |= np.asarray(shapely.intersects_xy(place.geometry, x, y))
    return found


def closed_by(places: Sequence[Place], *, lat: float, lon: float) -> str:
    """Name the place that closes a spot; empty when none does."""
    for place in places:
        if closes(place) and bool(on_closed_ground([place], lat=lat, lon=lon)):
            return place.name or f"a place of kind {place.kind}"
    return ""
