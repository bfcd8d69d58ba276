"""What skylines know of trees and buildings, in every place that says it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backbearing.base.cautions import IN_NO_RASTER, CoverKnown, cannot_see, general
from backbearing.outing.cover_request import CoverRequest
from backbearing.outing.known_cover import known_cover
from invented import write_ground, write_outing

if TYPE_CHECKING:
    from backbearing.outing.request import GroundRequest

FILE = Path("any.tif")


@pytest.fixture
def ground(tmp_path: Path) -> GroundRequest:
    write_ground(tmp_path / "ground.tif", lambda east, north: 0.0 * east, lat=36.2, lon=14.9)
    asked = write_outing(
        tmp_path, lat=36.2, lon=14.9, evening=dt.date(2027, 6, 5),
        ground=lambda east, north: 0.0 * east,
    )  # fmt: skip
    return asked.ground


@pytest.mark.parametrize(
    ("cover", "product", "known"),
    [
        (CoverRequest(), "", CoverKnown.NONE),
        (CoverRequest(), "srtm 1", CoverKnown.NONE),
        (CoverRequest(canopy=FILE), "", CoverKnown.PART),
        (CoverRequest(woods=FILE), "", CoverKnown.PART),
        (CoverRequest(canopy=FILE, surface=FILE), "", CoverKnown.ALL),
        (CoverRequest(), "copernicus 30", CoverKnown.ALL),
        (CoverRequest(canopy=FILE), "copernicus 30", CoverKnown.ALL),
    ],
)
def test_what_is_known(
    ground: GroundRequest, cover: CoverRequest, product: str, known: CoverKnown
) -> None:
    assert known_cover(replace(ground, cover=cover, product=product)) is known


def test_no_sentence_denies_trees_that_are_known_and_none_promises_all() -> None:
    for known in CoverKnown:
        said = " ".join((*general(known), *cannot_see(known), IN_NO_RASTER[known])).lower()
        denied = "trees, houses" in said or "neither do trees" in said or "trees, fences" in said
        assert denied == (known is CoverKnown.NONE)
        assert ("part" in said) == (known is CoverKnown.PART)
        # Fog, people and what stands there since the file was made are never known.
        assert "fog" in said
        assert "people" in said
    # As many lines whatever is known: the printed sheet has room for so many.
    assert len({len(general(known)) for known in CoverKnown}) == 1
