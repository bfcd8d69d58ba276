"""Woods, trees and buildings of an extract that osmium itself writes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.base.errors import BackbearingError
from backbearing.terrain.cover.kinds import CoverKind
from backbearing.terrain.cover.mapped import read_mapped
from backbearing.terrain.cover.opening import with_cover
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from pathlib import Path

osmium = pytest.importorskip("osmium")

STEP = 1e-3
WEST, NORTH = 12.0, 48.0
PLACE = Affine(STEP, 0.0, WEST, 0.0, -STEP, NORTH)


def ring(writer, number: int, box: tuple[float, float, float, float], tags: dict[str, str]) -> None:
    """A closed way about columns and rows of the grid below."""
    col0, row0, col1, row1 = box
    corners = [(col0, row0), (col1, row0), (col1, row1), (col0, row1)]
    ids = []
    for k, (col, row) in enumerate(corners):
        ids.append(number * 10 + k)
        writer.add_node(
            osmium.osm.mutable.Node(
                id=ids[-1], location=(WEST + col * STEP, NORTH - row * STEP), version=1
            )
        )
    WAYS.append((number, [*ids, ids[0]], tags))


WAYS: list[tuple[int, list[int], dict[str, str]]] = []


@pytest.fixture
def extract(tmp_path: Path) -> Path:
    WAYS.clear()
    path = tmp_path / "land.osm.pbf"
    writer = osmium.SimpleWriter(str(path))
    ring(writer, 1, (2, 2, 8, 8), {"natural": "wood"})
    ring(writer, 2, (10, 2, 14, 8), {"landuse": "forest", "height": "31 m"})
    ring(writer, 3, (4.2, 4.2, 4.8, 4.8), {"building": "yes", "building:levels": "12"})
    ring(writer, 4, (16, 2, 18, 4), {"building": "yes", "height": "22"})
    ring(writer, 5, (0, 10, 20, 20), {"landuse": "meadow"})
    ring(writer, 6, (0, 0, 0.4, 0.4), {"natural": "wood", "height": "9000"})
    writer.add_node(
        osmium.osm.mutable.Node(
            id=99, location=(WEST + 12.5 * STEP, NORTH - 12.5 * STEP), version=1,
            tags={"natural": "tree", "est_height": "14"},
        )
    )  # fmt: skip
    for number, nodes, tags in WAYS:
        writer.add_way(osmium.osm.mutable.Way(id=number, nodes=nodes, tags=tags, version=1))
    writer.close()
    return path


def level() -> Elevation:
    return Elevation.from_array(np.full((30, 30), 100.0), PLACE, "EPSG:4326")


def test_heights_and_kinds_come_from_tags_or_are_guesses(extract: Path) -> None:
    covered = with_cover(level(), woods=extract)

    def at(col: float, row: float) -> tuple[float, CoverKind]:
        found = covered.cover_at(lat=NORTH - row * STEP, lon=WEST + col * STEP, nearest=True)
        return float(found.height_m[0]), CoverKind(int(found.kind[0]))

    height, kind = at(3.5, 3.5)
    assert kind is CoverKind.GUESSED_WOOD
    assert 10.0 < height < 30.0
    assert at(12.5, 5.5) == (31.0, CoverKind.WOOD)
    # Twelve storeys at some 3 m stand over the wood about them.
    assert at(4.5, 4.5) == (36.0, CoverKind.GUESSED_BUILDING)
    assert at(17.5, 3.5) == (22.0, CoverKind.BUILDING)
    assert at(12.5, 12.5) == (14.0, CoverKind.GUESSED_TREE)
    # A meadow is no cover, and trees of nine kilometres are not believed.
    assert at(15.5, 11.5) == (0.0, CoverKind.NONE)
    assert at(0.5, 0.5)[1] is CoverKind.GUESSED_WOOD


def test_beyond_the_map_nothing_is_known(extract: Path) -> None:
    covered = with_cover(level(), woods=extract)
    found = covered.cover_at(lat=NORTH - 27.5 * STEP, lon=WEST + 5.5 * STEP, nearest=True)
    assert np.isnan(found.height_m[0])


def test_a_building_stands_beside_a_canopy_that_knows_none(extract: Path, tmp_path: Path) -> None:
    import rasterio

    with rasterio.open(
        tmp_path / "trees.tif", "w", driver="GTiff", height=30, width=30, count=1, dtype="float32",
        crs="EPSG:4326", transform=PLACE,
    ) as out:  # fmt: skip
        out.write(np.full((30, 30), 7.0, np.float32), 1)
    covered = with_cover(level(), woods=extract, canopy=tmp_path / "trees.tif")
    lat, lon = NORTH - np.array([3.5, 3.5]) * STEP, WEST + np.array([17.5, 3.5]) * STEP
    found = covered.cover_at(lat=lat, lon=lon, nearest=True)
    # The building is higher; of the guessed wood the canopy knows better.
    assert found.height_m.tolist() == [22.0, 7.0]


def test_a_broken_extract_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "land.osm.pbf"
    path.write_bytes(b"\0\0\0\x0d no extract")
    with pytest.raises(BackbearingError, match=r"land\.osm\.pbf"):
        read_mapped(path)
    with pytest.raises(BackbearingError, match="woods"):
        with_cover(level(), woods=tmp_path / "missing.osm.pbf")
