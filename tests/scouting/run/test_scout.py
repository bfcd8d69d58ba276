"""Scouting end to end: the same whatever the chunks, kept when stopped, failures apart."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from backbearing.base.errors import NothingFoundError, OutingError, SkyError, WriteRefusedError
from backbearing.land.dark_sky import dark_sky_of
from backbearing.outing.marks_request import MarkRequest, MarksRequest
from backbearing.outing.scouting_request import PARTS
from backbearing.scouting import Candidates, ScoutRequest, Weights, scout
from backbearing.scouting.run import run as run_module
from backbearing.sky.extinction import dimming


def same(one, two) -> bool:
    if not np.array_equal(one.minutes, two.minutes):
        return False
    return bool(one.frame.drop(columns="geometry").equals(two.frame.drop(columns="geometry")))


@pytest.fixture(scope="module")
def few(scattered) -> Candidates:
    return scattered(7, seed=11)


@pytest.fixture(scope="module")
def ranking(plain_outing, few, elevation):
    return scout(plain_outing, few, nights=3, processes=1, elevation=elevation)


@pytest.mark.parametrize(("chunk", "processes"), [(1, 1), (3, 2), (100, 2)])
def test_the_same_whatever_the_chunks(
    chunk: int, processes: int, plain_outing, few, elevation, ranking
) -> None:
    again = scout(
        plain_outing, few, nights=3, chunk=chunk, processes=processes, elevation=elevation
    )
    assert same(again, ranking)


def test_the_frame_holds_what_it_promises(ranking, few) -> None:
    frame = ranking.frame
    assert len(frame) == len(few) == len(ranking)
    assert frame.crs.to_epsg() == 4326
    ranked = frame[: ranking.ranked]
    assert list(ranked["rank"]) == list(range(1, ranking.ranked + 1))
    assert (np.diff(ranked["score"]) <= 0.0).all()
    assert ranked["score"].between(0.0, 100.0).all()
    assert frame["rank"].isna().sum() == (frame["failure"] != "").sum()
    parts = ranked[[f"part_{part}" for part in PARTS]]
    assert ((parts >= 0.0) & (parts <= 1.0) | parts.isna()).all().all()
    assert (frame["total_minutes"] == ranking.minutes.max(axis=2).sum(axis=1)).all()
    for i, name in enumerate(ranking.lens_names):
        assert (frame[f"{name}_minutes"] == ranking.minutes[:, :, i].sum(axis=1)).all()
    for _, row in ranked.iterrows():
        assert row["reasons"].startswith("core ")
        assert dt.datetime.fromisoformat(row["best_time"]).utcoffset() is not None
        assert row["clearance_deg"] > 0.0
    assert "<table>" in ranking._repr_html_()
    assert len(ranking.top(2)) == 2


def test_scores_follow_from_parts_and_weights(ranking) -> None:
    weights = np.array(ranking.weights.values())
    for _, row in ranking.top(99).iterrows():
        parts = np.array([row[f"part_{part}"] for part in PARTS])
        known = np.isfinite(parts)
        assert not known.all()
        assert row["score"] == pytest.approx(
            100.0 * (weights * parts)[known].sum() / weights[known].sum()
        )
        assert row["unknown_weight"] == pytest.approx(weights[~known].sum() / weights.sum())
        assert "unknown and left out: walk, town glow, sky brightness" in row["reasons"]


@pytest.mark.slow
def test_a_stop_keeps_what_is_finished(
    plain_outing, few, elevation, ranking, tmp_path: Path, monkeypatch
) -> None:
    def stop(done: int, total: int) -> None:
        if done >= 3:
            raise KeyboardInterrupt

    asked = {"nights": 3, "chunk": 3, "processes": 1, "keep": tmp_path / "kept"}
    with pytest.raises(KeyboardInterrupt):
        scout(plain_outing, few, elevation=elevation, progress=stop, **asked)
    kept = sorted((tmp_path / "kept").iterdir())
    assert len(kept) == 1
    worked = []
    plain = run_module.rank_chunk
    monkeypatch.setattr(run_module, "rank_chunk", lambda *a: worked.append(len(a[1])) or plain(*a))
    told = []
    again = scout(
        plain_outing, few, elevation=elevation, progress=lambda *a: told.append(a), **asked
    )
    assert worked == [3, 1]
    assert told[0] == (3, 7)
    assert told[-1] == (7, 7)
    assert same(again, ranking)
    kept[0].write_bytes(b"torn")
    with pytest.warns(UserWarning, match="damaged; that part is done again"):
        assert same(scout(plain_outing, few, elevation=elevation, **asked), ranking)
    assert worked == [3, 1, 3]
    scout(plain_outing, few, elevation=elevation, **{**asked, "nights": 2})
    assert worked == [3, 1, 3, 3, 3, 1]


def test_a_file_in_the_way_of_the_folder(plain_outing, few, elevation, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(WriteRefusedError, match="folder for finished chunks"):
        scout(plain_outing, few, nights=1, keep=tmp_path / "file", elevation=elevation)


def test_a_lost_process_is_told_in_a_sentence(plain_outing, few, elevation, monkeypatch) -> None:
    import os

    monkeypatch.setattr(run_module, "rank_chunk", lambda *_: os._exit(9))
    with pytest.raises(Exception, match="ended on its own"):
        scout(plain_outing, few, nights=1, chunk=2, elevation=elevation)


def test_what_a_chunk_raises_comes_home(plain_outing, few, elevation, monkeypatch) -> None:
    def fail(*_):
        raise OutingError("No such thing.")

    monkeypatch.setattr(run_module, "rank_chunk", fail)
    with pytest.raises(OutingError, match="No such thing"):
        scout(plain_outing, few, nights=1, chunk=2, elevation=elevation)


def failure_of(outing, candidates, elevation, **asked) -> str:
    ranking = scout(outing, candidates, processes=1, elevation=elevation, **{"nights": 1, **asked})
    row = ranking.frame.iloc[-1]
    if row["failure"]:
        assert np.isnan(row["score"])
        assert np.isnan(row["stand_lat"])
        assert row["best_time"] == row["reasons"] == row["cautions"] == ""
        assert ranking.ranked < len(ranking)
    return str(row["failure"])


@pytest.mark.slow
def test_hard_failures_are_told_apart(
    plain_outing, elevation, make_candidates, made_ground
) -> None:
    level = made_ground(lambda east, north: 100.0)
    there = make_candidates(36.0, -84.0)
    assert failure_of(plain_outing, there, level) == ""
    assert "outside the elevation" in failure_of(plain_outing, make_candidates(40.0, -84.0), level)
    assert "marked closed" in failure_of(
        plain_outing, make_candidates(36.0, -84.0, access="closed"), level
    )
    assert "too low" in failure_of(plain_outing, make_candidates(36.0, -84.0, height_m=0.1), level)
    void = made_ground(lambda east, north: np.where(np.hypot(east, north) < 200.0, np.nan, 100.0))
    assert "unknown" in failure_of(plain_outing, there, void)
    wall = made_ground(lambda east, north: np.where(north < -300.0, 1500.0, 100.0))
    assert "never stands 1° clear of the ridge" in failure_of(plain_outing, there, wall)
    steep = made_ground(lambda east, north: 5000.0 + 0.8 * east)
    assert "feasible stand" in failure_of(plain_outing, there, steep)
    winter = dt.date(2027, 12, 20)
    assert "never above the horizontal" in failure_of(
        plain_outing, there, level, first_night=winter
    )
    moonlit = failure_of(plain_outing, there, level, first_night=dt.date(2027, 6, 18))
    assert "Moon" in moonlit
    north = made_ground(lambda east, north: 100.0, lat=60.0)
    assert "never goes 18°" in failure_of(plain_outing, make_candidates(60.0, -84.0), north)
    high = replace(plain_outing, framing=replace(plain_outing.framing, above_top_deg=60.0))
    assert "in one frame" in failure_of(high, there, level)


def test_a_subject_before_a_hill_drowns(plain_outing, make_candidates, made_ground) -> None:
    # A far wall to the south is low enough to clear and high enough to stand behind a tree.
    hill = made_ground(lambda east, north: 100.0 + 300.0 * np.clip((-north - 900.0) / 300.0, 0, 1))
    level = made_ground(lambda east, north: 100.0)
    there = make_candidates(36.0, -84.0)
    lens = replace(plain_outing, lenses=plain_outing.lenses[-2:])
    before, open_ = (
        scout(lens, there, nights=1, processes=1, elevation=ground).frame.iloc[0]
        for ground in (hill, level)
    )
    assert before["skyline_break_deg"] < open_["skyline_break_deg"]
    assert before["part_skyline_break"] < open_["part_skyline_break"]
    assert open_["part_skyline_break"] == pytest.approx(1.0, abs=0.05)
    assert before["skyline_break_deg"] < 0.0
    assert "drowns in the hill behind" in before["reasons"]


def test_what_else_stands_in_the_frame(plain_outing, make_candidates, made_ground) -> None:
    level = made_ground(lambda east, north: 100.0)
    alone = scout(
        plain_outing, make_candidates(36.0, -84.0), nights=1, processes=1, elevation=level
    ).frame.iloc[0]
    away = np.radians(alone["back_bearing_deg"] + 180.0)
    turn = away - np.radians(12.0)
    here = 60.0 / 111_194.9
    pines = make_candidates(
        [36.0 + here * np.cos(turn), 36.0 + 1.1 * here * np.cos(turn), 36.0 - here * np.cos(away)],
        [
            -84.0 + here * np.sin(turn) / np.cos(np.radians(36.0)),
            -84.0 + 1.1 * here * np.sin(turn) / np.cos(np.radians(36.0)),
            -84.0 - here * np.sin(away) / np.cos(np.radians(36.0)),
        ],
        id=["a", "b", "behind the camera"],
        height_m=20.0,
    )
    beside = make_candidates(36.0, -84.0, others=pines)
    found = scout(plain_outing, beside, nights=1, processes=1, elevation=level).frame.iloc[0]
    assert alone["isolation_count"] == 0
    assert alone["part_isolation"] == 1.0
    assert "nothing else of the data in the frame" in alone["reasons"]
    assert found["isolation_count"] == 2
    assert found["part_isolation"] < 0.6
    assert "2 trees behind to the left" in found["reasons"]


def test_what_a_rise_hides_is_not_in_the_frame(plain_outing, make_candidates, made_ground) -> None:
    def rise(east, north):
        return 100.0 + 40.0 * ((np.hypot(east, north) > 300.0) & (np.hypot(east, north) < 500.0))

    wide = replace(plain_outing, lenses=plain_outing.lenses[:1])
    mast = make_candidates(36.0 - 800.0 / 111_194.9, -84.0, id="mast", kind="mast", height_m=60.0)
    there = make_candidates(36.0, -84.0, others=mast)
    count = [
        scout(wide, there, nights=1, processes=1, elevation=ground).frame["isolation_count"][0]
        for ground in (made_ground(lambda east, north: 100.0), made_ground(rise))
    ]
    assert count == [1, 0]


def test_walk_glow_sky_and_land_of_files(
    outing, elevation, make_candidates, tmp_path: Path
) -> None:
    towns = tmp_path / "towns.csv"
    towns.write_text("name,lat,lon,population\nUnder the Core,36.1,-84.18,50000\n", "utf-8")
    asked = replace(outing, scouting=ScoutRequest(towns=towns, nights=1))
    there = make_candidates([36.3025], [-84.18])
    ranking = scout(asked, there, processes=1, elevation=elevation)
    row = ranking.frame.iloc[0]
    assert 0.0 <= row["walk_m"] < 1000.0
    assert 0.0 < row["part_walk"] <= 1.0
    assert row["town_glow_mag"] > 0.05
    assert "town glow behind the core: Under the Core" in row["reasons"]
    assert row["part_town_glow"] == pytest.approx(1.0 - row["town_glow_mag"])
    assert "unknown and left out: sky brightness" in row["reasons"]


def test_air_and_the_sky_behind_stand_in_columns_and_count_when_asked(
    outing, elevation, make_candidates, tmp_path: Path
) -> None:
    towns = tmp_path / "towns.csv"
    towns.write_text("name,lat,lon,population\nUnder the Core,36.1,-84.18,50000\n", "utf-8")
    asked = replace(outing, scouting=ScoutRequest(towns=towns, nights=1))
    there = make_candidates([36.3025], [-84.18])
    plain = scout(asked, there, processes=1, elevation=elevation).frame.iloc[0]
    weights = Weights(air=2.0, behind=3.0)
    weighed = replace(asked, scouting=replace(asked.scouting, weights=weights))
    row = scout(weighed, there, processes=1, elevation=elevation).frame.iloc[0]
    assert row["behind_mag_arcsec2"] == plain["behind_mag_arcsec2"]
    # Thirteen are the weights of old, some of them unknown here.
    known = 13.0 * (1.0 - plain["unknown_weight"])
    wanted = plain["score"] * known + 100.0 * (2.0 * row["part_air"] + 3.0 * row["part_behind"])
    assert row["score"] == pytest.approx(wanted / (known + 5.0))
    assert "the air dims the core by" in row["reasons"]
    assert "sky behind the core" in row["reasons"]
    assert "sky behind the core" not in plain["reasons"]
    # As a plan has it from the same stand and minute, but for the air of every 100 m of height.
    lit = replace(weighed, exposure=replace(outing.exposure, brightness_from="towns"))
    site_m = float(elevation.height_at(lat=row["stand_lat"], lon=row["stand_lon"]))
    (there_mag,) = (
        dark_sky_of(lit, site_m)
        .towards(
            lat=row["stand_lat"],
            lon=row["stand_lon"],
            azimuth_deg=row["target_azimuth_deg"],
            altitude_deg=row["target_altitude_deg"],
        )
        .mag_arcsec2
    )
    assert row["behind_mag_arcsec2"] == pytest.approx(there_mag, abs=0.1)
    assert 0.2 < row["behind_sigma_mag"] < 0.9
    air = dimming(row["target_altitude_deg"], height_m=site_m)
    assert row["air_mag"] == pytest.approx(float(air.below_zenith_mag))


def test_zero_weights_are_refused() -> None:
    with pytest.raises(OutingError, match="All weights are 0"):
        Weights(**dict.fromkeys(PARTS, 0.0))
    with pytest.raises(OutingError, match="walk is -1"):
        Weights(walk=-1.0)


def test_a_part_without_weight_counts_nothing(plain_outing, few, elevation) -> None:
    only = Weights(**{**dict.fromkeys(PARTS, 0.0), "dark": 1.0})
    asked = replace(plain_outing, scouting=ScoutRequest(weights=only))
    row = scout(asked, few, nights=2, processes=1, elevation=elevation).frame.iloc[0]
    assert row["score"] == pytest.approx(100.0 * row["part_dark"])


def test_what_cannot_be_scouted_is_refused(plain_outing, few, elevation) -> None:
    with pytest.raises(SkyError, match="1 to 732"):
        scout(plain_outing, few, nights=1000, elevation=elevation)
    nobody = Candidates(few.frame.iloc[:0], few.others, (), "empty")
    with pytest.raises(NothingFoundError, match="empty holds no candidates"):
        scout(plain_outing, nobody, nights=1, elevation=elevation)


def test_two_lenses_of_one_length_have_columns_of_their_own(plain_outing, few, elevation) -> None:
    twice = replace(
        plain_outing,
        lenses=(plain_outing.lenses[2], replace(plain_outing.lenses[2], share=0.2)),
    )
    frame = scout(twice, few, nights=1, processes=1, elevation=elevation).frame
    assert (frame["lens_40_distance_m"] < frame["lens_40_x2_distance_m"]).any()


@pytest.mark.slow
def test_a_large_raster_is_read_by_fixed_windows(
    plain_outing, scattered, elevation, monkeypatch
) -> None:
    from backbearing.scouting.ranking import raster_window as window

    some = scattered(12, seed=21)
    whole = scout(plain_outing, some, nights=1, processes=1, elevation=elevation)
    monkeypatch.setattr(window, "HELD_CELLS", 1000)
    monkeypatch.setattr(window, "TILE", 100)
    parted = scout(plain_outing, some, nights=1, processes=1, elevation=elevation)
    assert same(
        parted, scout(plain_outing, some, nights=1, chunk=2, processes=1, elevation=elevation)
    )
    assert np.array_equal(whole.minutes, parted.minutes)
    assert np.allclose(
        whole.frame["score"].astype(float), parted.frame["score"].astype(float), equal_nan=True
    )


ROOT = Path(__file__).resolve().parents[3]


def test_every_column_is_told_in_the_docs(ranking) -> None:
    text = (ROOT / "docs" / "scouting.md").read_text(encoding="utf-8")
    for name in ranking.frame.columns:
        if name.startswith("lens_"):
            known = name.replace("lens_16_", "lens_40_").replace("lens_24_", "lens_40_")
            assert known.replace("lens_85_", "lens_40_") in text
        elif name.startswith("part_"):
            assert f"| `{name.removeprefix('part_')}` |" in text
        elif name != "geometry":
            assert f"`{name}`" in text, name


def test_every_key_stands_in_the_starter_file() -> None:
    from backbearing.outing.schema import OutingShape

    starter = ROOT / "src" / "backbearing" / "data" / "starter_outing.toml"
    body = starter.read_text(encoding="utf-8").split("# [scouting]\n", 1)[1].split("\n[", 1)[0]
    shape = OutingShape.model_fields["scouting"].annotation
    for key in shape.model_fields:
        assert f"# {key} = " in body, key


def test_the_starters_section_can_be_used_as_it_stands(tmp_path: Path) -> None:
    from backbearing.outing.load import load_outing

    starter = ROOT / "src" / "backbearing" / "data" / "starter_outing.toml"
    head, tail = starter.read_text(encoding="utf-8").split("# [scouting]\n", 1)
    body, rest = tail.split("\n[", 1)
    lines = [line.removeprefix("# ") for line in body.splitlines() if " = " in line]
    path = tmp_path / "outing.toml"
    path.write_text(head + "\n".join(["[scouting]", *lines, ""]) + "\n[" + rest, encoding="utf-8")
    request = load_outing(path).scouting
    assert request.weights == Weights()
    assert request.candidates == tmp_path.resolve() / "candidates.csv"
    assert (request.nights, request.sky_unit) == (30, "mag/arcsec2")


def test_skyline_marks_of_one_place_are_not_used(plain_outing, few, elevation, ranking) -> None:
    marks = MarksRequest(tuple(MarkRequest(40.0, azimuth_deg=float(a)) for a in range(0, 360, 3)))
    marked = replace(plain_outing, ground=replace(plain_outing.ground, marks=marks))
    again = scout(marked, few, nights=3, processes=1, elevation=elevation)
    assert same(again, ranking)
    assert any("skyline marks are not used" in note for note in again.notes)
    assert not any("skyline marks" in note for note in ranking.notes)
