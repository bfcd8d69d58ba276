"""The Moon and planets as scouting's target: against the plan, ERFA, and themselves in company."""

from __future__ import annotations

import datetime as dt
import warnings
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.base.angles import angle_between_deg
from backbearing.outing.subject import Subject
from backbearing.scouting.ranking.candidate_stands import CandidateGroup
from backbearing.scouting.ranking.chunk import rank_chunk
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.dark_times import cell_of, dark_times
from backbearing.scouting.ranking.moving_target import AT_ONCE, STEP_MINUTES, moving_sky
from backbearing.scouting.ranking.task import task_of
from backbearing.sky import dark_windows
from backbearing.sky.targets import Target

if TYPE_CHECKING:
    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.outing.request import Outing
    from backbearing.scouting.ranking.columns import ChunkResult
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.terrain import Elevation

FIRST, NIGHTS = dt.date(2027, 5, 14), 9


@pytest.fixture(scope="module")
def moonlit(plain_outing: Outing) -> Outing:
    """The sample's kit under the Moon; "down", as the file has it, is no limit to it."""
    assert plain_outing.night.moon == "down"
    return replace(plain_outing, target=Target.body("moon"))


@pytest.fixture(scope="module")
def some(make_candidates: Any) -> Candidates:
    lat = 36.3025 + np.array([0.0, 0.021, -0.013, 0.034, 0.008])
    lon = -84.18 + np.array([0.0, -0.06, 0.05, 0.02, -0.12])
    return make_candidates(lat, lon, height_m=np.array([6.0, 9.0, 7.5, 12.0, 5.0]))


@pytest.fixture(scope="module")
def context(moonlit: Outing, some: Candidates, elevation: Elevation) -> Context:
    task = task_of(moonlit, lat=36.3, lon=-84.2, first_night=FIRST, nights=NIGHTS)
    return Context.of(task, some, elevation)


@pytest.fixture(scope="module")
def ranked(context: Context, some: Candidates) -> ChunkResult:
    return rank_chunk(context.task, some.frame, context)


def at_candidate(outing: Outing, some: Candidates, i: int, evening: dt.date, over) -> PreparedNight:  # type: ignore[no-untyped-def]
    row = some.frame.iloc[i]
    subject = Subject(
        lat=row.geometry.y, lon=row.geometry.x, height_m=row["height_m"], width_m=row["width_m"]
    )
    night = replace(outing.night, evening=evening)
    return prepare_night(replace(outing, subject=subject, night=night), over)


def test_minutes_and_the_best_stand_are_the_plans_own(
    moonlit: Outing, some: Candidates, context: Context, ranked: ChunkResult
) -> None:
    off = []
    for i in range(2):
        for k in range(0, NIGHTS, 2):
            evening = FIRST + dt.timedelta(days=k)
            night = at_candidate(moonlit, some, i, evening, context.elevation)
            off += [
                abs(int(ranked.minutes[i, k, lens]) - sum(span.minutes for span in arc.usable))
                for lens, arc in enumerate(night.arcs())
            ]
        best = {
            name: ranked.columns[name][i]
            for name in ("best_night", "best_time", "best_lens_mm", "distance_m", "stand_lat",
                         "stand_lon", "target_altitude_deg", "clearance_deg")
        }  # fmt: skip
        night = at_candidate(
            moonlit, some, i, dt.date.fromisoformat(best["best_night"]), context.elevation
        )
        lens = [one.lens.focal_length_mm for one in moonlit.lenses].index(best["best_lens_mm"])
        minute = dt.datetime.fromisoformat(best["best_time"])
        stand = night.stands_at(minute)[lens]
        assert stand is not None
        # The minute is shown to the second; the Moon's azimuth turns 0.01 degree in two.
        assert best["distance_m"] == pytest.approx(stand.distance_m, abs=0.05)
        assert best["stand_lat"] == pytest.approx(stand.lat, abs=1e-6)
        assert best["stand_lon"] == pytest.approx(stand.lon, abs=1e-6)
        assert best["target_altitude_deg"] == pytest.approx(stand.target_altitude_deg, abs=0.01)
        assert best["clearance_deg"] == pytest.approx(stand.clearance_deg, abs=0.02)
        assert night.points_at(minute)[lens].limits == ()
    assert ranked.minutes[:2].sum() > 1000
    assert np.mean(off) < 0.5
    assert max(off) < STEP_MINUTES


def test_directions_against_erfa_with_parallax(context: Context, some: Candidates) -> None:
    """astropy's AltAz of ERFA's own Moon (moon98, after Meeus), not of DE421: 0.02 degree.

    The Moon's parallax is a degree, so that the Earth's centre will not do.
    """
    from astropy import units as u
    from astropy.coordinates import AltAz, EarthLocation, get_body
    from astropy.time import Time
    from astropy.utils import iers

    group = group_of(context, some)
    sky = moving_sky(context, group)
    pick = np.arange(0, len(sky.sight.node), max(1, len(sky.sight.node) // 60))
    at = sky.sight.where(np.isin(np.arange(len(sky.sight.node)), pick))
    times = moments(context, sky, at)
    with (
        warnings.catch_warnings(),
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        iers.conf.set_temp("iers_degraded_accuracy", "ignore"),
    ):
        warnings.simplefilter("ignore")  # dates beyond the IERS table
        t = Time(np.datetime_as_string(times), scale="utc")
        site = EarthLocation.from_geodetic(
            group.lon[at.candidate] * u.deg, group.lat[at.candidate] * u.deg,
            group.ground_m[at.candidate] * u.m,
        )  # fmt: skip
        air = {"pressure": 1013.25 * u.hPa, "temperature": 15.0 * u.deg_C, "obswl": 0.55 * u.um}
        there = get_body("moon", t, site, ephemeris="builtin").transform_to(
            AltAz(obstime=t, location=site, relative_humidity=0.0, **air)
        )
    # Its refraction is another formula, meant for above some 10 degrees.
    high = at.altitude_deg > 12.0
    assert high.sum() > 20
    apart = angle_between_deg(
        lon1_deg=at.azimuth_deg[high], lat1_deg=at.altitude_deg[high],
        lon2_deg=there.az.deg[high], lat2_deg=there.alt.deg[high],
    )  # fmt: skip
    assert apart.max() < 0.02


def group_of(context: Context, some: Candidates) -> CandidateGroup:
    lat, lon = np.asarray(some.frame.geometry.y), np.asarray(some.frame.geometry.x)
    return CandidateGroup(
        lat=lat, lon=lon,
        height_m=np.asarray(some.frame["height_m"]), width_m=np.asarray(some.frame["width_m"]),
        ground_m=np.asarray(context.elevation.height_at(lat=lat, lon=lon)),
        window=None,  # type: ignore[arg-type]  # the sky asks for no ground
    )  # fmt: skip


def moments(context: Context, sky: Any, at: Any) -> np.ndarray:
    """When the lookings are, from the stretches they lie next to."""
    stretches = sky.stretches
    found = []
    for candidate, node in zip(at.candidate.tolist(), at.node.tolist(), strict=True):
        mine = np.arange(stretches.first[candidate], stretches.first[candidate + 1])
        inside = mine[(stretches.start[mine] - 1.5 < node) & (node < stretches.end[mine] + 1.5)]
        found.append(stretches.instants(context.clock, inside[:1], np.array([float(node)]))[0])
    return np.array(found)


def test_a_candidates_numbers_do_not_hang_on_its_company(
    context: Context, some: Candidates, ranked: ChunkResult
) -> None:
    alone = rank_chunk(context.task, some.frame.iloc[2:3], context)
    assert np.array_equal(alone.minutes[0], ranked.minutes[2])
    for name, values in alone.columns.items():
        mine, theirs = values[0], ranked.columns[name][2]
        both_unknown = mine != mine and theirs != theirs  # noqa: PLR0124
        assert mine == theirs or both_unknown, name
    assert len(some.frame) < AT_ONCE


def test_the_moon_as_target_does_not_spoil_its_own_night(moonlit: Outing) -> None:
    asked = {"lat": 36.3, "lon": -84.18, "first_night": dt.date(2027, 5, 18), "nights": 3}
    down = dark_windows(**asked, target=moonlit.target, moon="down")
    either = dark_windows(**asked, target=moonlit.target, moon="any")
    assert [(w.start, w.end) for w in down] == [(w.start, w.end) for w in either]
    assert sum(w.minutes for w in down) > 600.0
    # How much of it may be lit still counts: full on the 20th.
    assert not dark_windows(**asked, target=moonlit.target, moon=0.3)


def test_a_planet_waits_for_the_moon_to_be_down(
    plain_outing: Outing, some: Candidates, elevation: Elevation
) -> None:
    planet = replace(plain_outing, target=Target.body("jupiter"))
    task = task_of(planet, lat=36.3, lon=-84.2, first_night=dt.date(2027, 2, 20), nights=4)
    context = Context.of(task, some, elevation)
    ranked = rank_chunk(task, some.frame.iloc[:1], context)
    # Full on 20 February: the first nights have no moonless dark at all.
    row, col = cell_of(lat=some.frame.geometry.y.iloc[0], lon=some.frame.geometry.x.iloc[0])
    dark = dark_times(task, row=int(row), col=int(col))
    assert len(set(dark.night.tolist())) < 4
    assert set(np.flatnonzero(ranked.minutes[0].sum(axis=1))) <= set(dark.night.tolist())
    assert "Jupiter" in ranked.columns["failure"][0] + ranked.columns["reasons"][0]
