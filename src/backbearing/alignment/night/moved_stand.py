"""A stand whose best place is on closed ground: the nearest allowed minute, and what it costs."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.night.from_outing import AskedMinute
from backbearing.base.geodesy import line_between
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.land.closed_ground import closed_by, on_closed_ground
from backbearing.plan.stand import Moved

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.plan.place import Place
    from backbearing.plan.stand import LensPlan, Stand


def off_closed_ground(
    night: LensPlan,
    places: Sequence[Place],
    sky: NightSky,
    settled_at: Callable[[AskedMinute], LensPlan],
) -> LensPlan:
    """Move a lens's stand along its arc to the nearest usable minute off closed ground.

    An asked minute is kept: its stand carries the caution. Where no usable minute is off
    closed ground the stand stays too.

    Parameters
    ----------
    night : LensPlan
        The lens with its own best minute.
    places : sequence of Place
    sky : NightSky
    settled_at : callable
        The same lens settled at another minute.
    """
    stand = night.stand
    if stand is None or night.asked_at:
        return night
    name = closed_by(places, lat=stand.lat, lon=stand.lon)
    if not name:
        return night
    free = [
        point
        for point in night.arc
        if point.usable and not bool(on_closed_ground(places, lat=point.lat, lon=point.lon))
    ]
    if not free:
        said = f"Every usable minute has its stand on {name}, which bars it."
        return replace(
            night,
            sentence=f"{night.sentence} {said}",
            stand=replace(stand, cautions=(said, *stand.cautions)),
        )
    nearest = min(free, key=lambda point: abs(point.time - stand.time))
    again = settled_at(AskedMinute(sky.clock(nearest.time), nearest.time))
    if again.stand is None:
        return night
    moved = _moved(name, _end_of(stand), _end_of(again.stand), sky)
    return replace(again, asked_at=None, moved=moved, sentence=f"{night.sentence} {moved.sentence}")


class _End(NamedTuple):
    """One end of a move: when, where, and the target over the ridge there."""

    time: dt.datetime
    lat: float
    lon: float
    clearance_deg: float


def _end_of(stand: Stand) -> _End:
    return _End(stand.time, stand.lat, stand.lon, stand.clearance_deg)


def moved_from(
    starts: Starts, best: int, now: int, places: Sequence[Place], sky: NightSky
) -> Moved:
    """Say what a turn's move off closed ground costs, from one start to another."""
    at = starts.settled.places
    name = closed_by(places, lat=float(at.lat[best]), lon=float(at.lon[best]))
    middle, half = len(starts.azimuth_deg) // 2, dt.timedelta(minutes=starts.frames_minutes / 2.0)

    def end(i: int) -> _End:
        clearance = float(starts.clearance_deg[middle, i])
        return _End(starts.times[i] + half, float(at.lat[i]), float(at.lon[i]), clearance)

    return _moved(name, end(best), end(now), sky)


def _moved(name: str, best: _End, now: _End, sky: NightSky) -> Moved:
    metres = float(
        line_between(lat1=best.lat, lon1=best.lon, lat2=now.lat, lon2=now.lon).distance_m
    )
    minutes = (now.time - best.time).total_seconds() / 60.0
    change = now.clearance_deg - best.clearance_deg
    when = f"{num(abs(minutes), 0)} min {'later' if minutes > 0.0 else 'earlier'}"
    ridge = (
        f"; the target is then {num(abs(change), 1)}° "
        f"{'higher' if change > 0.0 else 'lower'} over the ridge"
        if np.isfinite(change)
        else ""
    )
    return Moved(
        by=name,
        best_time=best.time,
        best_lat=best.lat,
        best_lon=best.lon,
        minutes=minutes,
        metres=metres,
        clearance_change_deg=change,
        sentence=(
            f"Its best stand, at {sky.clock(best.time)}, lies on {name}, which bars it: moved "
            f"{when}, {length(metres)} along its arc{ridge}."
        ),
    )
