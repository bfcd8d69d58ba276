"""An elevation raster: open it, ask its height, its state, its skyline."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, Literal, Self

import numpy as np

from backbearing.base import asked
from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import TerrainError
from backbearing.base.numbers import num
from backbearing.terrain.chunks import Chunks
from backbearing.terrain.grid import Grid
from backbearing.terrain.local_ground import LocalGround
from backbearing.terrain.reading.files import ReadingOptions
from backbearing.terrain.reading.opening import source_at, source_of
from backbearing.terrain.reading.sources import ArraySource, Ground
from backbearing.terrain.skyline.doubt import doubt_of
from backbearing.terrain.skyline.many_eyes import Asking, find_skylines
from backbearing.terrain.skyline.one_eye import Question, find_skyline
from backbearing.terrain.skyline.sight_fits import SightFits
from backbearing.terrain.skyline.sweep import horizon_map
from backbearing.terrain.slope_and_drops import slope_at
from backbearing.terrain.surface import look

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from os import PathLike

    from affine import Affine
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

    from backbearing.terrain.grid import Bounds
    from backbearing.terrain.height_errors import SightErrors
    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.reading.sources import Heights, Source
    from backbearing.terrain.skyline.doubt import Doubt
    from backbearing.terrain.skylines import Skylines

MOST_CELLS_AT_ONCE = 150_000_000
"""Cells up to which a whole raster is read into memory when all of it is asked for."""

MOST_PLACES: Final = 8
"""Places whose ground is kept prepared."""


class Elevation:
    """Ground heights in metres on a raster; made by :meth:`open` or :meth:`from_array`.

    Heights stand at pixel centres, the surface between four centres is bilinear. Files
    are read by the window when a question needs them, and never change.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing.terrain import Elevation
    >>> ground = Elevation.open(sample / "sample_srtm_3arcsec.tif")
    >>> f"{ground.height_at(lat=36.30250, lon=-84.18000):.1f} m"
    '378.0 m'
    >>> skyline = ground.horizon(lat=36.30250, lon=-84.18000, eye_height_m=1.6)
    >>> f"{skyline.altitude_at(150.0):.1f} degrees"
    '2.6 degrees'
    """

    def __init__(self, source: Source, piece: int | None = None) -> None:
        self._source = source
        self._chunks = Chunks(source, piece)
        self._fits = SightFits(source.grid)
        self._whole = source.array
        self._about: dict[tuple[float, float], LocalGround] = {}

    @classmethod
    def open(
        cls,
        path: str | PathLike[str] | Sequence[str | PathLike[str]],
        *,
        vertical_unit: str | None = None,
        voids: Sequence[float] = (),
        crs: Any = None,
        band: int | None = None,
        sea_value: float | None = None,
        missing_tile_is_sea: bool = False,
        allow_vrt: bool = False,
    ) -> Self:
        """Open a file, a list of adjoining tiles, or a folder of tiles; reads no heights yet.

        GeoTIFF (.tif, .tiff), SRTM (.hgt), DTED (.dt0, .dt1, .dt2) and ASCII grids (.asc)
        are read, each by its one driver. Files that give posts (``AREA_OR_POINT=Point``,
        .hgt, DTED) are put on pixel centres.

        Parameters
        ----------
        path : path, list of paths, or folder
            What to read. Tiles must share CRS, cell size and alignment.
        vertical_unit : {"metre", "foot", "US survey foot"}, optional
            Unit of the heights where the file does not state one; metres by default.
        voids : sequence of float, optional
            Numbers that mark voids, besides the file's own and NaN.
        crs : optional
            Reference system of a file that names none.
        band : int, optional
            Which band of several holds heights, from 1.
        sea_value : float, optional
            The number that stands for open water; its level counts as 0 m.
        missing_tile_is_sea : bool
            Whether a tile that is absent between others is open water, as some global
            products leave it.
        allow_vrt : bool
            Whether .vrt files may be opened; they can read any file on the machine.

        Raises
        ------
        TerrainError
            For anything that cannot be read and placed without guessing.
        """
        options = ReadingOptions(
            vertical_unit=vertical_unit,
            voids=tuple(float(v) for v in voids),
            crs=crs,
            band=band,
            sea_value=sea_value,
            missing_tile_is_sea=missing_tile_is_sea,
            allow_vrt=allow_vrt,
        )
        return cls(source_at(path, options))

    @classmethod
    def from_array(
        cls,
        heights_m: ArrayLike,
        transform: Affine | Sequence[float],
        crs: Any,
        *,
        posts: bool = False,
        voids: Sequence[float] = (),
        sea_value: float | None = None,
        tags: Mapping[str, str] | None = None,
    ) -> Self:
        """Take heights in metres from an array.

        Parameters
        ----------
        heights_m : array_like, shape (rows, cols)
            Heights; NaN, masked and ``voids`` are unknown. Held in single precision when
            that loses nothing by their type, else in double.
        transform : affine.Affine or six numbers
            From (column, row) at pixel corners to the CRS, as rasterio gives it.
        crs
            Anything that pyproj understands: ``"EPSG:32616"``, a pyproj or rasterio CRS.
        posts : bool
            Whether the transform's origin is the *centre* of the first pixel instead.
        voids, sea_value, tags
            As in :meth:`open`.

        Raises
        ------
        TerrainError
            For a wrong shape, transform or CRS, or heights that no land has.
        """
        return cls(
            source_of(
                heights_m,
                transform,
                crs,
                posts=posts,
                voids=tuple(float(v) for v in voids),
                sea_value=sea_value,
                tags=tags,
            )
        )

    def __repr__(self) -> str:
        rows, cols = self.shape
        cell = num(self.cell_size_m, digits=3)
        return f"<Elevation {self.source}: {rows} x {cols} cells of {cell} m>"

    @property
    def grid(self) -> Grid:
        """Shape, transform and CRS together."""
        return self._source.grid

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.grid.shape

    @property
    def transform(self) -> Affine:
        """From (column, row) at pixel corners to the CRS.

        The centre of pixel (r, c) is at ``transform * (c + 0.5, r + 0.5)``, also for
        files that give posts.
        """
        return self.grid.transform

    @property
    def crs(self) -> CRS:
        """Horizontal reference system, as a pyproj CRS."""
        return self.grid.crs

    @property
    def placed_within_m(self) -> float:
        """Published accuracy of the raster's tie to WGS84, metres; NaN where there is none."""
        return self.grid.placed_within_m

    @property
    def bounds(self) -> Bounds:
        """Latitudes and longitudes that hold every pixel, degrees."""
        return self.grid.bounds

    @property
    def cell_size_m(self) -> float:
        """Mean of the row and column steps at the raster's middle, metres."""
        return self.grid.cell_size_m

    @property
    def source(self) -> str:
        """Path of the file or folder, or ``array``."""
        return self._source.name

    @property
    def tags(self) -> dict[str, str]:
        """What the file says of itself, its credit among it."""
        return dict(self._source.tags)

    @property
    def heights_m(self) -> Heights:
        """The whole raster in metres, shape (rows, cols), NaN where unknown; read-only.

        Raises
        ------
        TerrainError
            Above 150 million cells.
        """
        if self._whole is None:
            rows, cols = self.shape
            if rows * cols > MOST_CELLS_AT_ONCE:
                raise TerrainError(
                    f"{self.source} has {rows:,} x {cols:,} cells, too many to hold at once",
                    hint="cut out the area that you need",
                    cells=rows * cols,
                )
            self._whole = self._chunks.whole()
        return self._whole

    def window_m(self, rows: slice, cols: slice, *, as_held: bool = False) -> Heights:
        """Heights of a window of pixels in metres, NaN where unknown.

        In double precision, or ``as_held``: in single where no more is known.
        """
        single = as_held and self._chunks.single
        return self._chunks.window(rows, cols, np.float32 if single else np.float64)

    def part(self, rows: slice, cols: slice, wanted: NDArray[np.bool_] | None = None) -> Elevation:
        """Give a rectangle of cells as a raster of its own, held in memory and no more.

        See :meth:`.chunks.Chunks.read` for what is ``wanted`` of it.
        """
        from affine import Affine

        heights = np.ascontiguousarray(self._chunks.read(rows, cols, wanted))
        heights.setflags(write=False)
        corner = self.transform @ Affine.translation(cols.start, rows.start)
        grid = Grid(heights.shape, corner, self.crs)
        return Elevation(ArraySource(grid, heights, name=self.source))

    def always_compiled(self) -> None:
        """Look along horizons' rays by compiled code from now on, however many were asked before.

        Plain and compiled code differ in the last digits: so answers to many questions do not
        hang on their order.
        """
        self._chunks.cells_crossed = math.inf

    @property
    def in_pieces(self) -> bool:
        """Whether the raster is so large that it is read in pieces."""
        return self._chunks.count != (1, 1)

    def local_steps_m(self, *, lat: float, lon: float) -> tuple[float, float]:
        """Metres from row to row and from column to column at a place."""
        return self.grid.steps_at(*self.grid.pixels(lat=lat, lon=lon))

    def height_at(self, *, lat: ArrayLike, lon: ArrayLike) -> NDArray[np.float64]:
        """Ground height in metres, bilinear between pixel centres.

        Parameters
        ----------
        lat, lon : array_like
            WGS84 degrees; broadcast together.

        Returns
        -------
        ndarray of float64
            NaN where the ground is unknown: outside the outermost pixel centres, where a
            pixel that counts is void or in a missing tile, and on open water.
        """
        lat, lon = asked.numbers(lat, "lat", TerrainError), asked.numbers(lon, "lon", TerrainError)
        heights, state = look(self._source, self._chunks, self.grid.pixels(lat=lat, lon=lon))
        known: NDArray[np.float64] = np.where(state == Ground.KNOWN, heights, np.nan)
        return known[()]

    def about(self, *, lat: float, lon: float, reach_m: float) -> LocalGround:
        """Give the ground about a place, prepared for many heights by bearing and distance.

        The last few places asked for are kept.
        """
        known = self._about.get((lat, lon))
        if known is None or known.reach_m < reach_m:
            while len(self._about) >= MOST_PLACES:
                self._about.pop(next(iter(self._about)))
            known = LocalGround(self, lat=lat, lon=lon, reach_m=reach_m)
            self._about[lat, lon] = known
        return known

    def state_at(self, *, lat: ArrayLike, lon: ArrayLike) -> Any:
        """Say what is known of the ground.

        Returns
        -------
        Ground, or ndarray of int8
            For a single place a :class:`Ground`; for arrays its values, element by
            element.
        """
        _, state = look(self._source, self._chunks, self.grid.pixels(lat=lat, lon=lon))
        return Ground(int(state)) if state.ndim == 0 else state

    def slope_at(self, *, lat: ArrayLike, lon: ArrayLike) -> NDArray[np.float64]:
        """Slope of the ground over one cell, degrees; see :mod:`.slope_and_drops`."""
        return slope_at(self, lat=lat, lon=lon)

    def horizon(
        self,
        *,
        lat: float,
        lon: float,
        eye_height_m: float = 1.6,
        azimuths_deg: ArrayLike | None = None,
        max_distance_m: float = DEFAULT_REACH_M,
        refraction_k: float = DEFAULT_REFRACTION_K,
        min_distance_m: float = 0.0,
        ground_m: float | None = None,
        highest_ground_m: float | None = None,
        above_deg: ArrayLike | None = None,
    ) -> Horizon:
        """Find the skyline from a point: the highest ground on each azimuth.

        Exact on the bilinear surface: the highest angle of every cell that a ray crosses
        is solved in closed form, and far cells are passed over only when a maximum
        pyramid proves that they cannot matter. Curvature and refraction follow
        :func:`backbearing.base.geodesy.altitude_of` [Ghilani2012]_; azimuths are true, along
        geodesics [Karney2013]_. Trees and buildings count only where the raster has them.

        Parameters
        ----------
        lat, lon : float
            The eye, WGS84 degrees.
        eye_height_m : float
            Height of the eye above the ground there, metres.
        azimuths_deg : array_like, shape (n,), optional
            True azimuths; every whole degree when left out.
        max_distance_m : float
            How far to look.
        refraction_k : float
            Terrestrial refraction coefficient.
        min_distance_m : float
            Nearer ground is left out, such as that before a subject.
        ground_m : float, optional
            Ground at the eye where the user has measured it. Where it lies below the
            raster's, ground within one cell of the eye would wrongly tower over it and is
            left out, unless ``min_distance_m`` says how much to leave out.
        highest_ground_m : float, optional
            Ground as high as this may lie beyond the raster; the highest ground that the
            rays' surroundings in the raster hold when left out.
        above_deg : array_like, optional
            Altitudes that are known to be reached, one or one for each azimuth: only higher
            ground is looked for, which takes less time. Where there is none they are the
            answer, without a distance.

        Returns
        -------
        Horizon

        Raises
        ------
        OutsideRasterError
            When the eye lies outside the raster.
        VoidGroundError
            When the ground at the eye is unknown and ``ground_m`` is not given.
        TerrainError
            Near a pole, or for numbers that cannot be.
        """
        question = Question(
            lat=asked.number(lat, "lat", TerrainError),
            lon=asked.number(lon, "lon", TerrainError),
            eye_height_m=asked.number(eye_height_m, "eye_height_m", TerrainError),
            azimuths_deg=np.arange(360.0) if azimuths_deg is None else azimuths_deg,
            max_distance_m=float(max_distance_m),
            refraction_k=float(refraction_k),
            min_distance_m=float(min_distance_m),
            ground_m=None if ground_m is None else float(ground_m),
            highest_ground_m=None if highest_ground_m is None else float(highest_ground_m),
            above_deg=above_deg,
        )
        return find_skyline(self._source, self._chunks, self._fits, question)

    def skylines(
        self,
        *,
        lat: ArrayLike,
        lon: ArrayLike,
        azimuths_deg: ArrayLike,
        eye_height_m: ArrayLike = 1.6,
        min_distance_m: ArrayLike = 0.0,
        max_distance_m: ArrayLike = DEFAULT_REACH_M,
        refraction_k: float = DEFAULT_REFRACTION_K,
        ground_m: ArrayLike | None = None,
        highest_ground_m: ArrayLike | None = None,
        above_deg: ArrayLike | None = None,
        to_the_last_bit: bool = True,
    ) -> Skylines:
        """Find the skyline from many eyes, on one azimuth from each.

        As :meth:`horizon`, for one ray from each of n eyes. A ray's answer does not depend
        on the others that are asked with it, nor on what was asked before.

        Parameters
        ----------
        lat, lon, azimuths_deg : array_like
            The eyes, WGS84 degrees, and the true azimuths; broadcast to (n,) with all that
            follow. NaN stands for no eye, and gives NaN.
        eye_height_m, min_distance_m, max_distance_m : array_like
            As in :meth:`horizon`, each ray its own or one for all.
        refraction_k : float
            Terrestrial refraction coefficient.
        ground_m, highest_ground_m, above_deg : array_like, optional
            As in :meth:`horizon`; NaN where they are not given.
        to_the_last_bit : bool
            Whether a ray's answer must be the same to the last bit in any company. When
            false, the work for some thousand rays may be done without loading compiled code,
            which takes a second; answers then agree within a billionth of a degree.

        Returns
        -------
        Skylines
            NaN for an eye outside the raster or on unknown ground.

        Raises
        ------
        TerrainError
            Near a pole, or for numbers that cannot be.
        """
        question = {
            "lat": lat,
            "lon": lon,
            "azimuths_deg": azimuths_deg,
            "eye_height_m": eye_height_m,
            "min_distance_m": min_distance_m,
            "max_distance_m": max_distance_m,
            "ground_m": np.nan if ground_m is None else ground_m,
            "highest_ground_m": np.nan if highest_ground_m is None else highest_ground_m,
            "above_deg": np.nan if above_deg is None else above_deg,
        }
        compiled = True if to_the_last_bit else None
        asking = Asking(self._source, self._chunks, self._fits, float(refraction_k), compiled)
        return find_skylines(asking, question)

    def skyline_doubt(self, seen: Horizon | Skylines, errors: SightErrors) -> Doubt:
        """Say how far the true skyline may stand from the one found, ray by ray.

        Errors of neighbouring heights hold together, other ground than that found may be the
        true skyline, and the eye may stand aside: see
        :mod:`backbearing.terrain.skyline.doubt` and
        :mod:`backbearing.terrain.height_errors`. What no raster knows (rocks, bushes, hollows)
        is not in it.

        Parameters
        ----------
        seen : Horizon or Skylines
            Found on this raster, n rays.
        errors : SightErrors
            One standard deviation of whatever makes them doubtful.

        Returns
        -------
        Doubt
            ``rise_deg``, how much higher than the skyline found the true one stands on
            average, and ``sigma_deg``, one standard deviation of it; shape (n,), NaN where
            there is no skyline.
        """
        return doubt_of(self._source, self._chunks, self._fits, seen, errors)

    def horizon_map(
        self,
        azimuth_deg: float,
        eye_height_m: float = 1.6,
        refraction_k: float = DEFAULT_REFRACTION_K,
        max_distance_m: float | None = None,
        detail: Literal["fine", "quick"] = "fine",
    ) -> NDArray[np.floating]:
        """Find the skyline's altitude on one bearing from every cell of the raster.

        See :func:`backbearing.terrain.skyline.sweep.horizon_map`.

        Returns
        -------
        ndarray, shape (rows, cols)
            Degrees; NaN where it is unknown.
        """
        return horizon_map(
            self,
            azimuth_deg,
            eye_height_m=eye_height_m,
            refraction_k=refraction_k,
            max_distance_m=max_distance_m,
            detail=detail,
        )
