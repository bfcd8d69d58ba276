"""Nights without a window, joined into spells."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment import plan_season
from backbearing.alignment.night.season_reasons import spells_without

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation


def test_every_night_without_a_window_is_in_one_spell(outing: Outing, elevation: Elevation) -> None:
    season = plan_season(outing, first_night=dt.date(2027, 5, 1), nights=90, elevation=elevation)
    spells = spells_without(season)
    told = [night.evening for spell in spells for night in spell.nights]
    assert told == [night.evening for night in season.nights if not night.windows]
    assert len(spells) < len(told) / 3
    for spell in spells:
        evenings = [night.evening.toordinal() for night in spell.nights]
        assert evenings == list(range(evenings[0], evenings[0] + len(evenings)))
        assert {night.why_not for night in spell.nights} == {spell.why_not}


def test_numbers_that_differ_are_given_from_least_to_most(outing: Outing) -> None:
    from rasterio.transform import from_origin

    from backbearing.terrain import Elevation

    plain = Elevation.from_array(
        np.full((100, 100), 100.0), from_origin(10.0, 55.05, 0.001, 0.001), "EPSG:4326"
    )
    north = replace(outing, subject=replace(outing.subject, lat=55.0, lon=10.05))
    season = plan_season(north, first_night=dt.date(2027, 5, 20), nights=20, elevation=plain)
    (spell,) = (s for s in spells_without(season) if "No astronomical" in s.why_not)
    lowest = [night.events.sun_lowest_deg for night in spell.nights]
    glow = [night.glow_least_mag for night in spell.nights]
    assert f"lower than {min(lowest):.1f} to {max(lowest):.1f}°" in spell.why_not
    assert f"by {min(glow):.1f} to {max(glow):.1f} mag" in spell.why_not


def test_a_target_that_never_rises_is_said_with_the_bright_nights(outing: Outing) -> None:
    from rasterio.transform import from_origin

    from backbearing.terrain import Elevation

    plain = Elevation.from_array(
        np.full((100, 100), 300.0), from_origin(18.9, 69.7, 0.001, 0.001), "EPSG:4326"
    )
    far = replace(outing, subject=replace(outing.subject, lat=69.65, lon=18.95))
    season = plan_season(far, first_night=dt.date(2027, 6, 15), nights=4, elevation=plain)
    (spell,) = spells_without(season)
    assert len(spell.nights) == 4
    assert "No astronomical darkness" in spell.why_not
    assert "never rises here" in spell.why_not
