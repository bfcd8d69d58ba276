"""The dark sky behind the target from towns and raster, and all that a plan makes of it."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from backbearing.alignment import plan_night
from backbearing.alignment.stand.sky_behind import behind_each
from backbearing.alignment.view.lens_views import views
from backbearing.base.errors import OutingError
from backbearing.base.geodesy import line_between
from backbearing.base.grouped import changed
from backbearing.drawing.wall_clock import WallClock
from backbearing.explain.plan import explain
from backbearing.exports.plan_json import plan_json
from backbearing.land.dark_sky import DarkSky
from backbearing.sheet.shot_rows import shot_row, turns
from backbearing.sky.town_light import SiteAir, cd_m2_a_lumen
from backbearing.tables.towns import Towns
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan

LAT, LON = -31.4, 148.9
TOWNS = "name,lat,lon,population\nPelham,-31.6,149.02,30000\nOrrin,-31.1,148.5,4000\n"
NATURAL = 1.74e-4


def asked(folder: Path, source: str, **exposure: Any) -> Outing:
    (folder / "towns.csv").write_text(TOWNS, encoding="utf-8")
    cells = np.full((40, 40), 0.5, dtype=np.float32)
    with rasterio.open(
        folder / "sky.tif",
        "w",
        driver="GTiff",
        height=40,
        width=40,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=from_origin(LON - 1.0, LAT + 1.0, 0.05, 0.05),
    ) as data:
        data.write(cells, 1)
    return write_outing(
        folder,
        lat=LAT,
        lon=LON,
        evening=dt.date(2027, 6, 5),
        lenses=(24.0, 85.0),
        exposure={"brightness_from": source, **exposure},
        scouting={"towns": "towns.csv", "sky_brightness": "sky.tif", "sky_unit": "mcd/m2"},
        light={},
    )


def planned(folder: Path, source: str, **exposure: Any) -> Plan:
    return plan_night(asked(folder, source, **exposure), whole_skyline=False)


@pytest.fixture(scope="module")
def by_towns(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("towns"), "towns")


@pytest.fixture(scope="module")
def by_both(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("both"), "raster and towns")


def towns_light(plan: Plan, stand: Any, altitude_deg: float) -> float:
    """The two towns' light by the integral itself, each town's lamps 500 lm a head."""
    air = SiteAir.of(height_m=plan.subject_ground_m)
    total = 0.0
    for lat, lon, people in ((-31.6, 149.02, 30_000.0), (-31.1, 148.5, 4_000.0)):
        line = line_between(lat1=stand.lat, lon1=stand.lon, lat2=lat, lon2=lon)
        off = stand.target_azimuth_deg - float(line.azimuth_deg)
        total += (
            500.0
            * people
            * float(
                cd_m2_a_lumen(
                    distance_m=float(line.distance_m),
                    altitude_deg=altitude_deg,
                    off_deg=(off + 180.0) % 360.0 - 180.0,
                    air=air,
                )
            )
        )
    return total


def natural(plan: Plan, altitude_deg: float) -> float:
    """By hand: the layer's path, and the site's extinction of a clear night."""
    site = plan.subject_ground_m
    k = 0.1066 * math.exp(-site / 8200.0) + 0.1 * math.exp(-site / 1500.0) + 0.031
    x = (1.0 - 0.96 * math.cos(math.radians(altitude_deg)) ** 2) ** -0.5
    return NATURAL * (0.4 + 0.6 * x) * 10.0 ** (-0.4 * k * (x - 1.0))


def test_towns_and_natural_sky_add_up_in_the_targets_direction(by_towns):
    for lens in by_towns.lenses:
        stand, sky = lens.stand, lens.behind
        dark, lit = (
            natural(by_towns, stand.target_altitude_deg),
            towns_light(by_towns, stand, stand.target_altitude_deg),
        )
        assert sky.behind_natural_cd_m2 == pytest.approx(dark, rel=1e-3)
        assert sky.behind_towns_cd_m2 == pytest.approx(lit, rel=0.03)
        total = dark + lit
        assert sky.behind_mag_arcsec2 == pytest.approx(
            -2.5 * math.log10(total / 108_000.0), abs=0.03
        )
        sigma = math.hypot(0.4 * dark, 0.9 * lit) / total
        assert sky.behind_sigma_mag == pytest.approx(sigma, abs=0.02)
        assert sky.behind_town == "Pelham"
        assert "Pelham's" in sky.sentence
        assert "±" in sky.sentence


def test_a_raster_gives_the_level_and_towns_the_shape(by_both):
    for lens in by_both.lenses:
        stand, sky = lens.stand, lens.behind
        there = towns_light(by_both, stand, stand.target_altitude_deg)
        overhead = towns_light(by_both, stand, 90.0)
        assert sky.behind_towns_cd_m2 == pytest.approx(5e-4 * there / overhead, rel=0.05)
        assert sky.behind_from == "raster and towns"


def test_the_exposure_and_the_lamp_take_it(by_towns, tmp_path):
    lens = by_towns.lenses[0]
    sky = lens.behind
    assert lens.light.asked.sky_mag_arcsec2 == sky.behind_mag_arcsec2
    same = planned(tmp_path, "asked", sky_mag_arcsec2=round(sky.behind_mag_arcsec2, 6))
    assert lens.light.background_e == pytest.approx(same.lenses[0].light.background_e, rel=1e-3)
    # Root of the squares of this sky's doubt and 0.4 stop of sensor.
    stops = 0.4 * math.log2(10.0)
    assert lens.light.light_sigma_stops == pytest.approx(
        math.hypot(stops * sky.behind_sigma_mag, 0.4)
    )
    assert same.lenses[0].light.light_sigma_stops == pytest.approx(math.hypot(stops * 0.5, 0.4))
    turn = next(one for one in by_towns.lamp.turns if one.lens == lens.lens.label)
    assert turn.sky.dark_cd_m2 == pytest.approx(sky.behind_cd_m2)


def test_the_picture_brightens_by_what_towns_add(by_towns, tmp_path):
    dark = planned(tmp_path, "asked")
    bright, plain = (views(plan, None)[0] for plan in (by_towns, dark))
    sky = by_towns.lenses[0].behind
    ratio = sky.behind_towns_cd_m2 / sky.behind_natural_cd_m2
    wanted = 2.5 * math.log10(10.0 ** (0.4 * plain.sky_adds_mag) + ratio)
    assert bright.sky_adds_mag == pytest.approx(wanted)


def test_it_stands_in_json_and_is_explained(by_towns):
    lens = json.loads(plan_json(by_towns))["plan"]["lenses"][0]
    assert lens["behind"]["behind_mag_arcsec2"] == by_towns.lenses[0].behind.behind_mag_arcsec2
    told = explain(by_towns, "behind_towns_cd_m2")[0]
    assert told.value == by_towns.lenses[0].behind.behind_towns_cd_m2
    assert any("Garstang" in source for source in told.sources)


def test_the_sheet_says_it_in_a_word_where_there_is_room(by_towns, tmp_path):
    clock = WallClock(by_towns.zone)
    turn = turns(by_towns)[0]
    air, sky = turn.lens.air, turn.lens.behind
    words = shot_row(by_towns, turn, clock).note
    assert f"Air -{air.dimmer_mag:.1f}, sky {sky.behind_mag_arcsec2:.1f} mag." in words
    many = replace(by_towns, lenses=by_towns.lenses * 3)
    assert f"Air dims it {air.dimmer_mag:.1f} mag." in shot_row(many, turns(many)[0], clock).note
    dark = planned(tmp_path, "asked")
    assert "sky" not in shot_row(dark, turns(dark)[0], clock).note.lower()


def test_low_down_it_is_unknown_and_no_light_is_told(by_towns):
    towns = Towns(("Pelham",), np.array([-31.6]), np.array([149.02]), np.array([30_000.0]))
    sky = DarkSky("towns", 21.6, math.nan, towns, SiteAir.of(height_m=300.0), 0.22)
    stand = by_towns.lenses[0].stand
    low = changed(stand, target_altitude_deg=2.5)
    found = behind_each(sky, [low])[0]
    assert math.isnan(found.behind_mag_arcsec2)
    assert "unknown" in found.sentence


def test_towns_that_are_not_named_or_not_there_are_refused(tmp_path):
    outing = write_outing(
        tmp_path,
        lat=LAT,
        lon=LON,
        evening=dt.date(2027, 6, 5),
        lenses=(24.0,),
        exposure={"brightness_from": "towns"},
    )
    with pytest.raises(OutingError, match=r"asks for towns and none are named.*towns\.csv"):
        plan_night(outing, whole_skyline=False)
    outing = asked(tmp_path, "towns")
    (tmp_path / "towns.csv").write_text("name,lat,lon\nPelham,-31.6,149.0\n", encoding="utf-8")
    with pytest.raises(OutingError, match="population"):
        plan_night(outing, whole_skyline=False)
