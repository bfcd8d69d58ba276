"""The lamp's figures on level synthetic ground, each found again by hand."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment import plan_night
from backbearing.base.errors import BackbearingError
from backbearing.plan.turns import as_planned
from backbearing.sky import CORE, Target, direction
from backbearing.sky.luminance import sky_luminance
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan

LAMP: dict[str, Any] = {
    "lumens": 150.0,
    "beam_deg": 50.0,
    "distance_m": 9.0,
    "angle_deg": 30.0,
    "reflectance": 0.4,
    "stops_over_sky": 3.0,
}


def planned(folder: Path, **sections: Any) -> Plan:
    outing = write_outing(
        folder,
        lat=-31.4,
        lon=148.9,
        evening=dt.date(2027, 6, 5),
        lenses=(20.0, 50.0),
        **sections,
    )
    return plan_night(outing, whole_skyline=False)


@pytest.fixture(scope="module")
def lamp_plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(
        tmp_path_factory.mktemp("lamp"),
        light=LAMP,
        exposure={"sky_mag_arcsec2": 21.0, "core_mag_arcsec2": 20.0},
    )


def test_by_hand(lamp_plan: Plan) -> None:
    """Sky, wanted light and lamp again, from the relations themselves."""
    assert lamp_plan.lamp is not None
    (turn, *_) = lamp_plan.lamp.turns
    # The Moon is down as asked and the Sun far below: the two asked lights alone.
    sky = 108_000.0 * (10.0 ** (-0.4 * 21.0) + 10.0 ** (-0.4 * 20.0))
    assert turn.sky.sky_cd_m2 == pytest.approx(sky, rel=1e-4)
    lux = math.pi * sky * 8.0 / 0.4
    assert turn.wanted_lux == pytest.approx(lux, rel=1e-4)
    (spot,) = turn.spots
    # The subject is 8 m tall and the lamp lies on the ground: 4 m below the middle.
    candela = 150.0 / (2.0 * math.pi * (1.0 - math.cos(math.radians(25.0))))
    slant = math.hypot(9.0, 4.0)
    full = candela * math.cos(math.radians(30.0)) * 9.0 / slant**3
    assert spot.full_lux == pytest.approx(full, rel=1e-6)
    assert spot.dim_share == pytest.approx(lux / full, rel=1e-4)
    assert spot.over_stops == pytest.approx(math.log(full / lux) / math.log(2.0), abs=1e-3)


def test_paper_and_card_by_hand(lamp_plan: Plan) -> None:
    assert lamp_plan.lamp is not None
    turn = lamp_plan.lamp.turns[0]
    (spot,) = turn.spots
    slant = math.hypot(9.0, 4.0)
    share = math.cos(math.radians(30.0)) * 9.0 / slant**3 / math.pi
    under = {n: abs(math.log2(150.0 * 0.2**n * share / turn.wanted_lux)) for n in range(1, 7)}
    assert spot.sheets == min(under, key=lambda n: under[n])
    assert abs(spot.sheets_off_stops) == pytest.approx(under[spot.sheets], abs=1e-6)
    card = math.log2(150.0 * 0.8 * share / turn.wanted_lux)
    assert spot.card_off_stops == pytest.approx(card, abs=1e-6)


def test_lenses_differ_by_their_shutters_alone(lamp_plan: Plan) -> None:
    assert lamp_plan.lamp is not None
    shutters = {lens.lens.label: lens.shutter_s for lens in as_planned(lamp_plan).lenses}
    longest = max(shutters.values())
    for turn in lamp_plan.lamp.turns:
        stops = math.log2(shutters[turn.lens] / longest)
        assert turn.shutter_stops == pytest.approx(stops, abs=1e-9)
        assert turn.wanted_lux == pytest.approx(lamp_plan.lamp.turns[0].wanted_lux, rel=1e-3)


def test_twilights_minutes_again_by_the_sun(lamp_plan: Plan) -> None:
    """At the minutes the Sun stands where the cubic of log10 lux gives the asked light."""
    assert lamp_plan.lamp is not None
    blue = lamp_plan.lamp.blue_hour
    assert blue is not None
    sky = lamp_plan.lamp.turns[0].sky.sky_cd_m2
    assert blue.level_lux == pytest.approx(math.pi * sky / 4.0 / 0.21, rel=1e-3)
    for at in (blue.dusk, blue.dawn):
        assert at is not None
        _, sun = direction(
            Target.body("sun"), lat=-31.4, lon=148.9, height_m=0.0, times=at, refraction=False
        )
        x = float(sun) / 90.0
        # Between -12 and -18 degrees: Janiczek and DeYoung 1987.
        assert -18.0 < float(sun) < -12.0
        lux = 10.0 ** (13.84 + 262.72 * x + 1447.42 * x**2 + 2797.93 * x**3)
        assert lux == pytest.approx(blue.level_lux, rel=0.02)
    assert blue.dawn - blue.dusk > dt.timedelta(hours=6)


def test_a_frame_of_the_ground_by_hand(lamp_plan: Plan) -> None:
    assert lamp_plan.lamp is not None
    blue = lamp_plan.lamp.blue_hour
    assert blue is not None
    for frame in blue.frames:
        assert frame.sun_altitude_deg == pytest.approx(-8.0, abs=0.01)
        x = -8.0 / 90.0
        lux = 10.0 ** (2.70 + 12.17 * x - 431.69 * x**2 - 1899.83 * x**3)
        assert frame.ground_lux == pytest.approx(lux, rel=0.005)
        assert frame.ground_cd_m2 == pytest.approx(0.21 * lux / math.pi, rel=0.005)
        # Three stops under clipping at base ISO: an eighth of 1500 electrons a square micrometre,
        # to half a third of a stop for a marked shutter.
        lens = next(one for one in lamp_plan.lenses if one.lens.label == frame.lens)
        well = 1500.0 * lamp_plan.camera.pixel_pitch_um**2 / 8.0
        assert frame.ground_snr == pytest.approx(math.sqrt(well), rel=0.1)
        assert frame.shutter_s > lens.shutter_s / 100.0
        assert 1.0 < frame.sky_over_ground_stops < 6.0


def test_a_lamp_too_weak_and_one_turned_away(tmp_path: Path) -> None:
    plan = planned(tmp_path, light={"lumens": 1.0, "distance_m": 900.0})
    assert plan.lamp is not None
    spot = plan.lamp.turns[0].spots[0]
    assert spot.over_stops < 0.0
    assert spot.sheets == 0
    assert "too little" in spot.sentence
    assert "too weak" in plan.lamp.line


def test_without_lumens_only_the_light_that_is_wanted(tmp_path: Path) -> None:
    plan = planned(tmp_path, light={"surface": "snow"})
    assert plan.lamp is not None
    assert all(turn.spots == () and turn.wanted_lux > 0.0 for turn in plan.lamp.turns)
    assert plan.lamp.reflectance == 0.87


def test_without_the_section_nothing_is_said(tmp_path: Path) -> None:
    plan = planned(tmp_path)
    assert plan.lamp is None
    # What the air takes is told of every stand.
    for lens in plan.lenses:
        if lens.stand is not None:
            assert lens.air is not None
            up = math.radians(lens.stand.target_altitude_deg)
            if lens.stand.target_altitude_deg > 40.0:
                assert lens.air.air_mass == pytest.approx(1.0 / math.sin(up), rel=0.003)


def test_haze_of_ones_own(tmp_path: Path) -> None:
    clear = planned(tmp_path, night={"aerosol_mag": 0.0})
    hazy = planned(tmp_path, night={"aerosol_mag": 0.3})
    for one, other in zip(clear.lenses, hazy.lenses, strict=True):
        if one.air is not None and other.air is not None:
            more = other.air.lost_mag - one.air.lost_mag
            assert more == pytest.approx(0.3 * one.air.air_mass, rel=1e-6)
            assert np.isclose(other.air.air_sigma_mag, 0.15 * one.air.air_mass)


@pytest.mark.parametrize(
    ("light", "says"),
    [
        ({"surface": "cheese"}, "surface is 'cheese'"),
        ({"ground": "cheese"}, "ground is 'cheese'"),
        ({"lumens": -1.0}, "lumens"),
        ({"beam_deg": 400.0}, "beam_deg"),
        ({"reflectance": 1.5}, "reflectance"),
        ({"lumen": 3.0}, "lumen"),
    ],
)
def test_bad_light_gets_one_sentence(tmp_path: Path, light: dict[str, Any], says: str) -> None:
    with pytest.raises(BackbearingError, match=says) as caught:
        planned(tmp_path, light=light)
    assert "[light]" in str(caught.value)
    assert "outing.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_white_night_has_no_such_minute(tmp_path: Path) -> None:
    """At 64 north the Sun of late May stays above -6 degrees: the table's faint end never comes."""
    outing = write_outing(
        tmp_path,
        lat=64.0,
        lon=20.0,
        evening=dt.date(2027, 5, 28),
        lenses=(24.0,),
        target={"body": "moon"},
        night={"moon": "any", "sun_below_deg": -4.0},
        light={"lumens": 100.0, "distance_m": 5.0},
    )
    plan = plan_night(outing, whole_skyline=False)
    assert plan.lamp is not None
    for turn in plan.lamp.turns:
        # Before the Moon's own disc no brightness of the sky is known.
        assert math.isnan(turn.wanted_lux)
        assert turn.spots == ()
        assert "unknown" in turn.sentence
    assert "unknown" in plan.lamp.line or not plan.lamp.turns


def test_the_moon_and_twilight_brighten_the_sky() -> None:
    """A full Moon adds some magnitudes; near the Sun's glow at -8 degrees more still."""
    place = {"lat": -31.4, "lon": 148.9, "height_m": 300.0}
    times = [
        dt.datetime(2027, 6, 19, 13, tzinfo=dt.UTC),  # full Moon on 18 June, high at night
        dt.datetime(2027, 6, 5, 13, tzinfo=dt.UTC),  # new Moon on 4 June
    ]
    full, none = (sky_luminance(CORE, **place, times=at) for at in times)
    assert full.moon[0] > 3.0 * full.dark[0]
    assert none.moon[0] == 0.0
    assert full.total[0] == pytest.approx(
        full.dark[0] + full.moon[0] + full.twilight[0] + full.milky_way[0]
    )
    dusk = [dt.datetime(2027, 6, 5, 7, minute, tzinfo=dt.UTC) for minute in (0, 50)]
    _, sun = direction(Target.body("sun"), **place, times=dusk, refraction=False)
    assert sun[0] > -4.0 > -8.0 > sun[1]
    bright = sky_luminance(CORE, **place, times=dusk)
    assert np.isnan(bright.total[0])
    assert bright.twilight[1] > bright.dark[1]
    no_band = sky_luminance(CORE, **place, times=times[1], core_mag=math.inf)
    assert no_band.milky_way[0] == 0.0
