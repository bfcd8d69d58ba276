"""Common open elevation products and how wrong their makers say they are.

Figures are the makers' own, as published; they hold for whole continents and open
ground, and are worse on steep slopes and under trees. All are quoted from memory of the
documents named and were not looked up again, but for the relative errors of the Copernicus
models [CopernicusDEM]_. How errors hold together from one height to the next is in
:mod:`backbearing.terrain.height_errors`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from backbearing.base.errors import TerrainError
from backbearing.terrain.height_errors import StatedErrors

Cover = Literal["none", "part", "all"]

SIGMAS_IN_LE90 = 1.6449
"""Half-width of 90 % of a normal distribution, in standard deviations."""


@dataclass(frozen=True, slots=True)
class ElevationProduct:
    """One product.

    Attributes
    ----------
    key : str
        What to write as ``product`` in an outing file.
    name : str
        What its maker calls it.
    cell : str
        Spacing of its heights.
    absolute_le90_m, relative_le90_m : float
        Linear error at 90 % confidence, metres: of a height, and of the difference of two
        heights nearby; NaN where none is published.
    surface : str
        Whether trees and buildings are in it.
    source : str
        Where the figures were published.
    steep_relative_le90_m : float
        The relative error on ground steeper than 20 %, where one is published for it.
    cover : {"none", "part", "all"}
        How much of the trees and buildings is in it, as ``surface`` has it.
    """

    key: str
    name: str
    cell: str
    absolute_le90_m: float
    relative_le90_m: float
    surface: str
    source: str
    steep_relative_le90_m: float = math.nan
    cover: Cover = "none"

    @property
    def sigma_m(self) -> float:
        """One standard deviation of a height, metres."""
        return self.absolute_le90_m / SIGMAS_IN_LE90

    @property
    def errors(self) -> StatedErrors:
        """The same figures, one standard deviation each."""
        return StatedErrors(
            self.sigma_m,
            self.relative_le90_m / SIGMAS_IN_LE90,
            self.steep_relative_le90_m / SIGMAS_IN_LE90,
        )


ASSUMED_VERTICAL_SIGMA_M: Final = 10.0
"""Assumed when the user states no vertical error: the SRTM requirement of 16 m at 90 % is
9.7 m at one standard deviation [Farr2007]_."""

ASSUMED_ERRORS: Final = StatedErrors(
    ASSUMED_VERTICAL_SIGMA_M, ASSUMED_VERTICAL_SIGMA_M * 10 / 16, least_range_m=150.0
)
"""With the relative error of the same requirement, 10 m at 90 %. It is of cells of some 30 m:
the range is at least five of those, on finer rasters too; an assumption, no source."""

_NONE = math.nan

PRODUCTS: Final = {
    product.key: product
    for product in (
        ElevationProduct(
            "srtm",
            "SRTM, 1 and 3 arc-seconds",
            "30 and 90 m",
            16.0,
            10.0,
            "radar surface of February 2000: part of the canopy is in it",
            "mission requirement, Farr et al. 2007, doi:10.1029/2005RG000183",
            cover="part",
        ),
        ElevationProduct(
            "srtm north america",
            "SRTM, as measured over North America",
            "30 and 90 m",
            9.0,
            7.0,
            "radar surface of February 2000: part of the canopy is in it",
            "Rodriguez, Morris and Belz 2006, PE&RS 72, 249-260, doi:10.14358/PERS.72.3.249",
            cover="part",
        ),
        ElevationProduct(
            "copernicus 30",
            "Copernicus DEM GLO-30",
            "30 m",
            4.0,
            2.0,
            "radar surface of 2011 to 2015: canopy and buildings are in it",
            "Copernicus DEM Product Handbook, Airbus and ESA: < 4 m absolute; relative < 2 m on "
            "slopes to 20 %, < 4 m above",
            4.0,
            cover="all",
        ),
        ElevationProduct(
            "copernicus 90",
            "Copernicus DEM GLO-90",
            "90 m",
            4.0,
            2.0,
            "radar surface of 2011 to 2015: canopy and buildings are in it",
            "Copernicus DEM Product Handbook, Airbus and ESA",
            4.0,
            cover="all",
        ),
        ElevationProduct(
            "aster 3",
            "ASTER GDEM version 3",
            "30 m",
            14.0,
            _NONE,
            "optical surface: canopy and buildings are in it",
            "Abrams et al. 2020, doi:10.3390/rs12071156 (root mean square error about 8.5 m)",
            cover="all",
        ),
        ElevationProduct(
            "alos 30",
            "ALOS World 3D, 30 m",
            "30 m",
            8.2,
            _NONE,
            "optical surface: canopy and buildings are in it",
            "JAXA AW3D30 product description (standard deviation 5 m)",
            cover="all",
        ),
        ElevationProduct(
            "3dep 10",
            "USGS 3DEP, 1/3 arc-second",
            "10 m",
            1.4,
            _NONE,
            "bare earth: trees and buildings are taken out",
            "Stoker and Miller 2022, doi:10.3390/rs14040940 (root mean square error about 0.8 m)",
        ),
    )
}
"""Key to product."""


def product_named(key: str) -> ElevationProduct:
    """Look a product up.

    Raises
    ------
    TerrainError
        With the keys that there are.
    """
    try:
        return PRODUCTS[key.strip().lower()]
    except KeyError:
        raise TerrainError(
            f"No elevation product {key!r} is known here",
            hint=f"write one of {', '.join(PRODUCTS)}, or state vertical_sigma_m instead",
            key=key,
        ) from None
