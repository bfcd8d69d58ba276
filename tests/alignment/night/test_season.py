from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment import plan_night, plan_season
from backbearing.base.errors import SkyError
from backbearing.sky import CORE, Target, direction
from backbearing.sky.nights import sun_altitude_deg

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.season import Season
    from backbearing.terrain import Elevation

FIRST = dt.date(2027, 5, 20)


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="module")
def season(outing: Outing, elevation: Elevation) -> Season:
    return plan_season(outing, first_night=FIRST, nights=50, elevation=elevation)


def test_every_night_has_a_window_or_says_why(season: Season) -> None:
    assert [n.evening for n in season.nights] == [FIRST + dt.timedelta(days=i) for i in range(50)]
    for night in season.nights:
        assert bool(night.windows) == (night.outcome == "window") == (not night.why_not)
        assert night.window_minutes <= night.clear_minutes + 1e-6
        assert night.clear_minutes <= night.dark_minutes + 1e-6
    assert {"window", "moon", "moon while clear"} == {n.outcome for n in season.nights}


def test_windows_stand_over_the_terrain_skyline(season: Season, elevation: Elevation) -> None:
    for night in season.nights:
        for stretch in (*night.windows, *night.moonlit):
            middle = stretch.start + (stretch.end - stretch.start) / 2
            azimuth, altitude = direction(
                CORE, lat=season.lat, lon=season.lon, height_m=season.height_m, times=middle
            )
            ray = elevation.horizon(
                lat=season.lat, lon=season.lon, eye_height_m=season.eye_height_m,
                azimuths_deg=[float(azimuth)],
            )  # fmt: skip
            clearance = float(altitude) - float(ray.altitudes_deg[0])
            assert stretch.clearance_deg == pytest.approx(clearance, abs=0.3)
            assert clearance > season.clear_by_deg - 0.3
            assert 0.0 < stretch.band_share_up <= 1.0
            assert -90.0 < stretch.lean_middle_deg <= 90.0


def test_a_flat_horizon_would_give_more(season: Season, outing: Outing) -> None:
    from backbearing.sky import dark_windows

    flat = dark_windows(
        lat=season.lat, lon=season.lon, height_m=season.height_m, first_night=FIRST, nights=50,
        tz=season.zone, min_altitude_deg=outing.night.clear_by_deg,
    )  # fmt: skip
    ours = sum(n.window_minutes for n in season.nights)
    assert ours < sum(w.minutes for w in flat) - 600.0


@pytest.mark.slow
def test_one_night_of_it_is_the_plans_own(outing: Outing, elevation: Elevation) -> None:
    plan = plan_night(outing, elevation)
    one = plan_season(outing, nights=1, elevation=elevation)
    (window,) = one.nights[0].windows
    assert abs((window.start - plan.dark[0].start).total_seconds()) < 1.0
    assert abs((window.end - plan.dark[0].end).total_seconds()) < 1.0


def test_spans_to_draw_are_those_of_sun_and_moon(season: Season) -> None:
    from backbearing.sky.earth import sites

    site = sites(lat=season.lat, lon=season.lon, height_m=season.height_m)
    for night in season.nights[:10]:
        (dark,) = night.dark
        ends = np.array(
            [t.replace(tzinfo=None) for t in (dark.start, dark.end)], dtype="datetime64[us]"
        )
        assert sun_altitude_deg(site, ends) == pytest.approx(-18.0, abs=1e-4)
        assert night.sunless[0].start < dark.start < dark.end < night.sunless[0].end
        for clear in night.clear:
            assert night.sunless[0].start <= clear.start < clear.end <= night.sunless[0].end


def test_only_the_moon_spoils_a_moonlit_stretch(season: Season) -> None:
    moonlit = [s for n in season.nights for s in n.moonlit]
    assert any(s.moon_welcome for s in moonlit)
    for stretch in moonlit:
        assert stretch.moon_adds_mag > 0.0
        assert ("light" in stretch.moon_light_from) == (
            stretch.moon_over_ridge_deg > -0.26 and stretch.moon_altitude_deg > -0.26
        )
    assert all(s.moon_adds_mag < 0.01 for n in season.nights for s in n.windows)


def test_a_moon_behind_the_ridge_lights_no_subject(season: Season, elevation: Elevation) -> None:
    moonlit = [s for n in season.nights for s in n.moonlit]
    behind = [s for s in moonlit if s.moon_light_from == "behind the ridge"]
    assert behind
    for stretch in behind:
        middle = stretch.start + (stretch.end - stretch.start) / 2
        azimuth, altitude = direction(
            Target.body("moon"), lat=season.lat, lon=season.lon, height_m=season.height_m,
            times=middle,
        )  # fmt: skip
        ray = elevation.horizon(
            lat=season.lat, lon=season.lon, eye_height_m=season.eye_height_m,
            azimuths_deg=[float(azimuth)],
        )  # fmt: skip
        assert float(altitude) > -0.26
        assert float(altitude) + 0.26 <= float(ray.altitudes_deg[0]) + 0.3
        assert stretch.face_lux == stretch.ground_lux == 0.0
        assert not stretch.moon_welcome
        # Its light in the air still brightens the sky.
        assert stretch.moon_adds_mag > 0.0
    assert all(s.face_lux > 0.0 for s in moonlit if s not in behind)
    assert any("also while a ridge hides it" in note for note in season.notes)


def test_a_night_without_darkness_says_what_twilight_leaves(outing: Outing) -> None:
    from rasterio.transform import from_origin

    from backbearing.sky.glow import twilight_brightening_mag
    from backbearing.terrain import Elevation

    plain = Elevation.from_array(
        np.full((120, 120), 100.0), from_origin(10.0, 55.1, 0.001, 0.001), "EPSG:4326"
    )
    north = replace(outing, subject=replace(outing.subject, lat=55.04, lon=10.06))
    found = plan_season(north, first_night=dt.date(2027, 6, 20), nights=2, elevation=plain)
    for night in found.nights:
        assert night.outcome == "no darkness"
        times = [
            span.start + (span.end - span.start) * i / 200
            for span in night.clear
            for i in range(201)
        ]
        glow = twilight_brightening_mag(
            CORE, lat=found.lat, lon=found.lon, height_m=found.height_m, times=times
        )
        assert night.glow_least_mag == pytest.approx(np.nanmin(glow), abs=0.05)
        assert f"by {night.glow_least_mag:.1f} mag" in night.why_not
    dark = plan_season(outing, first_night=dt.date(2027, 6, 20), nights=1)
    assert 0.0 <= dark.nights[0].glow_least_mag < 0.02
    assert "twilight" not in dark.nights[0].why_not


def test_a_brightness_that_is_accepted_opens_more(outing: Outing, elevation: Elevation) -> None:
    mild = replace(outing, night=replace(outing.night, moon_adds_mag=0.3))
    strict = plan_season(outing, first_night=FIRST, nights=20, elevation=elevation)
    opened = plan_season(mild, first_night=FIRST, nights=20, elevation=elevation)
    assert sum(n.window_minutes for n in opened.nights) > 30.0 + sum(
        n.window_minutes for n in strict.nights
    )
    assert max(s.moon_adds_mag for n in opened.nights for s in n.windows) == pytest.approx(
        0.3, abs=0.01
    )


def test_from_a_stand_crossings_come_with_the_nights(outing: Outing, elevation: Elevation) -> None:
    found = plan_season(
        outing, first_night=FIRST, nights=15, stand_lat=36.37272, stand_lon=-84.36024,
        elevation=elevation,
    )  # fmt: skip
    assert found.seen_from == "the stand"
    assert len(found.crossings) == 15
    assert found.found == any(one.usable for one in found.crossings)
    for one in found.crossings:
        night = next(n for n in found.nights if n.evening == one.evening)
        inside = any(w.start <= one.time <= w.end for w in night.windows)
        assert one.usable == inside
        assert [frame.lens for frame in one.frames] == ["15 mm", "21 mm", "35 mm", "48 mm"]


def test_the_far_north_has_outcomes_and_not_errors(outing: Outing) -> None:
    from rasterio.transform import from_origin

    from backbearing.terrain import Elevation

    plain = Elevation.from_array(
        np.full((200, 200), 300.0), from_origin(20.0, 70.0, 0.001, 0.001), "EPSG:4326"
    )
    north = replace(outing, subject=replace(outing.subject, lat=69.9, lon=20.1))
    found = plan_season(north, first_night=dt.date(2027, 1, 1), nights=365, elevation=plain)
    assert {n.outcome for n in found.nights} == {"never so high", "no darkness"}
    assert "never rises here" in found.nights[0].why_not
    june = found.nights[170]
    assert june.outcome == "no darkness"
    assert june.events.sunset.kind == "always above"
    assert june.sunless == june.dark == ()
    assert found.nights[355].events.sunset.kind == "always below"


def test_high_latitude_without_a_raster_is_an_outcome_too() -> None:
    from backbearing.sky import dark_windows

    found = dark_windows(lat=65.0, lon=-84.0, first_night=dt.date(2027, 6, 10), nights=12, tz="UTC")
    assert found == []
    assert set(found.outcomes.values()) == {"no darkness"}
    winter = dark_windows(lat=65.0, lon=-84.0, first_night=dt.date(2027, 12, 1), nights=2, tz="UTC")
    assert set(winter.outcomes.values()) == {"never so high"}


@pytest.mark.parametrize(
    "target",
    [
        Target.body("jupiter"),
        Target.body("moon"),
        Target.star("Polaris"),
        Target.galactic(l_deg=0.0, b_deg=90.0),
    ],
)
def test_any_target_will_do(outing: Outing, elevation: Elevation, target: Target) -> None:
    """Also a skyline margin below the horizontal, where no brightness of the sky is given."""
    night = replace(outing.night, clear_by_deg=-4.0, moon="any")
    found = plan_season(
        replace(outing, target=target, night=night), first_night=FIRST, nights=20,
        stand_lat=36.37272, stand_lon=-84.36024, elevation=elevation,
    )  # fmt: skip
    stretches = [s for n in found.nights for s in n.windows]
    assert stretches
    leaning = {np.isfinite(s.lean_middle_deg) for s in stretches}
    assert leaning == {target.name == "Polaris"}


def test_spans_too_long_or_outside_the_ephemeris_are_refused(
    outing: Outing, elevation: Elevation
) -> None:
    with pytest.raises(SkyError, match="1 to 732"):
        plan_season(outing, nights=800, elevation=elevation)
    with pytest.raises(SkyError, match="outside the ephemeris"):
        plan_season(outing, first_night=dt.date(2060, 1, 1), nights=3, elevation=elevation)


def test_the_future_is_said_with_its_size(outing: Outing, elevation: Elevation) -> None:
    found = plan_season(outing, first_night=dt.date(2040, 6, 1), nights=2, elevation=elevation)
    said = " ".join(found.notes)
    for words in ("UT1", "arcseconds", "leap second", "tzdata"):
        assert words in said


def test_the_dates_that_an_error_names_do_work(outing: Outing, elevation: Elevation) -> None:
    with pytest.raises(SkyError, match="outside the ephemeris") as caught:
        plan_season(outing, first_night=dt.date(2060, 1, 1), elevation=elevation)
    for key in ("first", "last"):
        day = dt.date.fromisoformat(caught.value.facts[key])
        assert plan_season(outing, first_night=day, nights=1, elevation=elevation).nights


def test_a_target_that_turns_back_before_the_subject_is_listed(
    outing: Outing, elevation: Elevation
) -> None:
    polaris = replace(outing, target=Target.star("Polaris"))
    found = plan_season(
        polaris, nights=3, stand_lat=36.3716, stand_lon=-84.36023, elevation=elevation
    )
    assert found.crossings == ()
    assert "only swings between" in found.crossings_note
    assert len(found.near) == 3
    for near in found.near:
        middle = near.start + (near.end - near.start) / 2
        azimuth, _ = direction(
            polaris.target, lat=found.lat, lon=found.lon, height_m=found.height_m, times=middle
        )
        off = (float(azimuth) - found.bearing_deg + 180.0) % 360.0 - 180.0
        assert abs(off) < found.within_deg
