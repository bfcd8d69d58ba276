"""Trees on an invented ridge in a ranking: clearances are lower, and no tree hides itself."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.outing.cover_request import CoverRequest
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.run.run import scout
from invented import write_ground, write_outing

if TYPE_CHECKING:
    from pathlib import Path

LAT, LON, TREES_M = 36.2, 14.9, 20.0


def ridge(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    return 100.0 + 150.0 * np.exp(-(((north + 1_500.0) / 300.0) ** 2)) + 0.0 * east


def trees(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    """On the ridge, and the candidate itself as a canopy sees it."""
    itself = np.hypot(east, north) < 20.0
    return np.where((np.abs(north + 1_500.0) < 400.0) | itself, TREES_M, 0.0)


@pytest.mark.slow
def test_a_ranking_knows_the_trees(tmp_path: Path) -> None:
    outing = write_outing(
        tmp_path, lat=LAT, lon=LON, evening=dt.date(2027, 6, 5), ground=ridge,
        night={"time_zone": "Europe/Rome", "moon": "any"},
    )  # fmt: skip
    write_ground(tmp_path / "trees.tif", trees, lat=LAT, lon=LON)
    things = tmp_path / "things.csv"
    things.write_text(
        f"name,lat,lon,height_m,width_m,kind\nOak,{LAT},{LON},8,5,tree\n", encoding="utf-8"
    )
    candidates = read_candidates(things)
    cover = CoverRequest(canopy=tmp_path / "trees.tif")
    covered = replace(outing, ground=replace(outing.ground, cover=cover))
    without, with_trees = (
        scout(asked, candidates, nights=1, processes=1).frame.iloc[0] for asked in (outing, covered)
    )
    assert with_trees["rank"] == 1
    # Each at its own best minute: the ridge under the target is what trees lift.
    skyline = [one["target_altitude_deg"] - one["clearance_deg"] for one in (without, with_trees)]
    lifted = math.degrees(TREES_M / 1_500.0)
    assert skyline[1] - skyline[0] == pytest.approx(lifted, rel=0.35)
