"""Towns: reading them, and the glow they put behind a target."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import OutingError
from backbearing.base.geodesy import line_between, point_along
from backbearing.scouting.site.town_glow import (
    direction_share,
    glow_behind,
    glow_sentence,
    walker_brightening,
)
from backbearing.tables.towns import Towns, read_towns


def towns(*rows):
    """Towns from (name, azimuth, distance in metres, people) as seen from 36.4 N, 84.4 W."""
    ends = [
        point_along(lat=36.4, lon=-84.4, azimuth_deg=azimuth, distance_m=away)
        for _, azimuth, away, _ in rows
    ]
    return Towns(
        name=tuple(row[0] for row in rows),
        lat=np.array([float(end.lat) for end in ends]),
        lon=np.array([float(end.lon) for end in ends]),
        population=np.array([float(row[3]) for row in rows]),
    )


HERE = {"lat": [36.4], "lon": [-84.4]}


def test_a_town_behind_the_target_counts_in_full():
    found = glow_behind(towns(("Millbrook", 180.0, 18_000.0, 9_000)), **HERE, azimuth_deg=[180.0])
    assert found.ratio[0] == pytest.approx(0.01 * 9_000 * 18.0**-2.5, rel=1e-4)
    assert found.mag[0] == pytest.approx(2.5 * np.log10(1.0 + found.ratio[0]))
    assert found.town[0] == 0
    assert found.town_share[0] == 1.0
    assert found.town_distance_m[0] == pytest.approx(18_000.0, abs=1.0)
    assert found.town_azimuth_deg[0] == pytest.approx(180.0, abs=1e-6)


@pytest.mark.parametrize(("azimuth", "share"), [(0, 1.0), (90, 0.325), (180, 0.1), (270, 0.325)])
def test_a_town_aside_counts_less(azimuth, share):
    assert direction_share(azimuth) == pytest.approx(share)
    behind = towns(("Millbrook", 0.0, 18_000.0, 9_000))
    at_once = glow_behind(behind, lat=[36.4, 36.4], lon=[-84.4, -84.4], azimuth_deg=[0.0, azimuth])
    assert at_once.ratio[1] / at_once.ratio[0] == pytest.approx(share, rel=5e-3)


@given(st.lists(st.tuples(st.floats(0, 359), st.floats(2e3, 190e3), st.floats(0, 1e6)), max_size=5))
def test_towns_add_up_one_by_one(rows):
    many = towns(*[(str(i), *row) for i, row in enumerate(rows)])
    total = 0.0
    for i in range(len(many)):
        line = line_between(lat1=36.4, lon1=-84.4, lat2=many.lat[i], lon2=many.lon[i])
        total += float(
            walker_brightening(population=many.population[i], distance_m=line.distance_m)
            * direction_share(line.azimuth_deg - 200.0)
        )
    found = glow_behind(many, **HERE, azimuth_deg=200.0)
    assert found.ratio[0] == pytest.approx(total, rel=6e-3, abs=1e-12)


def test_nearness_and_reach_have_their_ends():
    # Up to a kilometre a town counts as a kilometre off; from 200 km on it does not count.
    for away, people in ((10.0, 0.01 * 1000), (990.0, 0.01 * 1000), (1_100.0, 7.88)):
        near = glow_behind(towns(("In town", 0.0, away, 1000)), **HERE, azimuth_deg=[0.0])
        assert near.ratio[0] == pytest.approx(people, rel=1e-3)
    last = glow_behind(towns(("Last", 0.0, 199_000.0, 1e7)), **HERE, azimuth_deg=[0.0])
    assert last.ratio[0] == pytest.approx(0.01 * 1e7 * 199.0**-2.5, rel=1e-3)
    far = glow_behind(towns(("Far", 0.0, 201_000.0, 1e7)), **HERE, azimuth_deg=[0.0])
    assert far.ratio[0] == 0.0
    assert far.town[0] == -1
    assert np.isnan(far.town_distance_m[0])


def test_many_places_in_pieces_are_the_same_as_one_by_one(monkeypatch):
    some = towns(("A", 10.0, 20e3, 5e4), ("B", 120.0, 60e3, 4e5), ("C", 300.0, 5e3, 800))
    rng = np.random.default_rng(3)
    lat, lon = rng.uniform(36.2, 36.6, 57), rng.uniform(-84.6, -84.2, 57)
    whole = glow_behind(some, lat=lat, lon=lon, azimuth_deg=190.0)
    monkeypatch.setattr("backbearing.scouting.site.town_glow._PAIRS_AT_ONCE", 10)
    pieces = glow_behind(some, lat=lat, lon=lon, azimuth_deg=190.0)
    for one, other in zip(whole, pieces, strict=True):
        np.testing.assert_array_equal(one, other)


def test_unknown_places_and_no_towns():
    some = towns(("A", 10.0, 20e3, 5e4))
    found = glow_behind(some, lat=[np.nan, 36.4], lon=[-84.4, -84.4], azimuth_deg=[1.0, np.nan])
    assert np.isnan(found.ratio).all()
    assert (found.town == -1).all()
    none = Towns((), np.empty(0), np.empty(0), np.empty(0))
    assert glow_behind(none, **HERE, azimuth_deg=[1.0]).ratio[0] == 0.0


def test_the_sentence_names_the_worst_town_and_its_distance():
    one = towns(("Millbrook", 180.0, 18_000.0, 20_000))
    glow = glow_behind(one, **HERE, azimuth_deg=180.0)
    assert glow_sentence(one, glow, 0) == (
        "town glow behind the core: Millbrook, 18.0 km (0.15 mag)"
    )
    two = towns(("Millbrook", 180.0, 18_000.0, 20_000), ("Ansel", 170.0, 20_000.0, 20_000))
    glow = glow_behind(two, **HERE, azimuth_deg=180.0)
    assert "Millbrook, 18.0 km and others" in glow_sentence(two, glow, 0)
    small = towns(("Hamlet", 180.0, 40_000.0, 300))
    assert glow_sentence(small, glow_behind(small, **HERE, azimuth_deg=180.0), 0) == ""
    lost = glow_behind(small, lat=[np.nan], lon=[1.0], azimuth_deg=180.0)
    assert glow_sentence(small, lost, 0) == ""


@pytest.mark.parametrize(("population", "distance_m"), [(-1.0, 1000.0), (10.0, 0.0), (10.0, -5.0)])
def test_no_town_has_such_numbers(population, distance_m):
    with pytest.raises(OutingError, match="population of zero or more"):
        walker_brightening(population=population, distance_m=distance_m)


def test_towns_from_a_table(tmp_path):
    path = tmp_path / "towns.csv"
    path.write_text(
        "name,lat,lon,population\nMillbrook,36.2,-84.3,9000\n,36.1,-84.2,10\nA,36,x,5\n"
        "B,36,-84,-5\nC,36,-84,\nD,95,-84,100\nE\u202e,36.5,-84.5,1e3\n",
        encoding="utf-8",
    )
    found = read_towns(path)
    assert found.name == ("Millbrook", "town, row 3", "E<U+202E>")
    assert found.population.tolist() == [9000.0, 10.0, 1000.0]
    assert [r.row for r in found.rejected] == [4, 5, 6, 7]
    assert "population is -5" in found.rejected[1].reason
    assert "population is missing" in found.rejected[2].reason
    assert found.source == "towns.csv"
    assert len(found) == 3


def test_towns_from_geojson(tmp_path):
    path = tmp_path / "towns.geojson"
    features = [
        {
            "type": "Feature",
            "properties": {"name": "Millbrook", "population": people},
            "geometry": {"type": "Point", "coordinates": [-84.3, 36.2]},
        }
        for people in (9000, "many", None)
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = read_towns(path)
    assert (found.lat[0], found.lon[0], found.population[0]) == (36.2, -84.3, 9000.0)
    assert [r.row for r in found.rejected] == [2, 3]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("towns.txt", "x", "not .txt"),
        ("towns.csv", "name,lat,lon\nA,1,2\n", "no column population"),
        ("towns.csv", "lat,lon,population\n1,2,x\n", "holds no town that can be used. Row 2"),
        ("towns.csv", "lat,lon,population\n", "holds no town that can be used."),
        ("towns.csv", "", "is empty"),
        ("towns.geojson", "{}", "holds no list of features"),
    ],
)
def test_towns_that_cannot_be_used_are_refused(tmp_path, name, text, said):
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(OutingError, match="towns") as refused:
        read_towns(path)
    assert said in str(refused.value)
