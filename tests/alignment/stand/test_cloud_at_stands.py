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
from backbearing.base.units import METRIC, Units
from backbearing.drawing.wall_clock import WallClock
from backbearing.explain.nights import night_explanations
from backbearing.maps.lens_rows import stand_rows
from backbearing.outing.load import load_outing
from backbearing.plan.cloud import CloudFigures, short_cloud_words
from backbearing.plan.in_units import in_units
from backbearing.plan.turns import as_planned
from backbearing.sheet.content import sheet_content
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


def test_a_turn_s_cloud_is_a_word_on_page_and_sheet_with_its_age(tmp_path: Path) -> None:
    asked = outing(tmp_path, south_is_covered())
    text = asked.path.read_text(encoding="utf-8")
    asked.path.write_text(text + "\n[session]\n", encoding="utf-8")
    plan = plan_night(load_outing(asked.path), whole_skyline=False)
    assert plan.session is not None
    [shot] = plan.session.shots
    cloud = shot.stand.cloud
    # From the run at 06:00 UTC to the turn.
    run = dt.datetime(2027, 6, 5, 6, tzinfo=dt.UTC)
    assert cloud.age_h == pytest.approx((shot.stand.time - run).total_seconds() / 3600.0)
    word = f"Cloud 80% towards it, by a forecast {round(cloud.age_h)} h old."
    assert short_cloud_words(cloud) == word
    for units in (METRIC, Units("imperial")):
        shown = in_units(plan, units)
        content = sheet_content(shown, units)
        assert word in content.shots[0].note
        # The long sentence is the table's and the page's; on paper the doubt stands once.
        assert not any("Forecast of" in line for line in content.own_cautions)
        assert sum("no promise: cloud" in line for line in content.cannot_see) == 1
        stand = as_planned(shown).lenses[0].stand
        assert stand is not None
        rows = dict(stand_rows(stand, WallClock(shown.zone), "core", units))
        assert rows["Cloud"] == word
        away = "mi away" if units != METRIC else "km away"
        assert away in stand.cautions[-1]


def test_few_words_for_what_is_unknown() -> None:
    said = short_cloud_words(CloudFigures(0.4, math.nan, "some words"))
    assert said == "Cloud 40% overhead, unknown towards it, by a forecast of unknown age."
    assert short_cloud_words(CloudFigures(words="why")) == "Cloud unknown: no forecast for it."
    assert not short_cloud_words(CloudFigures())


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
