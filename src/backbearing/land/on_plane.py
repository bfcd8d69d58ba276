"""Places laid on the local map, once each."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.base.local_plane import LocalPlane
    from backbearing.plan.place import Place


@lru_cache(maxsize=256)
def on_plane(local: LocalPlane, place: Place) -> Any:
    """A place's geometry in metres; every walk asks for those of all places."""
    return local.to_plane(place.geometry)
