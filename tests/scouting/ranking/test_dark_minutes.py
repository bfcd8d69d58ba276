"""Dark minutes: the counting, the dark times, and the plan's own stretches."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.alignment import Subject, plan_night
from backbearing.scouting.ranking._minute_kernels import spell_about, tally
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.dark_minutes import dark_stretches, good_part
from backbearing.scouting.ranking.dark_times import cell_of, dark_times, night_clock
from backbearing.scouting.ranking.hour_angle_grid import NODES, directions_at
from backbearing.scouting.ranking.task import task_of
from backbearing.sky import CORE, dark_windows, direction

FINE = 200


def test_good_parts_between_nodes() -> None:
    margin = np.full(NODES, np.nan)
    margin[:6] = [1.0, 1.0, -1.0, -3.0, 1.0, np.nan]
    low, high = good_part(margin)
    assert (low[0], high[0]) == (0.0, 1.0)
    assert (low[1], high[1]) == (0.0, 0.5)
    assert low[2] >= high[2]
    assert (low[3], high[3]) == (0.75, 1.0)
    assert (low[4], high[4]) == (0.0, 0.5)
    assert low[5] >= high[5]
    assert (low[-1], high[-1]) == (0.5, 1.0)


def test_two_margins_must_both_hold() -> None:
    one, two = np.full(NODES, -1.0), np.full(NODES, -1.0)
    one[:2], two[:2] = [1.0, -1.0], [-1.0, 3.0]
    low, high = good_part(one, two)
    assert (low[0], high[0]) == (0.25, 0.5)


@settings(max_examples=40)
@given(st.integers(0, 10_000))
def test_counting_agrees_with_fine_steps(seed: int) -> None:
    rng = np.random.default_rng(seed)
    margin = np.cumsum(rng.normal(size=NODES)) * 0.3 + rng.normal()
    margin[rng.random(NODES) < 0.1] = np.nan
    low, high = good_part(margin)
    worth = rng.random((1, 1, NODES))
    start = rng.uniform(0.0, NODES, 3)
    end = start + rng.uniform(0.1, 150.0, 3)
    minutes = np.zeros((1, 3, 1), dtype=np.float32)
    best, fit = np.empty((1, 1, 4)), np.empty((1, 1))
    tally(
        low[None, None], high[None, None], worth, worth, np.array([0, 3]),
        np.arange(3, dtype=np.int32), start, end, 1.0, 60.0, 4.0, minutes, best, fit,
    )  # fmt: skip
    for night in range(3):
        steps = int((end[night] - start[night]) * FINE)
        at = start[night] + (np.arange(steps) + 0.5) * (end[night] - start[night]) / steps
        node = np.floor(at).astype(int)
        part = at - node
        good = (part > low[node % NODES]) & (part < high[node % NODES])
        plain = good.mean() * (end[night] - start[night])
        assert minutes[0, night, 0] == pytest.approx(plain, abs=0.3)
    if best[0, 0, 0] >= 0.0:
        stretch, where = int(best[0, 0, 2]), best[0, 0, 3]
        assert start[stretch] <= where <= end[stretch]
        k = int(where) % NODES
        assert low[k] <= where - int(where) <= high[k]
        first, last = spell_about(low, high, where, start[stretch], end[stretch])
        assert start[stretch] <= first <= where <= last <= end[stretch]
    else:
        assert minutes.max() < 1e-6


def test_one_declination_serves_a_season(plain_outing) -> None:
    """Aberration and nutation move the core by some arcseconds, and the azimuth little more."""
    task = task_of(plain_outing, lat=36.3, lon=-84.3, nights=180)
    clock = night_clock(task)
    for night in (0, 89, 179):
        hours = np.arange(-11, 12)
        turn = clock.hour_angle_deg[night] - 84.3 + hours * 360.98564736 / 24.0
        azimuth, altitude = directions_at(
            hour_angle_deg=turn,
            dec_deg=clock.dec_deg,
            lat=np.array(36.3),
            height_m=np.array(400.0),
        )
        times = clock.utc[night] + hours * np.timedelta64(3600, "s")
        plain = direction(CORE, lat=36.3, lon=-84.3, height_m=400.0, times=times)
        up = plain[1] > -1.0
        assert np.abs((azimuth - plain[0] + 180.0) % 360.0 - 180.0)[up].max() < 0.01
        assert np.abs(altitude - plain[1])[up].max() < 0.01


@pytest.mark.parametrize("moon", ["down", "any", 0.3])
def test_dark_times_are_good_to_seconds(plain_outing, moon) -> None:
    outing = replace(plain_outing, night=replace(plain_outing.night, moon=moon))
    rng = np.random.default_rng(2)
    for lat, lon in zip(rng.uniform(20, 45, 4), rng.uniform(-110, -70, 4), strict=True):
        task = task_of(outing, lat=lat, lon=lon, nights=20)
        row, col = cell_of(lat=lat, lon=lon)
        found = dark_times(task, row=int(row), col=int(col))
        shift = (lon - found.lon) * 240.0
        windows = dark_windows(
            lat=lat, lon=lon, first_night=task.first_night, nights=20, tz=task.zone,
            moon=moon, min_altitude_deg=-90.0,
        )  # fmt: skip
        clock = night_clock(task)
        ends = []
        for window in windows:
            night = (window.evening - task.first_night).days
            middle = clock.utc[night].astype(dt.datetime).replace(tzinfo=dt.UTC)
            ends.append([(t - middle).total_seconds() for t in (window.start, window.end)])
        ours = np.stack([found.start_s, found.end_s], axis=1) - shift
        long = ours[:, 1] - ours[:, 0] > 60.0
        plain = np.array([e for e in ends if e[1] - e[0] > 60.0])
        assert ours[long].shape == plain.shape
        assert np.abs(ours[long] - plain).max() < 15.0


@pytest.mark.slow
def test_minutes_are_those_of_the_plan(plain_outing, elevation, make_candidates) -> None:
    """A ridge, a frame too small and dawn all end stretches here."""
    lat, lon = [36.3726, 36.31757], [-84.3602, -84.33123]
    candidates = make_candidates(lat, lon)
    task = task_of(plain_outing, lat=lat[0], lon=lon[0], nights=1)
    context = Context.of(task, candidates, elevation)
    from backbearing.scouting.ranking.chunk import rank_chunk

    found = rank_chunk(task, candidates.frame, context)
    spoilt = 0
    for i in range(2):
        subject = Subject(lat=lat[i], lon=lon[i], height_m=6.0, width_m=4.0)
        plan = plan_night(replace(plain_outing, subject=subject), elevation)
        for j, lens in enumerate(plan.lenses):
            plain = sum((s.end - s.start).total_seconds() / 60.0 for s in lens.usable)
            spoilt += plain < 340.0
            assert found.minutes[i, 0, j] == pytest.approx(plain, abs=4.0)
    assert spoilt >= 3


def test_stretches_of_a_polar_night_and_a_polar_summer(plain_outing) -> None:
    winter = task_of(
        replace(plain_outing, night=replace(plain_outing.night, moon="any", sun_below_deg=-12.0)),
        lat=80.0, lon=16.0, first_night=dt.date(2027, 12, 20), nights=2,
    )  # fmt: skip
    clock = night_clock(winter)
    found = dark_stretches(
        clock,
        lambda row, col: dark_times(winter, row=row, col=col),
        lat=np.array([80.0]),
        lon=np.array([16.0]),
    )
    assert (found.end - found.start).sum() == pytest.approx(2 * 361.0, abs=1.0)
    assert found.nodes_met().all()
    summer = replace(winter, first_night=dt.date(2027, 6, 10))
    row, col = cell_of(lat=70.0, lon=16.0)
    none = dark_times(summer, row=int(row), col=int(col))
    assert not len(none.night)
    assert not none.darkness


@pytest.mark.slow
@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:32755"])
def test_minutes_where_the_core_passes_near_the_zenith(
    crs: str, plain_outing, make_candidates
) -> None:
    """At 31 degrees south azimuths run away; hills to one side, on two reference systems."""
    from affine import Affine
    from pyproj import Transformer

    from backbearing.scouting.ranking.chunk import rank_chunk
    from backbearing.terrain import Elevation

    lat, lon = -31.0, 149.0
    steps = np.arange(121) - 60.0
    east, north = np.meshgrid(steps, -steps)
    heights = 400.0 + 6.0 * np.abs(east) + 3.0 * np.maximum(north, 0.0)
    if crs == "EPSG:4326":
        cell, x, y = 1.0 / 1200.0, lon, lat
    else:
        cell = 90.0
        x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    transform = Affine(cell, 0, x - 60.5 * cell, 0, -cell, y + 60.5 * cell)
    ground = Elevation.from_array(heights, transform, crs)
    outing = replace(
        plain_outing,
        night=replace(plain_outing.night, evening=dt.date(2027, 5, 5)),
        subject=Subject(lat=lat, lon=lon, height_m=6.0, width_m=4.0),
        camera=plain_outing.camera.held("portrait"),
    )
    candidates = make_candidates(lat, lon)
    task = task_of(outing, lat=lat, lon=lon, nights=1)
    context = Context.of(task, candidates, ground)
    found = rank_chunk(task, candidates.frame, context)
    plan = plan_night(outing, ground)
    spoilt = 0
    for j, lens in enumerate(plan.lenses):
        plain = sum((s.end - s.start).total_seconds() / 60.0 for s in lens.usable)
        spoilt += 10.0 < plain < 400.0
        assert found.minutes[0, 0, j] == pytest.approx(plain, abs=4.0)
    assert spoilt >= 2


@pytest.mark.parametrize(
    ("own", "land", "closed", "joined"),
    [
        ("unknown", "", False, "unknown"),
        ("unknown", "open", False, "open"),
        ("open", "ask first", False, "ask first"),
        ("ask first", "open", False, "ask first"),
        ("open", "unknown", False, "open"),
        ("open", "open", True, "closed"),
    ],
)
def test_the_graver_word_on_access_counts(own: str, land: str, closed: bool, joined: str) -> None:
    from backbearing.scouting.ranking.scoring import accesses

    assert accesses([own], [land], np.array([closed])) == [joined]
