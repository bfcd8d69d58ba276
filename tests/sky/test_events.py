from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.sky.earth import sites
from backbearing.sky.events import Toggles, toggles
from backbearing.sky.grids import EvenGrid
from backbearing.sky.nights import moon_limb_deg, sun_altitude_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.sky.events import Margin, When

START = np.datetime64("2027-06-12T00:00", "us")
GRID = EvenGrid.covering(START, START + np.timedelta64(2, "D"), 900)


def on_seconds(f: object) -> Margin:
    def margin(when: When) -> NDArray[np.float64]:
        utc = when.utc if isinstance(when, EvenGrid) else when
        seconds = (utc - START) / np.timedelta64(1, "s")
        return np.asarray(f(seconds), dtype=np.float64)  # type: ignore[operator]

    return margin


def seconds(found: Toggles) -> NDArray[np.float64]:
    return np.asarray((found.utc - START) / np.timedelta64(1, "s"))


def test_roots_to_a_millisecond() -> None:
    found = toggles(on_seconds(lambda s: np.sin(2 * np.pi * (s - 5000.0) / 86_164.0)), GRID)
    expected = 5000.0 + 43_082.0 * np.arange(4)
    np.testing.assert_allclose(seconds(found), expected, atol=1e-3)
    assert not found.holds_at_start
    assert found.begins().tolist() == [True, False, True, False]


def test_a_graze_between_samples_is_seen() -> None:
    # Tops out 5.6e-7 above zero for 21 s, 400 s after a sample.
    peak, half = 45_400.0, 10.5
    top = 1.0 - np.cos(2 * np.pi * half / 86_164.0)
    found = toggles(on_seconds(lambda s: np.cos(2 * np.pi * (s - peak) / 86_164.0) - 1 + top), GRID)
    near = seconds(found)[:2]
    np.testing.assert_allclose(near, [peak - half, peak + half], atol=0.05)


def test_near_misses_are_not_events() -> None:
    found = toggles(
        on_seconds(lambda s: np.cos(2 * np.pi * (s - 45_400.0) / 86_164.0) - 1.0000001), GRID
    )
    assert found.utc.size == 0
    assert not found.holds_at_start


def test_unknown_counts_as_not_holding() -> None:
    found = toggles(on_seconds(lambda s: np.where(s < 50_000.0, np.nan, 1.0)), GRID)
    np.testing.assert_allclose(seconds(found), [50_000.0], atol=0.001)
    assert not found.holds_at_start


def test_state_at_and_between_instants() -> None:
    change = START + np.array([10, 20, 30]) * np.timedelta64(1, "h")
    found = Toggles(change, True)
    when = START + np.array([0, 10, 15, 25, 35]) * np.timedelta64(1, "h")
    assert found.holds(when).tolist() == [True, False, False, True, False]
    state, inside, begins = found.between(when[2], when[4])
    assert (state, inside.tolist(), begins.tolist()) == (False, change[1:].tolist(), [True, False])


def test_grids_of_neighbouring_zones_are_the_same() -> None:
    east = EvenGrid.covering(START + np.timedelta64(16, "h"), START + np.timedelta64(40, "h"), 900)
    west = EvenGrid.covering(START + np.timedelta64(19, "h"), START + np.timedelta64(43, "h"), 900)
    assert east == west
    assert east.utc[0] == START - 3 * np.timedelta64(900, "s")
    assert east.utc[-1] == START + np.timedelta64(48 * 60 + 45, "m")


def test_roots_by_interpolation_are_those_of_the_slow_rule() -> None:
    """On an even grid brackets are closed by six samples and one look; elsewhere by Ridders."""
    grid = EvenGrid.covering(np.datetime64("2027-01-01"), np.datetime64("2027-12-31"), 900)
    site = sites(lat=51.5, lon=0.1, height_m=30.0)

    def sun(when: When) -> NDArray[np.float64]:
        return sun_altitude_deg(site, when) + 18.0

    def moon(when: When) -> NDArray[np.float64]:
        return moon_limb_deg(site, when) + 34.0 / 60.0

    def kinked(when: When) -> NDArray[np.float64]:
        """A corner that no polynomial follows: the slower rule must take over."""
        return np.maximum(moon(when) - 5.0, 40.0 * (moon(when) - 4.9))

    for margin in (sun, moon, kinked):
        quick, slow = toggles(margin, grid), toggles(margin, grid.utc)
        assert quick.utc.size == slow.utc.size > 500
        assert quick.holds_at_start == slow.holds_at_start
        assert np.abs((quick.utc - slow.utc).astype(np.int64)).max() < 5_000
