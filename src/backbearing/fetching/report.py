"""What is known of the ground about a place before and after it is brought: values to be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from backbearing.fetching.fetch import TileState, by_another_machine
from backbearing.fetching.reach import LOW_DEG

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.fetching.cache import TileCache
    from backbearing.fetching.fetch import TileFound
    from backbearing.fetching.reach import SkylineReach
    from backbearing.fetching.source import TileSource
    from backbearing.fetching.tile_scheme import Corner

BYTES_A_CELL: float = 4.0 * 4.0 / 3.0
"""Single precision with overviews of half the size each, unpacked: what a tile has at most."""


@dataclass(frozen=True, slots=True)
class GroundReport:
    """The ground about a place.

    Attributes
    ----------
    lat, lon : float
        The place, WGS84 degrees.
    within_m : float
        How far about it ground is wanted.
    reach : SkylineReach
        What far land can do there.
    source : TileSource
    tiles : tuple of TileFound
        Those that hold it.
    cache : TileCache
        Where they are kept.
    """

    lat: float
    lon: float
    within_m: float
    reach: SkylineReach
    source: TileSource
    tiles: tuple[TileFound, ...]
    cache: TileCache

    def of(self, *states: TileState) -> list[TileFound]:
        """Tiles in these states."""
        return [one for one in self.tiles if one.state in states]

    @property
    def to_come(self) -> list[TileFound]:
        """Tiles that are not here and may yet be."""
        return self.of(TileState.TO_FETCH, TileState.FAILED, TileState.NO_SERVER)

    @property
    def files(self) -> list[Path]:
        """Files of the tiles that are here, those of open sea among them."""
        return [one.path for one in self.tiles if one.path is not None]

    @property
    def size_known(self) -> bool:
        """Whether the megabytes are told after tiles of the source that are here."""
        return self.cache.mean_bytes(self.source) is not None

    @property
    def expected_bytes(self) -> float:
        """Bytes that are still to come; NaN where nothing tells.

        After the mean of the source's tiles that are here, else what they are unpacked, which
        is more than they are packed.
        """
        wanted = [one.corner for one in self.to_come]
        mean = self.cache.mean_bytes(self.source)
        return sum(self._bytes_of(corner, mean) for corner in wanted)

    def _bytes_of(self, corner: Corner, mean: float | None) -> float:
        if mean is not None:
            return mean
        scheme = self.source.scheme
        return scheme.most_cells(corner) * BYTES_A_CELL if scheme.rows else float("nan")

    @property
    def by_hand(self) -> list[tuple[str, str]]:
        """File name and address of each tile that is still to come."""
        return list(by_another_machine(self.tiles, self.source))

    def document(self) -> dict[str, Any]:
        """The same as plain data; lengths in metres."""
        reach, source = self.reach, self.source
        return {
            "format": "backbearing-ground",
            "version": 1,
            "lat": self.lat,
            "lon": self.lon,
            "within_m": self.within_m,
            "reach": {
                "eye_m": reach.eye_m,
                "highest_land_m": reach.highest.height_m,
                "highest_land_why": reach.highest.why,
                "refraction_k": reach.refraction_k,
                "level_m": reach.distance_m(0.0),
                "low_deg": LOW_DEG,
                "low_m": reach.distance_m(LOW_DEG),
                "least_rise_beyond_m": reach.least_rise_m(self.within_m, LOW_DEG),
            },
            "source": {
                "name": source.name,
                "product": source.product,
                "role": source.role,
                "licence": source.licence,
                "datum": source.datum,
                "errors": source.errors,
            },
            "tiles": [_tile(one, source) for one in self.tiles],
            "expected_bytes": self.expected_bytes,
            "expected_bytes_are": "mean of tiles here" if self.size_known else "at most",
            "folder": str(self.cache.home(source)),
        }


def _tile(one: TileFound, source: TileSource) -> dict[str, Any]:
    return {
        "corner": {"lat": one.corner.lat, "lon": one.corner.lon},
        "state": str(one.state),
        "file": None if one.path is None else str(one.path),
        "url": source.url(one.corner) if source.template else None,
        "said": one.said,
    }
