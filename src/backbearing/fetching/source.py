"""Where tiles come from: two open global models built in, others from the configuration file."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, NamedTuple
from urllib.parse import urlsplit

from backbearing.base.errors import FetchError
from backbearing.base.numbers import num
from backbearing.fetching.tile_scheme import SCHEMES, Corner, corner_in, filled
from backbearing.terrain.reading.products import PRODUCTS, ElevationProduct

if TYPE_CHECKING:
    from backbearing.fetching.tile_scheme import TileScheme

Role = Literal["heights", "surface", "canopy"]

NO_TILE_SIZE: Final = 600_000_000
"""Bytes that no tile of one degree has; what a source of no fixed layout is held to."""


class Box(NamedTuple):
    """Tiles from one corner to another, whole degrees, both included."""

    south: int
    west: int
    north: int
    east: int

    def holds(self, corner: Corner) -> bool:
        """Whether a tile is among them."""
        return self.south <= corner.lat <= self.north and self.west <= corner.lon <= self.east


@dataclass(frozen=True, slots=True)
class TileSource:
    """A product's tiles at one address.

    Attributes
    ----------
    name : str
        What ``--source`` takes.
    template : str
        Address of a tile; empty for tiles that are only brought by hand.
    scheme : TileScheme
        How they are laid out.
    product : str
        Key of the product in :mod:`backbearing.terrain.reading.products`; may be empty.
    licence : str
        The sentence that must stand beside what is made of them.
    datum : str
        What the heights count from.
    role : str
        ``heights`` and ``surface`` are ground to stand on; ``canopy`` is how high trees are.
    absent : str
        Whether a tile that the server does not have is ``sea`` or ``missing``.
    not_released : tuple of Box
        Land whose tiles are kept back: absent there is never sea.
    checksum : str
        Template of a file with a tile's checksum, where one is published.
    stated_error : str
        What is published of the heights' error, where the product is not known here.
    """

    name: str
    template: str
    scheme: TileScheme
    product: str = ""
    licence: str = ""
    datum: str = ""
    role: Role = "heights"
    absent: Literal["sea", "missing"] = "missing"
    not_released: tuple[Box, ...] = ()
    checksum: str = ""
    stated_error: str = ""

    def url(self, corner: Corner) -> str:
        """Address of a tile."""
        return filled(self.template, corner)

    def checksum_url(self, corner: Corner) -> str:
        """Address of a tile's checksum; empty where none is published."""
        return filled(self.checksum, corner) if self.checksum else ""

    def file_name(self, corner: Corner) -> str:
        """Name under which a tile is kept: the end of its address, its corner in it."""
        name = urlsplit(self.url(corner)).path.rpartition("/")[2] if self.template else ""
        plain = re.sub(r"[^A-Za-z0-9._-]", "_", name)
        if corner_in(plain) == corner and plain.lower().endswith((".tif", ".tiff")):
            return plain
        return f"{corner.name}{'.hgt' if self.scheme.shared_edge else '.tif'}"

    def is_sea(self, corner: Corner) -> bool:
        """Whether a tile that is absent is open sea by the source's own word."""
        return self.absent == "sea" and not any(box.holds(corner) for box in self.not_released)

    def most_bytes(self, corner: Corner) -> int:
        """Bytes that no tile exceeds: its cells as doubles, with overviews, and a header."""
        if not self.scheme.rows:
            return NO_TILE_SIZE
        return self.scheme.most_cells(corner) * 8 * 4 // 3 + 1_000_000

    @property
    def known(self) -> ElevationProduct | None:
        """What is known here of the product."""
        return PRODUCTS.get(self.product)

    @property
    def title(self) -> str:
        """The product's name, or the source's own."""
        return self.known.name if self.known else self.product or self.name

    @property
    def surface(self) -> str:
        """Whether trees and buildings are in it, in words; empty where unknown."""
        return self.known.surface if self.known else ""

    @property
    def errors(self) -> str:
        """The published errors in words, each of its kind."""
        product = self.known
        if product is None:
            return self.stated_error or "none is published here"
        said = f"of a height {num(product.absolute_le90_m)} m (LE90: 90 % of them)"
        if not math.isnan(product.relative_le90_m):
            said += f"; of the difference of two nearby {num(product.relative_le90_m)} m (LE90)"
        if not math.isnan(product.steep_relative_le90_m):
            said += f", {num(product.steep_relative_le90_m)} m on ground steeper than 20 %"
        return f"{said}. {product.source}"


_STORE: Final = "https://copernicus-dem-{}m.s3.amazonaws.com/{}/{}.tif"
_TILE: Final = "Copernicus_DSM_COG_{}_{{NS}}{{lat}}_00_{{EW}}{{lon}}_00_DEM"
_NOTICE: Final = (
    "produced using Copernicus WorldDEM-{}; © DLR e.V. 2010-2014 and © Airbus Defence and Space "
    "GmbH 2014-2018 provided under COPERNICUS by the European Union and ESA; all rights reserved"
)
_EGM2008: Final = "EGM2008, near the mean sea (EPSG:9518)"


def _copernicus(metres: int, arc_tenths: int, not_released: tuple[Box, ...]) -> TileSource:
    tile = _TILE.format(arc_tenths)
    return TileSource(
        name=f"copernicus {metres}",
        template=_STORE.format(metres, tile, tile),
        scheme=SCHEMES[f"copernicus {metres}"],
        product=f"copernicus {metres}",
        licence=_NOTICE.format(metres),
        datum=_EGM2008,
        role="surface",
        absent="sea",
        not_released=not_released,
    )


BUILT_IN: Final = (
    # Of the 26,475 tiles of the 90 m model 25 are not in the 30 m model's public store: all
    # between these corners, over Armenia and Azerbaijan (lists in dem-stitcher 3.2.0, compared).
    _copernicus(30, 10, (Box(38, 43, 41, 50),)),
    _copernicus(90, 30, ()),
    TileSource(
        name="srtm",
        template="",
        scheme=SCHEMES["one degree, shared edges"],
        product="srtm",
        licence="SRTM of NASA and the USGS: no restriction on use; credit LP DAAC",
        datum="EGM96, near the mean sea",
    ),
)
"""Sources that need no configuration; the first is taken when none is named. The notice of the
Copernicus models is that of their licence [second hand]; that of SRTM is from memory."""


def source_named(name: str, sources: tuple[TileSource, ...]) -> TileSource:
    """Look a source up; the first of them when nothing is named.

    Raises
    ------
    FetchError
        With the names that there are.
    """
    if not name:
        return sources[0]
    for source in sources:
        if source.name == name.strip().lower():
            return source
    raise FetchError(
        f"No tile source {name!r} is known here",
        hint=f"write one of {', '.join(source.name for source in sources)}, or add a "
        "[[tile_source]] to the configuration file",
    )
