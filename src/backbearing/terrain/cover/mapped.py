"""Cover from a map: woods, trees and buildings as shapes with heights."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.base.osm_file import Element, elements, extent_of, shapes_of
from backbearing.base.osm_lengths import height_of, width_of
from backbearing.terrain.cover.kinds import TALLEST_TREE_M, USUAL, CoverKind

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid

    Singles = NDArray[np.float32]
    Kinds = NDArray[np.uint8]

MOST_THINGS: Final = 1_000_000
"""Woods, trees and buildings of one extract."""

KEPT_GRIDS: Final = 2
"""The ground's own cells, and their parts near the eye."""

METRES_A_DEGREE: Final = 111_195.0
"""Of a great circle on a sphere of 6,371 km: only to draw the crowns of trees."""

KEYS: Final = ("natural", "landuse", "building")


class Extent(NamedTuple):
    """What a map covers, degrees."""

    south: float
    west: float
    north: float
    east: float


@dataclass(frozen=True, eq=False)
class MappedCover:
    """Shapes in WGS84 (longitude, latitude), with their heights and kinds, n of each.

    Within ``extent`` ground without a shape counts as bare, for so it is mapped; beyond it
    nothing is known.
    """

    name: str
    shapes: NDArray[Any] = field(repr=False)
    heights_m: NDArray[np.float64] = field(repr=False)
    kinds: Kinds = field(repr=False)
    extent: Extent
    _laid: dict[int, tuple[Grid, NDArray[Any], Any]] = field(default_factory=dict, repr=False)

    def over(self, grid: Grid, rows: slice, cols: slice) -> tuple[Singles, Kinds]:
        """Height in metres and kind for each cell that a shape touches; NaN beyond the map."""
        from affine import Affine
        from rasterio.features import rasterize

        shape = (rows.stop - rows.start, cols.stop - cols.start)
        height, kind = np.zeros(shape, dtype=np.float32), np.zeros(shape, dtype=np.uint8)
        laid, tree = self._on(grid)
        found = _within(tree, rows, cols)
        # The highest of several at a place is drawn last.
        found = found[np.argsort(self.heights_m[found], kind="stable")]
        place = Affine.translation(cols.start - 0.5, rows.start - 0.5)
        if found.size:
            number = rasterize(
                [(laid[i], k) for k, i in enumerate(found.tolist(), start=1)],
                out_shape=shape,
                transform=place,
                all_touched=True,
                dtype="int32",
            )
            hit = number > 0
            which = found[number[hit] - 1]
            height[hit], kind[hit] = self.heights_m[which], self.kinds[which]
        height[~self._mapped(grid, rows, cols)] = np.nan
        return height, kind

    def _on(self, grid: Grid) -> tuple[NDArray[Any], Any]:
        """The shapes in the grid's columns and rows, and a tree of them; kept for two grids."""
        import shapely

        if id(grid) not in self._laid:
            while len(self._laid) >= KEPT_GRIDS:
                self._laid.pop(next(iter(self._laid)))
            corners = shapely.get_coordinates(self.shapes)
            at = grid.pixels(lat=corners[:, 1], lon=corners[:, 0])
            placed = np.column_stack([at.col, at.row])
            laid = shapely.set_coordinates(self.shapes.copy(), np.nan_to_num(placed, nan=-1e9))
            # The grid is kept with them, or another could take its number.
            self._laid[id(grid)] = grid, laid, shapely.STRtree(laid)
        _, laid, tree = self._laid[id(grid)]
        return laid, tree

    def _mapped(self, grid: Grid, rows: slice, cols: slice) -> NDArray[np.bool_]:
        """Which cells of a window lie within the map."""
        row, col = np.meshgrid(
            np.arange(rows.start, rows.stop), np.arange(cols.start, cols.stop), indexing="ij"
        )
        at = grid.places(row=row, col=col)
        south, west, north, east = self.extent
        inside: NDArray[np.bool_] = (
            (at.lat >= south) & (at.lat <= north) & (at.lon >= west) & (at.lon <= east)
        )
        return inside

    @cached_property
    def guesses(self) -> int:
        """How many heights are guesses."""
        return int((self.kinds >= CoverKind.GUESSED_WOOD).sum())


def _within(tree: Any, rows: slice, cols: slice) -> NDArray[np.int64]:
    import shapely

    window = shapely.box(cols.start - 1.5, rows.start - 1.5, cols.stop + 0.5, rows.stop + 0.5)
    return np.asarray(tree.query(window), dtype=np.int64)


def read_mapped(file: Path) -> MappedCover:
    """Read woods, trees and buildings from an OpenStreetMap extract [OSMTags]_.

    Heights come from ``height``, ``est_height`` and ``building:levels``; else they are usual ones
    of the kind. Those, estimates and storeys count as guesses. Of a wood of several rings the
    clearings are filled. Data (c) OpenStreetMap contributors, Open Database Licence 1.0.

    Raises
    ------
    TerrainError
        For an extract of too many things.
    OutingError
        Without the `osmium` package, or for a file that is no extract.
    """
    import shapely

    found: list[Element] = []
    heights: list[float] = []
    kinds: list[int] = []
    for element in elements(file, KEYS):
        one = _height_and_kind(element)
        if one is None:
            continue
        found.append(element)
        heights.append(one[0])
        kinds.append(int(one[1]))
        if len(found) > MOST_THINGS:
            raise TerrainError(
                f"{file.name} holds more than {MOST_THINGS:,} woods, trees and buildings",
                hint="cut out a smaller part",
                path=str(file),
            )
    shapes = _with_crowns(found, shapes_of(found))
    box = extent_of(file)
    if box is None:
        west, south, east, north = shapely.total_bounds(shapes).tolist()
        box = (south, west, north, east)
    return MappedCover(
        file.name, shapes, np.array(heights), np.array(kinds, dtype=np.uint8), Extent(*box)
    )


def _height_and_kind(element: Element) -> tuple[float, CoverKind] | None:
    """How high an element stands, and what it is; None for what is no cover."""
    tags = element.tags
    if tags.get("building", "no") != "no" and element.form == "area":
        usual, known, guessed = USUAL.building_m, CoverKind.BUILDING, CoverKind.GUESSED_BUILDING
    elif (
        tags.get("natural") == "wood" or tags.get("landuse") == "forest"
    ) and element.form == "area":
        usual, known, guessed = USUAL.wood_m, CoverKind.WOOD, CoverKind.GUESSED_WOOD
    elif (tags.get("natural") == "tree" and element.form == "point") or (
        tags.get("natural") == "tree_row" and element.form != "point"
    ):
        usual, known, guessed = USUAL.tree_m, CoverKind.TREE, CoverKind.GUESSED_TREE
    else:
        return None
    height, guess = height_of(tags)
    most = TALLEST_TREE_M if known is not CoverKind.BUILDING else 1000.0
    if not 0.0 < height <= most:
        return usual, guessed
    return height, guessed if guess else known


def _with_crowns(found: list[Element], shapes: NDArray[Any]) -> NDArray[Any]:
    """Give points and lines the width of a crown; polygons stay."""
    import shapely

    for i, element in enumerate(found):
        if element.form == "area":
            continue
        width = width_of(element.tags)
        radius_m = 0.5 * (width if 0.0 < width < 60.0 else USUAL.tree_width_m)
        shapes[i] = shapely.buffer(shapes[i], radius_m / METRES_A_DEGREE, quad_segs=2)
    return shapes
