"""The plans of an earlier commit, number by number: work on speed moves none of them."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any, Final

import pytest

from backbearing.alignment.night.plan_night import plan_night
from backbearing.exports.plan_json import plan_json
from backbearing.outing.load import load_outing
from held_plans.outings import OUTINGS, kept, write

HELD: Final = json.loads((Path(__file__).parent / "plans.json").read_text("utf-8"))
"""Written by ``record.py`` from the commit it names, not by hand."""

CLOSE: Final = 1e-6
"""Metres, degrees, shares, seconds of shutter."""


def same(held: Any, found: Any, where: str) -> None:
    if isinstance(held, dict):
        assert held.keys() == found.keys(), where
        for key, value in held.items():
            same(value, found[key], f"{where}.{key}")
    elif isinstance(held, list):
        assert len(held) == len(found), where
        for i, value in enumerate(held):
            same(value, found[i], f"{where}[{i}]")
    elif isinstance(held, str):
        apart = dt.datetime.fromisoformat(held) - dt.datetime.fromisoformat(found)
        assert abs(apart) <= dt.timedelta(seconds=1), where
    else:
        assert found == pytest.approx(held, abs=CLOSE, rel=0.0), where


@pytest.mark.parametrize("name", OUTINGS)
def test_a_plan_has_the_numbers_that_it_had(name: str, tmp_path: Path) -> None:
    plan = plan_night(load_outing(write(tmp_path, name)), whole_skyline=False)
    same(HELD["plans"][name], kept(json.loads(plan_json(plan))), name)


def test_what_is_held_would_notice_a_millionth() -> None:
    held = HELD["plans"]["north"][0]["stand"]
    moved = held | {"distance_m": held["distance_m"] + 2e-6}
    with pytest.raises(AssertionError, match="distance_m"):
        same(held, moved, "stand")


def test_every_plan_has_stands_and_arcs() -> None:
    for lenses in HELD["plans"].values():
        for lens in lenses:
            assert lens["stand"]["distance_m"] > 0.0
            assert len(lens["arc"]) > 5
