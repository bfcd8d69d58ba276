"""The kit from one line: where and when most lenses work one after the other along it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.line_places import (
    LineTimes,
    OnLine,
    holds,
    on_line,
    shown,
    skylines_at,
)
from backbearing.alignment.session.turn_pictures import subject_in_frame, wanted_above_top_deg
from backbearing.alignment.stand.settled_stands import LensTimes, settle_all
from backbearing.base.angles import angle_between_deg, wrap_360_deg
from backbearing.base.numbers import num
from backbearing.plan.one_line import OneLine, OnTheLine
from backbearing.sky.instants import utc_array
from backbearing.sky.magnetic import magnetic_declination

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens

    Floats = NDArray[np.float64]
    Rows = NDArray[np.intp]

AT_ONCE: Final = 16
"""Minutes whose ridges are looked at together, those that may be the best first."""


@dataclass(frozen=True, slots=True)
class Found:
    """The best minute of the line for some lenses, given by their numbers.

    ``cost_m`` is what their pictures count and how far aside they stand, metres together.
    """

    cost_m: float
    row: int
    some: tuple[int, ...]
    line: tuple[OnLine, ...]
    at: LineTimes


def one_line(setup: SessionSetup) -> OneLine | None:
    """Find the line from which most lenses work in the shortest span; None for fewer than two.

    Of equals the one with the least of what the pictures lack, by the session's own weights,
    and of metres that the lenses stand aside of the lines of their own minutes; then the
    earliest. Exact on whole minutes of the line. Lenses come from the nearest stand outward,
    ``line_change_minutes`` apart.
    """
    if len(setup.tasks) < 2 or not setup.times:
        return None
    asked = [LensTimes(task.scene, task.lens, setup.times) for task in setup.tasks]
    settled = settle_all(asked, skyline=False)
    outward = _outward(settled)
    for count in range(len(outward), 1, -1):
        tried = sorted(
            combinations(outward, count), key=lambda some: _times(setup, some).span_minutes
        )
        best: Found | None = None
        for some in tried:
            if best is not None and _times(setup, some).span_minutes > best.at.span_minutes:
                break
            found = _best(setup, settled, some, np.inf if best is None else best.cost_m)
            if found is not None and (best is None or _key(found) < _key(best)):
                best = found
        if best is not None:
            return _told(setup, best)
    return None


def _key(found: Found) -> tuple[float, int]:
    return found.cost_m, found.row


def _outward(settled: Sequence[Settled]) -> list[int]:
    """Lenses that have stands, the nearest first."""
    known = [i for i, one in enumerate(settled) if np.isfinite(one.places.distance_m).any()]
    return sorted(known, key=lambda i: float(np.nanmedian(settled[i].places.distance_m)))


def _times(setup: SessionSetup, some: Sequence[int]) -> LineTimes:
    return LineTimes.of([setup.tasks[i] for i in some], setup.asked.picture.line_change_minutes)


def _best(
    setup: SessionSetup, settled: Sequence[Settled], some: Sequence[int], below_m: float
) -> Found | None:
    """The cheapest minute at which some lenses work from one line, if it is cheap enough.

    What needs no ridge bounds the cost from below: minutes are looked at in its order until
    no other can be cheaper.
    """
    at, times = _times(setup, some), utc_array(setup.times)
    line = tuple(on_line(setup.tasks[i], settled[i], times, at, k) for k, i in enumerate(some))
    rows = np.flatnonzero(holds(setup, line, at))
    least = _without_ridge_m(setup, line)[rows]
    order = rows[np.argsort(least, kind="stable")]
    least = np.sort(least, kind="stable")
    best: Found | None = None
    for first in range(0, len(order), AT_ONCE):
        if least[first] > min(below_m, np.inf if best is None else best.cost_m):
            break
        part = order[first : first + AT_ONCE]
        for row, cost in zip(part, _costs_m(setup, line, part), strict=True):
            if np.isfinite(cost) and (best is None or (cost, row) < _key(best)):
                best = Found(float(cost), int(row), tuple(some), line, at)
    return best


def _aside_m(line: Sequence[OnLine]) -> Floats:
    return np.asarray(sum(np.abs(one.aside_m) for one in line))


def _without_ridge_m(setup: SessionSetup, line: Sequence[OnLine]) -> Floats:
    """What no ridge changes of the cost: metres aside, and the target's height over the top."""
    wishes, total = setup.asked.picture, _aside_m(line)
    for one in line:
        at, frame = one.as_taken, subject_in_frame(one.settled)
        wanted = wanted_above_top_deg(one.task.scene, one.task.lens, frame, wishes)
        off = np.abs(at.target_altitude_deg - frame.top_altitude_deg - wanted)
        total += wishes.above_top_costs_m_per_deg * np.nan_to_num(off)
    return total


def _costs_m(setup: SessionSetup, line: Sequence[OnLine], rows: Rows) -> Floats:
    """What the line counts at some minutes, metres; infinite where a ridge is in the way."""
    clear_by, wishes = setup.sky.clear_by_deg, setup.asked.picture
    total = _aside_m(line)[rows]
    for picture in shown(setup, line, rows):
        clear = picture.least_clearance_deg >= clear_by
        total = np.where(clear, total + picture.cost_m(wishes, clear_by), np.inf)
    return total


def _told(setup: SessionSetup, found: Found) -> OneLine:
    """Put the best line into the plan's figures and words."""
    time = setup.times[found.row]
    places = found.line[0].settled.places
    bearing = float(places.bearing_deg[found.row])
    subject = setup.scene.subject
    declination = magnetic_declination(
        lat=subject.lat, lon=subject.lon, height_m=setup.scene.subject_ground_m, when=time
    ).declination_deg
    lenses = _lenses(setup, found)
    left = tuple(task.lens for i, task in enumerate(setup.tasks) if i not in found.some)
    return OneLine(
        time=time,
        bearing_deg=bearing,
        bearing_magnetic_deg=wrap_360_deg(bearing - declination),
        start=time + dt.timedelta(minutes=found.at.begins[0]),
        end=time + dt.timedelta(minutes=found.at.ends[-1]),
        span_minutes=found.at.span_minutes,
        change_minutes=setup.asked.picture.line_change_minutes,
        lenses=lenses,
        left_out=left,
        sentence=_sentence(setup, time, lenses, left, bearing),
    )


def _lenses(setup: SessionSetup, found: Found) -> tuple[OnTheLine, ...]:
    row, rows = found.row, np.array([found.row])
    time = setup.times[row]
    pictures = shown(setup, found.line, rows)
    own_minute = skylines_at(found.line, rows)
    told = []
    for i, (one, picture) in enumerate(zip(found.line, pictures, strict=True)):
        at, half = one.settled, len(one.azimuth_deg) // 2
        least = float(picture.least_clearance_deg[0])
        told.append(
            OnTheLine(
                lens=one.task.lens,
                frames_start=time + dt.timedelta(minutes=found.at.begins[i]),
                frames_end=time + dt.timedelta(minutes=found.at.ends[i]),
                lat=float(at.places.lat[row]),
                lon=float(at.places.lon[row]),
                distance_m=float(at.places.distance_m[row]),
                pitch_deg=float(at.pitch_deg[row]),
                above_top_deg=float(picture.above_top_deg[0]),
                least_clearance_deg=least if np.isfinite(least) else float("nan"),
                off_deg=_off_deg(one, row),
                right_deg=float(one.right_deg[row]),
                above_top_loss_deg=float(at.target_altitude_deg[row] - one.altitude_deg[half, row]),
                clearance_loss_deg=float(at.target_altitude_deg[row] - own_minute[i][0] - least),
                aside_m=float(one.aside_m[row]),
            )
        )
    return tuple(told)


def _off_deg(one: OnLine, row: int) -> float:
    """Angle on the sky from the target's place to where it is in the middle of the frames."""
    half = len(one.azimuth_deg) // 2
    return float(
        angle_between_deg(
            lon1_deg=one.azimuth_deg[half, row],
            lat1_deg=one.altitude_deg[half, row],
            lon2_deg=one.settled.target_azimuth_deg[row],
            lat2_deg=one.settled.target_altitude_deg[row],
        )
    )


def _sentence(
    setup: SessionSetup,
    time: dt.datetime,
    lenses: Sequence[OnTheLine],
    left: Sequence[Lens],
    bearing_deg: float,
) -> str:
    """Say when and where, who works, who does not, and what is lost at most."""
    clock = setup.sky.clock
    names = ", ".join(one.lens.label for one in lenses)
    start, end = lenses[0].frames_start, lenses[-1].frames_end
    most = max(lenses, key=lambda one: one.off_deg)
    side = "left" if most.aside_m >= 0.0 else "right"
    said = (
        f"From one line, that of {clock(time)}, bearing {num(bearing_deg, 1)}°: {names}, one after "
        f"the other while stepping back, {clock(start)} to {clock(end)}. The {most.lens.label} "
        f"loses most: the target is {num(most.off_deg, 1)}° off its place, and the line of its own "
        f"minute passes {num(abs(most.aside_m), 1)} m to the {side}."
    )
    without = ", ".join(lens.label for lens in left)
    return f"{said} Not from this line: {without}." if left else said
