from __future__ import annotations

import re
from datetime import UTC, date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.base.errors import SkyError
from backbearing.sky import CORE, Target, dark_windows, direction
from backbearing.sky.nights import (
    moon_limb_deg,
    moon_lit_fraction,
    span_of_nights,
    sun_altitude_deg,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

VALLEY: dict[str, Any] = {"lat": 36.3, "lon": -84.2, "height_m": 400.0}


class Ridge:
    """A made-up skyline: flat, with one tooth that hides the core, and an unknown stretch."""

    def __init__(self, level: float, tooth: tuple[float, float] = (0, 0), unknown: float = 400.0):
        self.level, self.tooth, self.unknown = level, tooth, unknown

    def altitude_at(self, azimuth_deg: ArrayLike) -> NDArray[np.float64]:
        az = np.asarray(azimuth_deg, dtype=float)
        high = (az > self.tooth[0]) & (az < self.tooth[1])
        return np.where(az > self.unknown, np.nan, np.where(high, 60.0, self.level))


def test_windows_obey_every_condition_minute_by_minute() -> None:
    first, nights = date(2027, 5, 25), 40
    found = dark_windows(**VALLEY, first_night=first, nights=nights, min_altitude_deg=10.0)
    span = span_of_nights(**VALLEY, first_night=first, nights=nights, tz=None)
    minute = span.noons[0] + np.arange(nights * 1440) * np.timedelta64(60, "s")
    good = (
        (sun_altitude_deg(span.site, minute) < -18.0)
        & (moon_limb_deg(span.site, minute) < -34.0 / 60.0)
        & (direction(CORE, **VALLEY, times=minute)[1] > 10.0)
    )
    inside = np.zeros(minute.size, dtype=bool)
    for w in found:
        start, end = (np.datetime64(int(t.timestamp()), "s") for t in (w.start, w.end))
        inside |= (minute >= start) & (minute <= end)
    assert (good != inside).sum() <= 2 * len(found)  # a minute at each end may fall either way
    assert good.sum() > 3000


def test_every_night_has_windows_or_a_reason() -> None:
    first = date(2027, 1, 1)
    found = dark_windows(**VALLEY, first_night=first, nights=365)
    have = {w.evening for w in found}
    every = {first + timedelta(days=i) for i in range(365)}
    assert have | set(found.reasons) == every
    assert not have & set(found.reasons)
    assert all(s.endswith(".") for s in found.reasons.values())
    assert all(w.start < w.end and w.minutes > 0 for w in found)
    assert all(str(w.start.tzinfo) == "America/New_York" for w in found)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"lat": 65.0, "lon": 15.0, "first_night": date(2027, 3, 20)}, "never climbs to 0° here"),
        ({"lat": 55.0, "lon": 15.0, "first_night": date(2027, 6, 12)}, "No astronomical darkness"),
        ({"lat": 78.0, "lon": 15.0, "first_night": date(2027, 6, 12)}, "goes no lower than 11"),
        ({"first_night": date(2027, 12, 12)}, "stays below the horizon all the dark time"),
        ({"first_night": date(2027, 6, 17)}, "The Moon is up all the dark time"),
        ({"first_night": date(2027, 9, 8)}, "above the horizon only while the Moon is up"),
        (
            {"first_night": date(2027, 6, 5), "horizon": Ridge(40.0)},
            "stays below the skyline all the dark time",
        ),
        (
            {"first_night": date(2027, 6, 5), "horizon": Ridge(0.0, unknown=-1.0)},
            "in the dark time is not known",
        ),
        (
            {"first_night": date(2027, 6, 12), "lat": 55.0, "sun_below_deg": -15.0},
            "No darkness as asked",
        ),
    ],
)
def test_empty_nights_say_why(change: dict[str, Any], says: str) -> None:
    found = dark_windows(**{**VALLEY, **change})
    assert found == []
    (sentence,) = found.reasons.values()
    assert re.search(says, sentence)


def test_moon_settings_widen_the_window() -> None:
    night = {"first_night": date(2027, 6, 10), "nights": 6}
    total = {
        moon: sum(w.minutes for w in dark_windows(**VALLEY, **night, moon=moon))
        for moon in ("down", 0.5, 1.0, "any")
    }
    assert total["down"] < total[0.5] < total[1.0]
    assert total[1.0] == pytest.approx(total["any"], abs=0.01)


def test_a_dim_moon_is_allowed_up_to_the_asked_light() -> None:
    found = dark_windows(**VALLEY, first_night=date(2027, 6, 5), nights=15, moon=0.5)
    span = span_of_nights(**VALLEY, first_night=date(2027, 6, 5), nights=15, tz=None)
    for w in found:
        minutes = np.datetime64(int(w.start.timestamp()) + 2, "s") + np.arange(
            0, int(w.minutes * 60) - 4, 60
        ) * np.timedelta64(1, "s")
        utc = minutes.astype("datetime64[us]")
        up = moon_limb_deg(span.site, utc) > -34.0 / 60.0
        assert (moon_lit_fraction(utc)[up] <= 0.5 + 1e-6).all()


def test_a_tooth_of_the_skyline_splits_the_window() -> None:
    free = dark_windows(**VALLEY, first_night=date(2027, 6, 5), horizon=Ridge(2.0))
    split = dark_windows(**VALLEY, first_night=date(2027, 6, 5), horizon=Ridge(2.0, (170.0, 185.0)))
    assert len(free) == 1
    assert len(split) == 2
    az, _ = direction(CORE, **VALLEY, times=[split[0].end, split[1].start])
    np.testing.assert_allclose(az, [170.0, 185.0], atol=0.01)


def test_unknown_skyline_is_left_out_and_said() -> None:
    found = dark_windows(**VALLEY, first_night=date(2027, 6, 5), horizon=Ridge(2.0, unknown=180.0))
    (only,) = found
    az, _ = direction(CORE, **VALLEY, times=only.end)
    assert float(az) == pytest.approx(180.0, abs=0.01)
    assert "not known for part of the dark time" in found.notes[date(2027, 6, 5)]


def test_other_targets() -> None:
    pole = Target.radec(ra_deg=0.0, dec_deg=89.0)
    down = dark_windows(**VALLEY, first_night=date(2027, 6, 5), target=pole)
    free = dark_windows(**VALLEY, first_night=date(2027, 6, 5), target=pole, min_altitude_deg=30.0)
    assert [w.start for w in down] == [w.start for w in free]
    moon = dark_windows(
        **VALLEY, first_night=date(2027, 6, 15), target=Target.body("moon"), moon="any"
    )
    assert len(moon) == 1


@pytest.mark.parametrize("moon", ["up", 1.5, -0.1, float("nan")])
def test_moon_that_is_not_understood(moon: Any) -> None:
    with pytest.raises(SkyError, match='write "down", "any" or a lit fraction'):
        dark_windows(**VALLEY, first_night=date(2027, 6, 5), moon=moon)


def test_wall_clock_through_the_end_of_daylight_saving() -> None:
    (only,) = dark_windows(
        **VALLEY, first_night=date(2027, 11, 6), target=Target.galactic(l_deg=120.0, b_deg=0.0)
    )
    assert only.start.utcoffset() == timedelta(hours=-4)
    assert only.end.utcoffset() == timedelta(hours=-5)
    utc = only.end.astimezone(UTC) - only.start.astimezone(UTC)
    assert only.minutes == pytest.approx(utc.total_seconds() / 60.0, abs=1e-6)


def test_a_target_low_over_falling_land_does_not_make_the_moon_harmless() -> None:
    # Full Moon of 20 April 2027: the core rises in the dark, over land that lies 4 degrees low.
    asked: dict[str, Any] = {
        **VALLEY, "first_night": date(2027, 4, 20), "horizon": Ridge(-4.0), "min_altitude_deg": 1.0,
    }  # fmt: skip
    (any_moon,) = dark_windows(**asked, moon="any")
    assert direction(CORE, **VALLEY, times=any_moon.start)[1] < -2.9
    assert list(dark_windows(**asked, moon_adds_mag=0.2)) == []
    (mild,) = dark_windows(**asked, moon_adds_mag=9.0)
    assert (mild.start, mild.end) == (any_moon.start, any_moon.end)


def test_a_target_on_the_moons_disc_is_not_in_the_dark() -> None:
    # The Moon passes over Antares on 4 May 2026, seen from 35 S 70 W.
    place: dict[str, Any] = {"lat": -35.0, "lon": -70.0, "height_m": 500.0}
    found = dark_windows(
        **place, first_night=date(2026, 5, 3), target=Target.star("Antares"), moon_adds_mag=1.0
    )
    assert list(found) == []
    assert "The Moon is up" in found.reasons[date(2026, 5, 3)]


@pytest.mark.parametrize("asked", [{"moon_adds_mag": 0.2}, {"moon": "down"}])
def test_the_moon_as_the_target_is_never_in_its_own_way(asked: dict[str, Any]) -> None:
    night: dict[str, Any] = {
        **VALLEY, "first_night": date(2027, 6, 16), "target": Target.body("moon"),
    }  # fmt: skip
    (found,) = dark_windows(**night, **asked)
    (whole,) = dark_windows(**night, moon="any")
    assert (found.start, found.end) == (whole.start, whole.end)
    # The core has no such night: the Moon is up and bright from dusk on.
    assert list(dark_windows(**{**night, "target": CORE}, **asked)) == []
