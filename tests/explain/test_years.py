"""Every number of a year's chosen nights is told, and none that is not there."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment.year.plan_year import plan_year
from backbearing.base.errors import NothingFoundError, OutingError
from backbearing.base.plain import plain
from backbearing.base.references import REFERENCES
from backbearing.explain.years import (
    LENS_FACTS_OF_YEAR,
    NIGHT_FACTS_OF_YEAR,
    SUBJECT_FACTS_OF_YEAR,
)
from backbearing.plan.year import LensNight, YearRule
from backbearing.workflows.explained_file import explained_file

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing


@pytest.fixture(scope="module")
def document(outing: Outing) -> dict[str, Any]:
    year = plan_year([outing], first_night=dt.date(2027, 6, 1), nights=6, rule=YearRule(count=2))
    return {"format": "backbearing-year", "version": 1, "year": plain(year)}


@pytest.fixture(scope="module")
def file(document: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("year") / "year.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_every_number_of_a_lens_has_a_row() -> None:
    words = {"label", "usable", "missing"}
    assert {field.name for field in fields(LensNight)} - words == set(LENS_FACTS_OF_YEAR)


def test_values_and_inputs_are_the_files_own(document: dict[str, Any], file: Path) -> None:
    lens = document["year"]["best"][1]["subjects"][0]["lenses"][3]
    ((thing, (one,)),) = explained_file(file, "2.1.85mm.minutes").chosen
    assert one.value == lens["minutes"] > 60.0
    assert one.inputs["target_name"] == "Milky Way core (Sgr A*)"
    assert "85 mm" in thing.said
    every = explained_file(file, "counted_minutes").chosen
    assert [thing.label for thing, _ in every] == [
        "1", "1.1", "2", "2.1", "spare1", "spare1.1", "spare2", "spare2.1",
    ]  # fmt: skip
    for thing in explained_file(file, None).things:
        assert not thing.lacks(list(thing.facts)), thing.label


def test_sources_are_known() -> None:
    for facts in (NIGHT_FACTS_OF_YEAR, SUBJECT_FACTS_OF_YEAR, LENS_FACTS_OF_YEAR):
        for fact in facts.values():
            assert set(fact.sources) <= set(REFERENCES)


def test_a_name_that_is_not_there_and_a_file_that_is_none(
    document: dict[str, Any], file: Path, tmp_path: Path
) -> None:
    with pytest.raises(NothingFoundError, match="minutes"):
        explained_file(file, "1.1.85mm.minuets")
    broken = tmp_path / "broken.json"
    for year in ({**document["year"], "best": [{"subjects": 3}]}, {"best": [], "spare": []}, []):
        broken.write_text(json.dumps({**document, "year": year}), encoding="utf-8")
        with pytest.raises(OutingError, match="no year"):
            explained_file(broken, None)
