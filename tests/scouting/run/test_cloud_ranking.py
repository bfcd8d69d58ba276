"""Candidates in order for one night, by a forecast whose cloud lies over some of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.outing.scouting_request import Weights
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.run.run import scout
from backbearing.workflows.cloud_ranking import first_evening, ranked_by_cloud
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking

LAT, LON = 36.2, 14.9
EVENING = dt.date(2027, 6, 5)


@pytest.fixture
def ranked(tmp_path: Path) -> tuple[Outing, Ranking]:
    outing = write_outing(
        tmp_path, lat=LAT, lon=LON, evening=EVENING,
        night={"time_zone": "Europe/Rome", "moon": "any"},
    )  # fmt: skip
    things = tmp_path / "things.csv"
    places = [(LAT + 0.005 * i, LON - 0.01 + 0.005 * i) for i in range(-2, 3)]
    rows = [f"Tree {i},{lat},{lon},6,5,tree" for i, (lat, lon) in enumerate(places)]
    things.write_text("name,lat,lon,height_m,width_m,kind\n" + "\n".join(rows), encoding="utf-8")
    ranking = scout(outing, read_candidates(things), nights=1, processes=1)
    assert ranking.ranked >= 3
    return outing, ranking


def forecast(path: Path, cloud_percent) -> Path:
    """Points half a kilometre apart about the candidates, and far to the south of them."""
    lines = ["time,lat,lon,low_percent,middle_percent,high_percent"]
    for hour in (18, 21, 24, 27, 30):
        when = dt.datetime(2027, 6, 5, tzinfo=dt.UTC) + dt.timedelta(hours=hour)
        lines += [
            f"{when.isoformat()},{lat},{lon},{cloud_percent(lat, lon)},0,0"
            for lat in np.arange(LAT - 0.2, LAT + 0.03, 0.005).tolist()
            for lon in np.arange(LON - 0.1, LON + 0.1, 0.005).tolist()
        ]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_the_order_is_the_score_times_what_is_clear(
    tmp_path: Path, ranked: tuple[Outing, Ranking]
) -> None:
    outing, ranking = ranked
    file = forecast(tmp_path / "cloud.csv", lambda lat, lon: 100.0 if lon > LON - 0.004 else 30.0)
    found = ranked_by_cloud(ranking, outing, file)
    frame = found.frame.iloc[: found.ranked]
    left = frame["score"] * (1.0 - frame["cloud_towards"])
    assert (np.diff(left) <= 1e-12).all()
    assert frame["cloud_towards"].nunique() > 1
    assert frame["rank"].tolist() == list(range(1, found.ranked + 1))
    assert sorted(frame["id"]) == sorted(ranking.frame["id"].iloc[: ranking.ranked])
    # Everything of a candidate moves with it.
    for i, one in enumerate(frame["id"]):
        was = ranking.frame["id"].tolist().index(one)
        assert found.minutes[i].tolist() == ranking.minutes[was].tolist()
    assert frame["reasons"].str.startswith("forecast: cloud").all()
    assert any("no promise" in note for note in found.notes)
    assert "cloud_site" not in ranking.frame


def test_with_a_weight_cloud_is_one_more_part_of_the_score(
    tmp_path: Path, ranked: tuple[Outing, Ranking]
) -> None:
    outing, ranking = ranked
    file = forecast(tmp_path / "cloud.csv", lambda lat, lon: 100.0 if lon > LON - 0.004 else 30.0)
    weights = Weights(cloud=4.0)
    asked = replace(outing, scouting=replace(outing.scouting, weights=weights))
    found = ranked_by_cloud(ranking, asked, file)
    was = ranking.frame.set_index("id")
    for _, row in found.frame.iloc[: found.ranked].iterrows():
        before = was.loc[row["id"]]
        # Of the eight parts of old, those that are known here, by docs/scouting.md's weights.
        known = 13.0 * (1.0 - before["unknown_weight"])
        clear = 1.0 - row["cloud_towards"]
        assert row["part_cloud"] == pytest.approx(clear)
        wanted = (before["score"] * known + 100.0 * 4.0 * clear) / (known + 4.0)
        assert row["score"] == pytest.approx(wanted)
    scores = found.frame["score"].iloc[: found.ranked]
    assert (np.diff(scores) <= 1e-12).all()
    assert scores.nunique() > 1


def test_the_night_is_that_in_which_the_forecast_begins(
    tmp_path: Path, ranked: tuple[Outing, Ranking]
) -> None:
    outing, _ = ranked
    file = tmp_path / "late.csv"
    for time, evening in (
        ("2027-07-05T15:00Z", dt.date(2027, 7, 5)),
        ("2027-07-06T01:00+02:00", dt.date(2027, 7, 5)),
        ("2027-07-06T12:30+02:00", dt.date(2027, 7, 6)),
    ):
        file.write_text(f"time,low_percent\n{time},0\n", encoding="utf-8")
        assert first_evening(outing, file) == evening


def test_unknown_cloud_comes_after_and_is_said(
    tmp_path: Path, ranked: tuple[Outing, Ranking]
) -> None:
    outing, ranking = ranked
    file = tmp_path / "late.csv"
    file.write_text("time,low_percent\n2027-07-05T20:00Z,0\n", encoding="utf-8")
    found = ranked_by_cloud(ranking, outing, file)
    assert found.frame["id"].tolist() == ranking.frame["id"].tolist()
    assert np.isnan(found.frame["cloud_towards"].iloc[: found.ranked]).all()
    assert found.frame["reasons"].iloc[0].startswith("forecast: cloud unknown towards the target")
