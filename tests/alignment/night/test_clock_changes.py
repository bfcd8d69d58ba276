"""The nights on which the clocks change: what is asked, what is said, and the hours in files."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment import plan_night
from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.base.errors import OutingError
from backbearing.base.grouped import changed
from backbearing.sheet.content import sheet_content
from invented import hill, write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing

KENTUCKY = {"lat": 37.0, "lon": -84.0}  # Eastern time: clocks go back on 7 November 2027
SIRIUS = {"star": "Sirius"}


def autumn(folder: Path, **sections: object) -> Outing:
    return write_outing(
        folder, **KENTUCKY, evening=dt.date(2027, 11, 6), target=SIRIUS,
        night={"moon": "any"}, lenses=(24.0, 35.0), **sections,
    )  # fmt: skip


def test_what_is_advised_for_a_time_that_comes_twice_can_be_written(tmp_path: Path) -> None:
    twice = autumn(tmp_path, session={"not_before": "01:30", "frames_minutes": 5})
    with pytest.raises(OutingError, match='write "01:30 first" or "01:30 second"'):
        plan_night(twice)
    starts = []
    for which in ("first", "second", "EDT", "EST"):
        asked = {"not_before": f"01:30 {which}", "frames_minutes": 5}
        plan = plan_night(autumn(tmp_path, session=asked))
        assert plan.session is not None
        assert plan.session.start is not None
        starts.append(plan.session.start)
    assert starts[0] == starts[2]
    assert starts[1] == starts[3]
    first = dt.datetime(2027, 11, 7, 5, 30, tzinfo=dt.UTC)
    assert first <= starts[0] < first + dt.timedelta(hours=1) <= starts[1]


def test_letters_that_the_night_does_not_have_are_refused(tmp_path: Path) -> None:
    with pytest.raises(OutingError, match=r'23:40 is EDT .* not PST; write "23:40"'):
        plan_night(autumn(tmp_path), at="23:40 PST")


def test_sentences_tell_the_two_apart(tmp_path: Path) -> None:
    outing = autumn(tmp_path, session={"not_before": "01:30 second", "frames_minutes": 5})
    plan = plan_night(outing, at="01:40 second")
    lens = plan.lenses[0]
    assert lens.stand is not None
    assert lens.stand.time == dt.datetime(2027, 11, 7, 6, 40, tzinfo=dt.UTC)
    assert lens.placing is not None
    assert any("At 01:40 EST" in said for said in lens.placing.instructions)
    assert plan.session is not None
    assert "EST" in plan.session.sentence
    content = sheet_content(plan)
    assert "Times are local: EDT, then EST" in content.lead[0]


def test_a_plan_made_in_summer_for_winter_names_the_winters_time(tmp_path: Path) -> None:
    # Canopus never rises at 55 N: no path, and so the plan's making was taken for its letters.
    outing = write_outing(
        tmp_path, lat=55.0, lon=9.5, evening=dt.date(2027, 12, 1), target={"star": "Canopus"},
    )  # fmt: skip
    plan = changed(plan_night(outing), made=dt.datetime(2027, 7, 1, tzinfo=dt.UTC))
    assert plan.sky_path == ()
    assert "Times are local: CET (" in sheet_content(plan).lead[0]


@pytest.mark.parametrize("evening", [dt.date(2027, 3, 13), dt.date(2027, 11, 6)])
def test_hours_in_files_are_those_of_the_clock_on_the_wall(
    evening: dt.date, tmp_path: Path
) -> None:
    # Both stand over the hill until after the change: Vega in March, Sirius in November.
    outing = write_outing(
        tmp_path, **KENTUCKY, evening=evening, ground=hill(300.0, 400.0),
        target={"star": "Vega"} if evening.month == 3 else SIRIUS,
        night={"moon": "any"}, raster={"half_m": 900.0, "cell_m": 60.0},
    )  # fmt: skip
    area = ridge_area(outing, open_elevation(outing))
    shown = np.isfinite(area.last_clear_minutes)
    last = area.last_clear_minutes[shown].max()
    moment = area.start + dt.timedelta(minutes=float(last))
    local = moment.astimezone(dt.timezone(dt.timedelta(hours=-4 if evening.month == 3 else -5)))
    wall = local.hour + local.minute / 60.0 + local.second / 3600.0
    assert area.last_clear_h[shown].max() % 24.0 == pytest.approx(wall, abs=0.01)
