"""The GeoPackage: layers, types, times and names."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

import geopandas
import pandas as pd
import pytest

from backbearing.base.grouped import changed
from backbearing.exports.file_text import NOT_COLUMN, visible
from backbearing.exports.geopackage import LAYERS, plan_geopackage, plan_layers

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan


@pytest.fixture
def save(tmp_path: Path):
    def saved(plan: Plan, **words: str) -> Path:
        path = tmp_path / "plan.gpkg"
        path.write_bytes(plan_geopackage(plan, **words))
        return path

    return saved


def test_layers_hold_the_plan(plan: Plan, save) -> None:
    path = save(plan, height_reference="EGM96 geoid")
    assert list(geopandas.list_layers(path)["name"]) == list(LAYERS)
    stands = geopandas.read_file(path, layer="stands")
    assert stands.crs == "EPSG:4326"
    for row, lens in zip(stands.itertuples(), plan.lenses, strict=True):
        assert (row.geometry.x, row.geometry.y) == (lens.stand.lon, lens.stand.lat)
        assert row.distance_m == lens.stand.distance_m
        assert row.time_utc.to_pydatetime() == lens.stand.time
        assert row.height_reference == "EGM96 geoid"
        assert row.cautions == "\n".join(lens.stand.cautions)
    subject = geopandas.read_file(path, layer="subject").iloc[0]
    assert subject["cautions"] == "\n".join(plan.cautions)
    minutes = geopandas.read_file(path, layer="arc_minutes")
    assert len(minutes) == sum(len(lens.arc) for lens in plan.lenses)
    assert minutes["usable"].sum() == sum(p.usable for lens in plan.lenses for p in lens.arc)
    places = geopandas.read_file(path, layer="places")
    assert list(places["kind"]) == [place.kind for place in plan.places]


def test_arc_stretches_join_and_lie_on_the_arc(plan: Plan) -> None:
    arcs = plan_layers(plan)["arcs"]
    for lens in plan.lenses:
        mine = arcs[arcs["lens"] == lens.lens.label]
        assert list(mine["start_utc"])[1:] == list(mine["end_utc"])[:-1]
        assert mine.iloc[0]["start_utc"] == lens.arc[0].time
        assert mine.iloc[-1]["end_utc"] == lens.arc[-1].time
        usable = (mine["end_utc"] - mine["start_utc"])[mine["usable"]].sum()
        whole = sum(span.minutes for span in lens.usable)
        # Ends of a stretch lie on two-minute samples here.
        assert usable / pd.Timedelta(minutes=1) == pytest.approx(whole, abs=4.1)


@pytest.mark.slow
def test_hostile_names_survive(hostile: tuple[str, Plan], save) -> None:
    name, plan = hostile
    path = save(plan, height_reference=name)
    places = geopandas.read_file(path, layer="places")
    assert set(places["name"]) == {visible(name, NOT_COLUMN)}
    assert geopandas.read_file(path, layer="subject")["name"][0] == visible(name, NOT_COLUMN)


def test_an_empty_plan_has_all_layers_with_their_columns(standless: Plan, save) -> None:
    path = save(standless)
    assert list(geopandas.list_layers(path)["name"]) == list(LAYERS)
    stands = geopandas.read_file(path, layer="stands")
    assert len(stands) == 0
    assert {"lens", "distance_m", "time_utc", "cautions"} <= set(stands.columns)


def test_odd_shapes_and_the_180th_meridian(odd_shapes: Plan, far_east: Plan) -> None:
    places = plan_layers(odd_shapes)["places"]
    assert not places.geometry.has_z.any()
    lines = plan_layers(far_east)["sight_lines"].geometry
    assert list(lines.geom_type)[:3] == ["MultiLineString"] * 3
    for line in lines[:3]:
        assert all(part.bounds[2] - part.bounds[0] < 1.0 for part in line.geoms)


def test_unknown_numbers_are_null(plan: Plan, save) -> None:
    from dataclasses import replace

    lens = plan.lenses[0]
    blind = replace(lens, stand=changed(lens.stand, clearance_deg=float("nan")))
    path = save(replace(plan, lenses=(blind,)))
    with sqlite3.connect(path) as file:
        assert file.execute("SELECT clearance_deg, verdict FROM stands").fetchall() == [
            (None, blind.stand.verdict)
        ]
