"""How bright a site's night sky is, from a raster that the user has.

The raster's numbers are the zenith's brightness in magnitudes a square arcsecond, the
artificial light as a multiple of the natural, or the artificial luminance in mcd/m2: files do
not say which, so the user does.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple, get_args

import numpy as np

from backbearing.base.errors import OutingError, TerrainError
from backbearing.sky.natural_sky import NATURAL_MAG, NATURAL_MCD_M2
from backbearing.terrain.chunks import Chunks
from backbearing.terrain.reading.files import ReadingOptions
from backbearing.terrain.reading.opening import source_at
from backbearing.terrain.surface import look

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from os import PathLike

    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.grid import Grid, Pixels
    from backbearing.terrain.reading.sources import Heights, Source

    Floats = NDArray[np.float64]

SkyUnit = Literal["mag/arcsec2", "ratio", "mcd/m2"]
UNITS: Final[tuple[str, ...]] = get_args(SkyUnit)

_PLAUSIBLE: Final = {
    "mag/arcsec2": (14.0, 23.0, "the night sky lies between 14 and 23"),
    "ratio": (0.0, 10_000.0, "light lies between 0 and 10,000 times the natural"),
    "mcd/m2": (0.0, 1_000.0, "artificial light lies between 0 and 1,000"),
}
SUFFIXES: Final = (".tif", ".tiff", ".asc")


class SkyAt(NamedTuple):
    """The sky's brightness at places.

    Attributes
    ----------
    mag_arcsec2 : ndarray, shape (n,)
        Zenith, natural and artificial light together; NaN where unknown.
    ratio : ndarray, shape (n,)
        Artificial light as a multiple of the natural; NaN where unknown.
    state : ndarray of int8, shape (n,)
        Values of `backbearing.terrain.sources.Ground`: KNOWN, OUTSIDE, VOID or MISSING_TILE.
    """

    mag_arcsec2: Floats
    ratio: Floats
    state: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class SkyRaster:
    """Brightness of the night sky on a raster; made by `open`.

    Between pixel centres luminance is bilinear, not magnitudes.
    """

    source: Source
    unit: SkyUnit

    @classmethod
    def open(
        cls,
        path: str | PathLike[str],
        *,
        unit: SkyUnit,
        band: int | None = None,
        crs: Any = None,
        voids: Sequence[float] = (),
    ) -> SkyRaster:
        """Open a GeoTIFF or ASCII grid, or a folder of tiles; reads no numbers yet.

        Parameters
        ----------
        path : path
            Each suffix is opened by its one driver, as elevation is.
        unit : {"mag/arcsec2", "ratio", "mcd/m2"}
            What its numbers are: brightness of the zenith, artificial over natural light, or
            artificial luminance.
        band, crs, voids : optional
            As in `Elevation.open`.

        Raises
        ------
        OutingError
            For an unknown unit.
        TerrainError
            For a file that cannot be read and placed without guessing.
        """
        if unit not in UNITS:
            raise OutingError(
                f"The sky raster's unit is {unit!r}",
                hint=f"write one of {', '.join(UNITS)}",
                key="unit",
            )
        file = Path(path)
        if not file.is_dir() and file.suffix.lower() not in SUFFIXES:
            raise TerrainError(
                f"{file.name}: the sky's brightness is read from {', '.join(SUFFIXES)}, not "
                f"{file.suffix or 'a bare name'}.",
                path=str(file),
            )

        # The numbers are no heights: metre keeps them as they are.
        options = ReadingOptions(
            vertical_unit="metre", voids=tuple(float(v) for v in voids), crs=crs, band=band
        )
        return cls(_Light(source_at(file, options), unit), unit)

    def at(self, *, lat: ArrayLike, lon: ArrayLike) -> SkyAt:
        """Look up the sky's brightness at places, degrees, shape (n,).

        Raises
        ------
        TerrainError
            When the raster holds numbers that no sky has in the unit that was said.
        """
        lat_a, lon_a = np.broadcast_arrays(
            np.atleast_1d(np.asarray(lat, dtype=np.float64)),
            np.atleast_1d(np.asarray(lon, dtype=np.float64)),
        )
        pixels = self.source.grid.pixels(lat=lat_a, lon=lon_a)
        light, state = look(self.source, self._chunks, pixels)
        ratio = light - 1.0
        mag = NATURAL_MAG - 2.5 * np.log10(light)
        return SkyAt(mag, ratio, state)

    @cached_property
    def _chunks(self) -> Chunks:

        return Chunks(self.source)


@dataclass(frozen=True)
class _Light:
    """A raster's numbers as all of the sky's light, in multiples of the natural."""

    raw: Source
    unit: SkyUnit

    @property
    def grid(self) -> Grid:
        return self.raw.grid

    @property
    def name(self) -> str:
        return self.raw.name

    @property
    def tags(self) -> Mapping[str, str]:
        return self.raw.tags

    @property
    def array(self) -> None:
        return None

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        return self.raw.covered(pixels)

    def read(self, rows: slice, cols: slice) -> Heights:
        numbers = np.asarray(self.raw.read(rows, cols), dtype=np.float64)
        least, most, words = _PLAUSIBLE[self.unit]
        with np.errstate(invalid="ignore"):
            odd = (numbers < least) | (numbers > most)
        if odd.any():
            worst = float(numbers[odd].flat[0])
            raise TerrainError(
                f"{self.name} holds {worst:g}, and in {self.unit} {words}",
                hint=f"say another unit, or pass voids=[{worst:g}] if the number marks voids",
                path=self.name,
            )
        if self.unit == "mag/arcsec2":
            return np.asarray(10.0 ** (0.4 * (NATURAL_MAG - numbers)))
        if self.unit == "ratio":
            return np.asarray(1.0 + numbers)
        return np.asarray(1.0 + numbers / NATURAL_MCD_M2)
