"""JSON and GeoJSON: strict, complete, and deaf to hostile names."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING

import geopandas
import numpy as np
import pytest
from shapely.geometry import Polygon, shape

from backbearing.base.grouped import flat_names
from backbearing.base.plain import plain
from backbearing.exports.geojson import plan_geojson
from backbearing.exports.plan_json import dumps, plan_json

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan

HOSTILE = '</script><img src=x onerror=alert(1)> "q" \n\u202e\u2028 ${x} `b` =SUM(A1) 🐄'


def strict(text: str) -> dict:
    def refuse(name: str) -> None:
        raise AssertionError(name)

    return json.loads(text, parse_constant=refuse)


def test_plan_json_is_versioned_and_strict(plan: Plan) -> None:
    document = strict(plan_json(plan))
    assert (document["format"], document["version"]) == ("backbearing-plan", 1)
    lens = document["plan"]["lenses"][0]
    assert lens["stand"]["distance_m"] == pytest.approx(plan.lenses[0].stand.distance_m)
    assert lens["stand"]["time"].endswith("Z")
    assert set(flat_names(type(plan))) == set(document["plan"])


def test_unknown_numbers_become_null() -> None:
    assert json.loads(dumps(plain({"a": float("nan"), "b": float("inf")}))) == {
        "a": None,
        "b": None,
    }


def test_hostile_names_stay_text(plan: Plan) -> None:
    subject = dataclasses.replace(plan.subject, name=HOSTILE)
    named = dataclasses.replace(plan, subject=subject)
    assert strict(plan_json(named))["plan"]["subject"]["name"] == HOSTILE
    assert strict(plan_geojson(named))["features"][0]["properties"]["name"] == HOSTILE


def test_geojson_follows_rfc_7946(plan: Plan) -> None:
    # RFC 7946: sections 3.1.1 (longitude first), 3.1.6 (right-hand rule), 4 (no crs member).
    document = strict(plan_geojson(plan))
    assert document["type"] == "FeatureCollection"
    assert "crs" not in document
    for feature in document["features"]:
        assert set(feature) == {"type", "geometry", "properties"}
        geometry = shape(feature["geometry"])
        assert geometry.is_valid
        west, south, east, north = geometry.bounds
        assert -84.42 < west <= east < -84.07
        assert 36.15 < south <= north < 36.45
        if isinstance(geometry, Polygon):
            assert geometry.exterior.is_ccw


def test_geojson_opens_in_geopandas(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.geojson"
    path.write_text(plan_geojson(plan), encoding="utf-8")
    frame = geopandas.read_file(path)
    roles = frame["role"].value_counts()
    assert roles["stand"] == 4
    assert roles["sight line"] == 4
    assert roles["arc"] == 4
    assert roles["subject"] == 1


def test_arrays_become_lists_with_unknown_as_null() -> None:
    document = {
        "line": np.array([1.5, np.nan]),
        "grid": np.array([[1, 2], [3, 4]]),
        "one": np.float64(2.5),
        "flag": np.bool_(True),
        "none": np.array([]),
    }
    assert plain(document) == {
        "line": [1.5, None], "grid": [[1, 2], [3, 4]], "one": 2.5, "flag": True, "none": [],
    }  # fmt: skip
