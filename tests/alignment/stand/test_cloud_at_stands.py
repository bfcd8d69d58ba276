"""A forecast beside a plan, a session and the nights: told, and nothing moved by it."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.night.plan_season import plan_season
from backbearing.base.errors import BackbearingError
from backbearing.base.grouped import changed
from backbearing.explain.nights import night_explanations
from backbearing.outing.load import load_outing
from backbearing.plan.cloud import CloudFigures
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing

LAT, LON = 36.2, 14.9


def outing(folder: Path, lines: list[str]) -> Outing:
    (folder / "cloud.csv").write_text("\n".join(lines), encoding="utf-8")
    made = write_outing(
        folder, lat=LAT, lon=LON, evening=dt.date(2027, 6, 5),
        night={"time_zone": "Europe/Rome", "moon": "any", "forecast": "cloud.csv"},
    )  # fmt: skip
    return load_outing(made.path)


def south_is_covered() -> list[str]:
    """Clear within 0.2 degree of the subject, and more and more cloud to the south of it."""
    lines = ["time,run,lat,lon,low_percent,middle_percent,high_percent"]
    for hour in range(18, 30):
        when = dt.datetime(2027, 6, 5, tzinfo=dt.UTC) + dt.timedelta(hours=hour)
        lines += [
            f"{when.isoformat()},2027-06-05T06:00Z,{lat},{lon},0,0,{80 if lat < LAT - 0.1 else 0}"
            for lat in np.arange(LAT - 1.0, LAT + 1.01, 0.2).tolist()
            for lon in np.arange(LON - 1.0, LON + 1.01, 0.2).tolist()
        ]
    return lines


def test_a_plan_tells_cloud_and_moves_nothing(tmp_path: Path) -> None:
    asked = outing(tmp_path, south_is_covered())
    plan = plan_night(asked)
    text = asked.path.read_text(encoding="utf-8")
    asked.path.write_text(text.replace('forecast = "cloud.csv"', ""), encoding="utf-8")
    without = plan_night(load_outing(asked.path))
    [one], [other] = plan.lenses, without.lenses
    assert one.stand is not None
    assert other.stand is not None
    assert one.stand.cloud_site == pytest.approx(0.0, abs=1e-6)
    assert one.stand.cloud_towards == pytest.approx(0.8, abs=1e-6)
    said = one.stand.cautions[-1]
    assert said == one.stand.cloud.words
    assert said.startswith("Forecast of 5 June 2027, 06:00 UTC (")
    assert "high 80%" in said
    assert any("no promise" in note for note in plan.notes)
    assert math.isnan(other.stand.cloud_site)
    assert not other.stand.cloud.words
    plain = changed(one.stand, cautions=other.stand.cautions, cloud=CloudFigures())
    assert repr(plain) == repr(other.stand)


def test_nights_tell_it_where_the_forecast_reaches(tmp_path: Path) -> None:
    season = plan_season(outing(tmp_path, south_is_covered()), nights=3)
    told = [night for night in season.nights if night.cloud_words]
    assert [night.evening for night in told] == [dt.date(2027, 6, 5)]
    assert told[0].cloud_towards == pytest.approx(0.8, abs=1e-6)
    assert any("no promise" in note for note in season.notes)
    explained = night_explanations(season)
    assert explained["night.cloud_towards"].value == told[0].cloud_towards
    assert explained["night.cloud_site"].value == told[0].cloud_site


def test_another_night_s_forecast_is_unknown_in_words(tmp_path: Path) -> None:
    lines = ["time,low_percent", "2027-05-01T20:00Z,0", "2027-05-01T23:00Z,0"]
    [one] = plan_night(outing(tmp_path, lines)).lenses
    assert one.stand is not None
    assert math.isnan(one.stand.cloud_site)
    assert "cloud is unknown then; cloud.csv tells of 1 May 2027" in one.stand.cautions[-1]


def test_a_bad_forecast_names_its_key(tmp_path: Path) -> None:
    asked = outing(tmp_path, ["time,low_percent", "2027-06-05T20:00,0"])
    with pytest.raises(BackbearingError, match=r"\[night\] forecast.*with its offset"):
        plan_night(asked)
    (tmp_path / "cloud.csv").unlink()
    with pytest.raises(BackbearingError, match=r"cloud\.csv"):
        plan_night(asked)
