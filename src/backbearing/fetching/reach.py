"""How far the skyline must reach from a place, and why: curvature, refraction, the highest land.

Land of height ``H`` at a distance ``s`` stands at the apparent altitude ``a`` of an eye at height
``h`` where ``H - h = s tan(a) + (1 - k) s^2 / 2R`` [Ghilani2012]_, which is the one convention of
this package for the ground (:func:`backbearing.base.geodesy.altitude_of`). Solved for ``s`` with
the highest land there is, it gives the distance beyond which nothing rises over ``a``; solved for
``H``, what land must be to show from beyond a distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from backbearing.base.constants import DEFAULT_REFRACTION_K
from backbearing.base.geodesy import curvature_drop_m, drop_per_m2
from backbearing.terrain.reading.sources import HIGHEST_LAND_M

if TYPE_CHECKING:
    from backbearing.terrain.elevation import Elevation

LOW_DEG: Final = 1.0
"""Altitude under which a ridge seldom matters to a picture, degrees (own choice): a target so low
is seen through 26 times the air overhead."""


class Region(NamedTuple):
    """Land about which no higher ground lies within its own reach than so many metres."""

    name: str
    south: float
    west: float
    north: float
    east: float
    highest_m: float
    summit: str


REGIONS: Final = (
    Region("Australia", -45.0, 112.0, -12.0, 156.0, 2228.0, "Mount Kosciuszko"),
    Region("New Zealand", -48.0, 165.0, -33.0, 179.9, 3724.0, "Aoraki / Mount Cook"),
    Region("southern Africa", -36.0, 10.0, -15.0, 42.0, 3482.0, "Thabana Ntlenyana"),
    Region("eastern North America", 25.0, -93.0, 47.0, -66.0, 2037.0, "Mount Mitchell"),
    Region("the contiguous United States", 25.0, -124.8, 48.0, -66.0, 4421.0, "Mount Whitney"),
    Region("Britain and Ireland", 51.5, -11.0, 61.0, 1.8, 1345.0, "Ben Nevis"),
    Region("Scandinavia and Finland", 56.0, 4.0, 71.5, 31.6, 2469.0, "Galdhøpiggen"),
    Region("Europe west of 30 E", 38.5, -10.0, 72.0, 30.0, 4810.0, "Mont Blanc"),
)
"""Boxes, smallest first; heights as printed on maps in common use, from memory. Where a place
lies in none, the highest land on Earth counts."""


class Highest(NamedTuple):
    """The highest land that can stand about a place, metres, and why it is the highest."""

    height_m: float
    why: str


def highest_land(*, lat: float, lon: float) -> Highest:
    """Give the highest land that can stand within its own reach of a place."""
    for region in REGIONS:
        if region.south <= lat <= region.north and region.west <= lon <= region.east:
            return Highest(region.highest_m, f"{region.summit}, the highest of {region.name}")
    return Highest(HIGHEST_LAND_M, "no land on Earth is higher")


@dataclass(frozen=True, slots=True)
class SkylineReach:
    """What an eye over a place can see of far land.

    Attributes
    ----------
    eye_m : float
        Height of the eye above the sea, metres; 0, the most cautious, where it is not known.
    highest : Highest
        The highest land that there may be.
    refraction_k : float
        Terrestrial refraction coefficient.
    """

    eye_m: float
    highest: Highest
    refraction_k: float = DEFAULT_REFRACTION_K

    def distance_m(self, altitude_deg: float) -> float:
        """Distance beyond which no land rises over an altitude, metres; 0 where none ever does."""
        return farthest_m(
            self.highest.height_m - self.eye_m, altitude_deg, refraction_k=self.refraction_k
        )

    def least_rise_m(self, distance_m: float, altitude_deg: float) -> float:
        """How far above the eye land beyond a distance must stand to rise over an altitude."""
        drop = float(curvature_drop_m(distance_m, self.refraction_k))
        return distance_m * math.tan(math.radians(altitude_deg)) + drop


def farthest_m(
    rise_m: float, altitude_deg: float, *, refraction_k: float = DEFAULT_REFRACTION_K
) -> float:
    """Distance at which something so far above the eye sinks under an altitude, metres.

    The positive root of ``(1 - k) s^2 / 2R + s tan(a) = rise``; 0 where there is none.

    Parameters
    ----------
    rise_m : float
        Height above the eye, metres.
    altitude_deg : float
        Apparent altitude, degrees, from 0 up.
    refraction_k : float
        Terrestrial refraction coefficient, below 1.
    """
    if rise_m <= 0.0:
        return 0.0
    bend, steep = drop_per_m2(refraction_k), math.tan(math.radians(altitude_deg))
    # The root by the sum in the denominator: for a steep sight the difference would lose digits.
    return 2.0 * rise_m / (steep + math.sqrt(steep * steep + 4.0 * bend * rise_m))


def nearest_edge_m(elevation: Elevation, *, lat: float, lon: float) -> float:
    """How far the raster reaches from a place in every direction, metres; 0 off it.

    To the nearest of its edges, on its own grid: tiles that are missing between others and voids
    are not looked for.
    """
    at = elevation.grid.pixels(lat=lat, lon=lon)
    rows, cols = elevation.shape
    row_m, col_m = elevation.local_steps_m(lat=lat, lon=lon)
    row, col = float(at.row), float(at.col)
    edges = (row * row_m, (rows - 1 - row) * row_m, col * col_m, (cols - 1 - col) * col_m)
    return max(min(edges), 0.0)
