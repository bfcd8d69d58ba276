"""Every number of `nights` can be traced to inputs, a formula and a source."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING

import pytest

from backbearing.alignment import plan_season
from backbearing.base.grouped import flat_names, flat_types
from backbearing.base.references import REFERENCES
from backbearing.explain.nights import NIGHT_FACTS, night_explanations
from backbearing.plan.crossing import Crossing, InFrame
from backbearing.plan.season import Night, Season, Stretch

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation

WORDS = {"moon_light_from", "moon_welcome"}


@pytest.fixture(scope="module")
def season(outing: Outing, elevation: Elevation) -> Season:
    return plan_season(
        outing, first_night=dt.date(2027, 5, 28), nights=1, stand_lat=36.30272,
        stand_lon=-84.18010, elevation=elevation,
    )  # fmt: skip


def numbers(kind: type) -> set[str]:
    """Fields of a result that hold a number or a moment."""
    wanted = ("float", "dt.datetime", "int")
    return {name for name, said in flat_types(kind).items() if said in wanted}


def test_every_number_has_a_row() -> None:
    # A night's position and what was asked are inputs, not answers.
    asked = {"lat", "lon", "height_m", "eye_height_m", "sun_below_deg", "clear_by_deg",
             "within_deg", "subject_height_m"}  # fmt: skip
    assert {f"window.{k}" for k in numbers(Stretch)} <= set(NIGHT_FACTS)
    assert {f"night.{k}" for k in numbers(Night)} <= set(NIGHT_FACTS)
    crossing = numbers(Crossing) - {"start", "end"} | numbers(InFrame)
    assert {f"crossing.{k}" for k in crossing} <= set(NIGHT_FACTS)
    for key in numbers(Season) - asked:
        assert {f"night.{key}", f"crossing.{key}"} & set(NIGHT_FACTS), key
    words = set(flat_names(Stretch)) - numbers(Stretch)
    assert words == WORDS


def test_a_number_without_a_row_would_be_noticed() -> None:
    made = dataclasses.make_dataclass("Made", [("new_deg", "float"), ("name", "str")])
    assert numbers(made) == {"new_deg"}


def test_every_row_has_a_value_inputs_and_sources(season: Season) -> None:
    found = night_explanations(season)
    assert set(found) == set(NIGHT_FACTS)
    for one in found.values():
        assert one.value is not None, one.name
        assert one.formula
        for key, value in one.inputs.items():
            if key != "moon_adds_mag_asked":
                assert value is not None, (one.name, key)
    for fact in NIGHT_FACTS.values():
        assert set(fact.sources) <= set(REFERENCES)


def test_values_are_the_seasons_own(season: Season) -> None:
    found = night_explanations(season)
    assert found["window.minutes"].value == season.nights[0].windows[0].minutes
    assert found["crossing.over_top_deg"].value == season.crossings[0].over_top_deg
    assert found["night.dark_minutes"].value == season.nights[0].dark_minutes
