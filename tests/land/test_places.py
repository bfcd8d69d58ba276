"""The user's own places: what is read, and what is refused or put right."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.base.errors import OutingError
from backbearing.base.grouped import changed
from backbearing.exports.formats import export_content
from backbearing.exports.suffixes import SUFFIXES
from backbearing.land.places import read_places

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan


def written(folder: Path, **properties: Any) -> Path:
    """Write one parking place as GeoJSON, every character beyond ASCII escaped."""
    point = {"type": "Point", "coordinates": [-84.3, 36.3]}
    feature = {"type": "Feature", "geometry": point, "properties": {"kind": "note"} | properties}
    path = folder / "places.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    return path


def test_half_a_surrogate_pair_becomes_its_code_point(tmp_path: Path, plan: Plan) -> None:
    (place,) = read_places(written(tmp_path, name="half \ud800 end", note="\udfff 🐄"))
    assert place.name == "half <U+D800> end"
    assert place.note == "<U+DFFF> 🐄"
    other = changed(plan, places=(place,))
    for suffix in SUFFIXES:
        content = export_content(other, suffix)
        if isinstance(content, str):
            content.encode("utf-8")


def test_plan_json_holds_half_a_pair_from_elsewhere(plan: Plan) -> None:
    named = replace(plan, subject=replace(plan.subject, name="half \ud800"))
    document = json.loads(export_content(named, ".json"))
    assert document["plan"]["subject"]["name"] == "half <U+D800>"


def test_a_word_that_is_not_known_is_refused_by_feature_and_key(tmp_path: Path) -> None:
    with pytest.raises(OutingError, match=r"feature 1, access is 'maybe'"):
        read_places(written(tmp_path, access="maybe"))
    with pytest.raises(OutingError, match=r"feature 1, kind is 'lake'"):
        read_places(written(tmp_path, kind="lake"))


def test_the_plan_names_what_heights_count_from(plan: Plan) -> None:
    assert plan.ground.vertical_datum == "EGM96 geoid"
    document = json.loads(export_content(plan, ".json"))
    assert document["plan"]["ground"]["vertical_datum"] == "EGM96 geoid"


@pytest.mark.parametrize(("size", "said"), [(50_000_001, "larger than 50 MB"), (50_000_000, "")])
def test_files_of_more_than_fifty_megabytes_are_refused(
    tmp_path: Path, size: int, said: str
) -> None:
    path = tmp_path / "places.geojson"
    with path.open("wb") as file:
        file.truncate(size)
    with pytest.raises(OutingError) as problem:
        read_places(path)
    assert ("larger than" in str(problem.value)) is bool(said)
    assert said in str(problem.value)
