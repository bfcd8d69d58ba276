"""A stand whose best place is barred: the nearest allowed minute, and what it costs."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from backbearing.alignment.night.lens_arc import settle_lens
from backbearing.base.geodesy import line_between
from backbearing.base.text import length
from backbearing.land.closed_ground import barred, barred_by
from backbearing.plan.moved import Moved

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import LensRequest, Outing
    from backbearing.plan.place import Place
    from backbearing.plan.stand import LensPlan, Stand


def off_barred(
    night: LensPlan,
    scene: Scene,
    request: LensRequest,
    outing: Outing,
    sky: NightSky,
    zone: str,
    places: Sequence[Place],
) -> LensPlan:
    """Move a lens's stand along its arc to the nearest usable minute off barred ground.

    An asked minute is kept: its stand carries the caution. Where no usable minute is off
    barred ground the stand stays too.
    """
    stand = night.stand
    if stand is None or night.asked_at:
        return night
    name = barred_by(places, lat=stand.lat, lon=stand.lon)
    if not name:
        return night
    free = [
        point
        for point in night.arc
        if point.usable and not bool(barred(places, lat=point.lat, lon=point.lon))
    ]
    if not free:
        said = f"Every usable minute has its stand on {name}, which bars it."
        return replace(
            night,
            sentence=f"{night.sentence} {said}",
            stand=replace(stand, cautions=(said, *stand.cautions)),
        )
    nearest = min(free, key=lambda point: abs(point.time - stand.time))

    clock = f"{nearest.time.astimezone(ZoneInfo(zone)):%H:%M}"
    again = settle_lens(scene, request, outing, sky, at=clock, zone=zone)
    if again.stand is None:
        return night
    moved = _moved_stands(name, stand, again.stand, zone)
    return replace(again, asked_at=None, moved=moved, sentence=f"{night.sentence} {moved.sentence}")


def _moved_stands(name: str, best: Stand, now: Stand, zone: str) -> Moved:
    return _moved(
        name,
        (best.time, best.lat, best.lon, best.clearance_deg),
        (now.time, now.lat, now.lon, now.clearance_deg),
        zone,
    )


def moved_from(starts: Starts, best: int, now: int, places: Sequence[Place], zone: str) -> Moved:
    """Say what a turn's move off barred ground costs, from one start to another."""
    at = starts.settled.places
    name = barred_by(places, lat=float(at.lat[best]), lon=float(at.lon[best]))
    middle = len(starts.azimuth_deg) // 2

    def ends(i: int) -> tuple[dt.datetime, float, float, float]:
        half = (starts.frames_minutes / 2.0) * 60.0
        from datetime import timedelta

        time = starts.times[i] + timedelta(seconds=half)
        clearance = float(starts.clearance_deg[middle, i])
        return time, float(at.lat[i]), float(at.lon[i]), clearance

    return _moved(name, ends(best), ends(now), zone)


def _moved(
    name: str,
    best: tuple[dt.datetime, float, float, float],
    now: tuple[dt.datetime, float, float, float],
    zone: str,
) -> Moved:
    metres = float(line_between(lat1=best[1], lon1=best[2], lat2=now[1], lon2=now[2]).distance_m)
    minutes = (now[0] - best[0]).total_seconds() / 60.0
    change = now[3] - best[3]
    when = f"{abs(minutes):.0f} min {'later' if minutes > 0.0 else 'earlier'}"
    ridge = (
        f"; the target is then {abs(change):.1f}° "
        f"{'higher' if change > 0.0 else 'lower'} over the ridge"
        if np.isfinite(change)
        else ""
    )
    at = best[0].astimezone(ZoneInfo(zone))
    return Moved(
        by=name,
        best_time=best[0],
        best_lat=best[1],
        best_lon=best[2],
        minutes=minutes,
        metres=metres,
        clearance_change_deg=change,
        sentence=(
            f"Its best stand, at {at:%H:%M}, lies on {name}, which bars it: moved {when}, "
            f"{length(metres)} along its arc{ridge}."
        ),
    )
