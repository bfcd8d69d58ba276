"""Something on the ground that the user's own files name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


PlaceKind = Literal["parking", "track", "land", "water", "hazard", "note"]


Access = Literal["open", "ask first", "closed", "unknown"]


@dataclass(frozen=True, slots=True)
class Place:
    """Something on the ground that the user's own files name: names are hostile text."""

    kind: PlaceKind
    name: str
    note: str
    access: Access
    geometry: BaseGeometry
