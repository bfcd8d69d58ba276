"""Tiles of one degree: which hold the ground about a place, how they are named and laid out.

A tile is known by its south-west corner, as all global products name theirs. The layout of the
Copernicus models is that of the readme of their public store [CopernicusTiles]_: pixel centres
on whole degrees, the first row on the northern edge and the first column on the western one,
fewer columns towards the poles.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from backbearing.base.constants import LEAST_M_PER_LAT_DEG, MEAN_EARTH_RADIUS_M
from backbearing.base.errors import FetchError
from backbearing.base.geodesy import line_between

MOST_REACH_M: Final = 500_000.0
"""How far about a place tiles are looked for, metres: an outing's own limit of its reach."""

SPARE_M: Final = 1_000.0
"""Ground so far beyond what is asked counts too, metres: pixels hang over a tile's edges by half
their size, and edges are tried in steps of a hundredth of a degree."""


class Corner(NamedTuple):
    """South-west corner of a tile, whole degrees; west of 180 is ``lon=-180``.

    Examples
    --------
    >>> Corner(-31, 138).name, Corner(36, -85).name
    ('S31E138', 'N36W085')
    """

    lat: int
    lon: int

    @property
    def words(self) -> dict[str, str]:
        """What ``{NS}``, ``{lat}``, ``{EW}``, ``{lon}`` of a template mean; small letters too."""
        north_south, east_west = "S" if self.lat < 0 else "N", "W" if self.lon < 0 else "E"
        return {
            "NS": north_south,
            "ns": north_south.lower(),
            "lat": f"{abs(self.lat):02d}",
            "EW": east_west,
            "ew": east_west.lower(),
            "lon": f"{abs(self.lon):03d}",
        }

    @property
    def name(self) -> str:
        """Hemisphere and degrees, as in ``N36W085``."""
        words = self.words
        return f"{words['NS']}{words['lat']}{words['EW']}{words['lon']}"


class Layout(NamedTuple):
    """Rows and columns of a tile, and the degrees at its outermost pixel corners."""

    rows: int
    cols: int
    west: float
    north: float

    @property
    def lat_step(self) -> float:
        """Degrees from row to row."""
        return 1.0 / self.rows

    @property
    def lon_step(self) -> float:
        """Degrees from column to column."""
        return 1.0 / self.cols


@dataclass(frozen=True, slots=True)
class TileScheme:
    """How a product lays its tiles out.

    Attributes
    ----------
    key : str
        What to write as ``scheme`` in the configuration.
    rows : int
        Rows of a tile that it does not share with its neighbour; 0 where any number will do.
    cols_by_lat : tuple of (int, int)
        From which latitude outwards, degrees, a tile has so many columns.
    shared_edge : bool
        Whether tiles repeat the first row and column of the next, as files of posts do.
    degrees : int
        How wide and high a tile is; its corner is a multiple of it.
    """

    key: str
    rows: int = 0
    cols_by_lat: tuple[tuple[int, int], ...] = ()
    shared_edge: bool = False
    degrees: int = 1

    def cols(self, corner: Corner) -> int:
        """Columns of a tile, by that of its edges which lies nearest the equator."""
        least = corner.lat if corner.lat >= 0 else -corner.lat - 1
        return next((cols for lat, cols in reversed(self.cols_by_lat) if least >= lat), 0)

    def layout(self, corner: Corner) -> Layout | None:
        """How a tile must lie; None where the scheme leaves its size open."""
        if not self.rows:
            return None
        cols = self.cols(corner)
        return Layout(self.rows, cols, corner.lon - 0.5 / cols, corner.lat + 1.0 + 0.5 / self.rows)

    def most_cells(self, corner: Corner) -> int:
        """Cells of a tile; of one of 0.3 arc-seconds where the scheme leaves it open."""
        return self.rows * self.cols(corner) if self.rows else (12_000 * self.degrees) ** 2


def _thinned(cols: int) -> tuple[tuple[int, int], ...]:
    """Columns by latitude: 1, 1.5, 2, 3, 5 and 10 times as wide [CopernicusTiles]_."""
    return tuple(
        (lat, round(cols / wide))
        for lat, wide in ((0, 1.0), (50, 1.5), (60, 2.0), (70, 3.0), (80, 5.0), (85, 10.0))
    )


SCHEMES: Final = {
    scheme.key: scheme
    for scheme in (
        TileScheme("copernicus 30", 3600, _thinned(3600)),
        TileScheme("copernicus 90", 1200, _thinned(1200)),
        TileScheme("one degree"),
        TileScheme("one degree, shared edges", shared_edge=True),
        TileScheme("three degrees", degrees=3),
    )
}
"""Key to scheme. The last three leave the number of pixels to the file."""


def tiles_about(*, lat: float, lon: float, within_m: float, degrees: int = 1) -> tuple[Corner, ...]:
    """Find the tiles that hold any ground within so far of a place.

    Distances are along geodesics on the ellipsoid. Across the antimeridian and over a pole too.
    ``degrees`` is the width of a tile.

    Returns
    -------
    tuple of Corner
        From north to south, then eastwards from the place's far west.

    Raises
    ------
    FetchError
        For a place that is none, and a distance that is not positive or over 500 km.
    """
    if not (-90.0 <= lat <= 90.0 and -360.0 <= lon <= 360.0):
        raise FetchError(
            f"lat {lat:g}, lon {lon:g} is no place", hint="write degrees, north and east positive"
        )
    if not 0.0 < within_m <= MOST_REACH_M:
        raise FetchError(
            f"within {within_m / 1000.0:g} km is no reach",
            hint="write more than 0 and up to 500 km",
        )
    reach_m = within_m + SPARE_M
    lon = (lon + 180.0) % 360.0 - 180.0
    high = reach_m / LEAST_M_PER_LAT_DEG
    south, north = max(math.floor(lat - high), -90), min(math.floor(lat + high), 89)
    corners = []
    for row in range(north, south - 1, -1):
        offsets = _columns(lat, lon, reach_m)
        near = [i for i in offsets if _distance_m(lat, lon, row, i) <= reach_m]
        corners += [Corner(row, (i + 180) % 360 - 180) for i in near]
    whole = (Corner(*(one // degrees * degrees for one in corner)) for corner in corners)
    return tuple(dict.fromkeys(whole))


def _columns(lat: float, lon: float, reach_m: float) -> range:
    """Whole degrees of longitude, not wrapped, that may lie within reach: never too few."""
    turn = 1.01 * reach_m / MEAN_EARTH_RADIUS_M
    most = math.cos(math.radians(lat))
    if math.radians(90.0 - abs(lat)) <= turn or math.sin(turn) >= most:
        here = math.floor(lon)
        return range(here - 180, here + 180)
    wide = math.degrees(math.asin(math.sin(turn) / most))
    return range(math.floor(lon - wide), math.floor(lon + wide) + 1)


def _distance_m(lat: float, lon: float, row: int, col: int) -> float:
    """How near a tile comes to a place: along the place's own meridian, or on a side of it."""
    if col <= lon <= col + 1:
        nearest = min(max(lat, row), row + 1)
        return float(line_between(lat1=lat, lon1=lon, lat2=nearest, lon2=lon).distance_m)
    sides = np.linspace(row, row + 1, 101)
    return min(
        float(line_between(lat1=lat, lon1=lon, lat2=sides, lon2=float(side)).distance_m.min())
        for side in (col, col + 1)
    )


_IN_NAME: Final = re.compile(
    r"(?<![A-Za-z0-9])([NSns])0?(\d{2})(?:_00)?[_-]?([EWew])(\d{3})(?![0-9])", re.ASCII
)


def corner_in(name: str) -> Corner | None:
    """Read a tile's corner in a file's name, as most products write it; None where it has none.

    Examples
    --------
    >>> corner_in("Copernicus_DSM_COG_10_S31_00_E138_00_DEM.tif"), corner_in("n36w085.hgt")
    (Corner(lat=-31, lon=138), Corner(lat=36, lon=-85))
    """
    found = _IN_NAME.search(name)
    if found is None:
        return None
    north_south, lat, east_west, lon = found.groups()
    corner = Corner(
        -int(lat) if north_south in "Ss" else int(lat), -int(lon) if east_west in "Ww" else int(lon)
    )
    return corner if -90 <= corner.lat <= 89 and -180 <= corner.lon <= 179 else None


def filled(template: str, corner: Corner) -> str:
    """Fill a template with a tile's words; anything else in braces is refused.

    Raises
    ------
    FetchError
        Which names there are.
    """
    words = corner.words

    def word(found: re.Match[str]) -> str:
        if found.group(1) not in words:
            raise FetchError(
                f"{found.group(0)} in the template {template} stands for nothing",
                hint=f"write {', '.join('{' + name + '}' for name in words)}",
            )
        return words[found.group(1)]

    return re.sub(r"\{([^{}]*)\}", word, template)
