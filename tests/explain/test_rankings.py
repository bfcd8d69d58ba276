"""The numbers of a ranking told from its files: each part of a score recomputed by hand."""

from __future__ import annotations

import csv
import json
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import Geod

from backbearing.base.errors import NothingFoundError, OutingError
from backbearing.base.plain import plain
from backbearing.base.references import REFERENCES
from backbearing.cli import main
from backbearing.explain.sites import LENS_FACTS_OF_SITE, SITE_FACTS
from backbearing.explain.things import named, sites_of
from backbearing.exports.ranking_files import ranking_document, write_ranking
from backbearing.outing.load import load_outing
from backbearing.scouting import read_candidates, scout
from backbearing.workflows.explained_file import explained_file

if TYPE_CHECKING:
    from backbearing.plan.ranking import Ranking

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain"

NO_NUMBERS = {"id", "name", "kind", "note", "failure", "access", "night_label", "best_night",
              "best_time", "reasons", "cautions", "height_is_guess", "width_is_guess", "minutes",
              "best_nights_minutes"}  # fmt: skip


@pytest.fixture(scope="module")
def ranking(tmp_path_factory: pytest.TempPathFactory) -> Ranking:
    """The sample's ranking, with a raster of sky brightness so that no part is unknown."""
    sky = tmp_path_factory.mktemp("sky") / "sky.tif"
    with rasterio.open(
        sky, "w", driver="GTiff", width=2, height=2, count=1, dtype="float32", crs="EPSG:4326",
        transform=Affine(1.0, 0, -85.2, 0, -1.0, 37.2),
    ) as made:  # fmt: skip
        made.write(np.array([[20.6, 19.0], [21.3, 21.9]], dtype=np.float32), 1)
    outing = load_outing(SAMPLE / "outing.toml")
    asked = replace(outing, scouting=replace(outing.scouting, sky_brightness=sky))
    return scout(asked, read_candidates(SAMPLE / "lone_things.csv"), nights=14, processes=1)


@pytest.fixture(scope="module")
def document(ranking: Ranking) -> dict[str, Any]:
    return json.loads(json.dumps(ranking_document(ranking)))


@pytest.fixture(scope="module")
def told(document: dict[str, Any]) -> list[dict[str, dict[str, Any]]]:
    """Of each ranked site, by number: the inputs of its explanation, with the value."""
    return [
        {
            one.name.partition(".")[2]: {**one.inputs, "value": one.value}
            for one in thing.explained()
        }
        for thing in sites_of(document)
        if thing.values["rank"] is not None
    ]


def between(value: float) -> float:
    return min(max(value, 0.0), 1.0)


# docs/scouting.md, "The parts of a score", with its numbers written out once more.
BY_HAND: dict[str, Any] = {
    "dark": lambda i: sum(min(m / 120, 1) for m in i["best_nights_minutes"]) / 10,
    "altitude": lambda i: sum(i["lens_fits"]) / len(i["lens_fits"]),
    "skyline_break": lambda i: between(
        i["skyline_break_deg"] / i["subject_deg"] / max(1 - i["eye_height_m"] / i["height_m"], 0.1)
    ),
    "isolation": lambda i: 1 / (1 + i["isolation_load"]),
    "ground": lambda i: (
        between(1 - (i["slope_deg"] - 5) / (i["steepest_deg"] - 5)) / 2 + i["feasible_share"] / 2
    ),
    "walk": lambda i: between(1 - i["walk_m"] / i["longest_walk_m"]),
    "town_glow": lambda i: between(1 - i["town_glow_mag"]),
    "sky": lambda i: between((i["sky_mag_arcsec2"] - 18) / 4),
    "air": lambda i: between(1 - i["air_mag"] / 2),
    "behind": lambda i: between((i["behind_mag_arcsec2"] - 18) / 4),
}


@pytest.mark.parametrize("part", BY_HAND)
def test_each_part_is_what_its_inputs_come_to_by_hand(told, part: str) -> None:
    found = [site[f"part_{part}"] for site in told]
    assert len(found) > 20
    for inputs in found:
        assert inputs["value"] == pytest.approx(BY_HAND[part](inputs), abs=1e-12)
    # Not all the same: a part that no input moves would pass too.
    assert part == "sky" or len({round(inputs["value"], 6) for inputs in found}) > 1


def test_the_score_is_the_weighted_mean_of_its_inputs(told) -> None:
    for site in told:
        inputs = site["score"]
        weight = {k[7:]: v for k, v in inputs.items() if k.startswith("weight_")}
        # Nothing of old moves: what came last weighs nothing until it is asked for.
        assert (weight["air"], weight["behind"]) == (0.0, 0.0)
        assert weight.keys() == BY_HAND.keys()
        total = sum(inputs[f"part_{part}"] * weight[part] for part in weight)
        assert inputs["value"] == pytest.approx(100.0 * total / sum(weight.values()))
        assert site["unknown_weight"]["value"] == pytest.approx(0.0)


def test_the_inputs_are_the_tables_and_files_own(document, told) -> None:
    towns = list(csv.DictReader((SAMPLE / "towns.csv").read_text(encoding="utf-8").splitlines()))
    geod = Geod(ellps="WGS84")
    for row, site in zip(document["candidates"], told, strict=False):
        by_night = sorted((max(night) for night in row["minutes"]), reverse=True)
        assert site["part_dark"]["best_nights_minutes"] == by_night[:10]
        assert site["total_minutes"]["value"] == sum(by_night)
        assert site["good_nights"]["value"] == sum(
            m >= site["good_nights"]["least_minutes"] for m in by_night
        )
        glow = site["town_glow_mag"]
        ratio = 0.0
        for town in towns:
            azimuth, _, away_m = geod.inv(
                glow["stand_lon"], glow["stand_lat"], float(town["lon"]), float(town["lat"])
            )
            # Walker's law [Walker1977], the share by direction as docs/scouting.md's source says.
            turn = (1 + math.cos(math.radians(azimuth - glow["target_azimuth_deg"]))) / 2
            near = max(away_m, 1000.0) / 1000.0
            ratio += 0.01 * float(town["population"]) / near**2.5 * (0.1 + 0.9 * turn**2)
        assert glow["value"] == pytest.approx(2.5 * math.log10(1 + ratio), abs=2e-3)
        _, _, distance = geod.inv(row["lon"], row["lat"], row["stand_lon"], row["stand_lat"])
        assert site["distance_m"]["value"] == pytest.approx(distance, abs=0.02)


def test_every_number_of_a_site_is_explained(document) -> None:
    for thing, row in zip(sites_of(document), document["candidates"], strict=True):
        assert set(row) - NO_NUMBERS <= set(thing.facts)
        for one in thing.explained():
            assert one.value == row[one.name.partition(".")[2]]
            assert one.meaning
            assert one.formula
        for key in thing.facts:
            assert not thing.lacks([key]), key


def test_every_source_exists() -> None:
    for fact in (*SITE_FACTS.values(), *LENS_FACTS_OF_SITE.values()):
        assert set(fact.sources) <= set(REFERENCES)


def test_a_site_goes_by_number_name_and_row(document) -> None:
    things = sites_of(document)
    first = document["candidates"][0]
    for label in ("1", first["name"], first["id"], first["name"].upper()):
        ((thing, keys),) = named(things, f"{label}.score")
        assert (thing.label, keys) == ("1", ["score"])
    ((thing, keys),) = named(things, "1")
    assert len(keys) > 40
    assert len(named(things, "score")) == len(things)


@pytest.mark.parametrize(
    ("name", "near"),
    [("1.skore", "1.score"), ("part_darc", "part_dark"), ("Sorel oak.score", "Sorrel oak.score"),
     ("1.lens_40_minuts", "1.lens_40_minutes"), ("99.score", "score")],
)  # fmt: skip
def test_a_misspelt_name_is_answered_with_the_nearest(document, name: str, near: str) -> None:
    with pytest.raises(NothingFoundError, match="did you mean") as refused:
        named(sites_of(document), name)
    assert near in str(refused.value)


@pytest.mark.parametrize(
    ("suffix", "lacks"), [("json", ""), ("gpkg", "minutes night by night"), ("csv", "weights")]
)
def test_each_format_tells_what_it_carries(
    ranking, document, tmp_path: Path, suffix: str, lacks: str
) -> None:
    file = tmp_path / f"ranking.{suffix}"
    if suffix == "json":
        file.write_text(json.dumps(document), encoding="utf-8")
    else:
        write_ranking(ranking, file)
    for name, key in (("1.part_walk", "walk_m"), ("1.part_dark", "best_nights_minutes")):
        found = explained_file(file, name)
        ((_, (one,)),) = found.chosen
        assert one.value == pytest.approx(document["candidates"][0][name[2:]], abs=1e-6)
        if key == "walk_m":
            assert one.inputs[key] == pytest.approx(document["candidates"][0][key], abs=1e-6)
        assert (one.inputs["weight_" + name[7:]] is None) == (suffix == "csv")
    assert lacks in found.lacks
    assert bool(found.lacks) == (suffix != "json")


def test_a_later_page_of_a_ranking_goes_by_its_ranks(document, tmp_path: Path) -> None:
    page = {**document, "format": "backbearing-ranking-part", "candidates": document["candidates"]}
    page["candidates"] = [*document["candidates"][20:24], document["candidates"][-1]]
    page["asked"] = dict.fromkeys(document["asked"])
    file = tmp_path / "page.json"
    file.write_text(json.dumps(page), encoding="utf-8")
    found = explained_file(file, "22.part_walk")
    ((thing, (one,)),) = found.chosen
    assert thing.values["id"] == document["candidates"][21]["id"]
    assert one.inputs["longest_walk_m"] is None
    assert found.lacks
    failed = document["candidates"][-1]
    assert failed["rank"] is None
    ((thing, (one,)),) = explained_file(file, f"{failed['id']}.total_minutes").chosen
    assert failed["failure"] in thing.said
    assert one.value == failed["total_minutes"]


def test_points_with_the_columns_do_as_well(ranking, tmp_path: Path) -> None:
    file = tmp_path / "ranking.geojson"
    file.write_text(ranking.frame.to_json(), encoding="utf-8")
    ((_, (one,)),) = explained_file(file, "1.part_ground").chosen
    assert one.inputs["slope_deg"] == pytest.approx(ranking.frame["slope_deg"].iloc[0])


@pytest.mark.parametrize(
    ("name", "text"),
    [("a.json", "{}"), ("b.json", "[1]"), ("c.json", '{"format": "backbearing-plan"}'),
     ("d.csv", "name,lat\nAsh,3\n"), ("e.geojson", '{"features": [{"properties": 3}]}'),
     ("f.json", '{"format": "backbearing-scouting", "candidates": [3]}'),
     ("g.json", '{"format": "backbearing-review", "review": []}'), ("h.gpkg", "no such thing"),
     ("i.json", "nothing")],
)  # fmt: skip
def test_another_file_is_refused_in_a_sentence(tmp_path: Path, name: str, text: str) -> None:
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    with pytest.raises(OutingError, match=name):
        explained_file(file, "score")


def said(monkeypatch, capsys, *words: str | Path) -> str:
    monkeypatch.setattr(sys, "argv", ["backbearing", "explain", *map(str, words)])
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit):
        main()
    shown = capsys.readouterr()
    assert "Traceback" not in shown.out + shown.err
    return shown.out + shown.err


def test_the_command_lists_and_explains(document, tmp_path: Path, monkeypatch, capsys) -> None:
    file = tmp_path / "ranking.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    listed = said(monkeypatch, capsys, file)
    assert document["candidates"][0]["name"] in listed
    assert "part_skyline_break" in listed
    assert len(listed.splitlines()) <= 30
    one = said(monkeypatch, capsys, file, "1.part_ground")
    for word in ("formula", "input    slope_deg", "weight_ground", "sure"):
        assert word in one
    as_json = json.loads(said(monkeypatch, capsys, file, "part_dark", "--json"))
    assert len(as_json["explanations"]) == len(document["candidates"])
    assert as_json["explanations"][0]["sure"]
    assert "did you mean" in said(monkeypatch, capsys, file, "1.skore")
    assert "for an outing" in said(monkeypatch, capsys, file, "1.score", "--at", "23:40")


def test_a_hostile_name_stays_plain(document, tmp_path: Path, monkeypatch, capsys) -> None:
    worse = plain(document)
    worse["candidates"][0]["name"] = "oak\x1b]0;owned\x07\x1b[2J"
    file = tmp_path / "ranking.json"
    file.write_text(json.dumps(worse), encoding="utf-8")
    assert "\x1b" not in said(monkeypatch, capsys, file) + said(
        monkeypatch, capsys, file, "1.score"
    )
