"""The kit from one line: where and when most lenses work one after the other along it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
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
    timely,
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
    from backbearing.alignment.session.tasks import Task
    from backbearing.alignment.session.turn_pictures import TurnPictures
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens

    Floats = NDArray[np.float64]
    Rows = NDArray[np.intp]

AT_ONCE: Final = 16
"""Minutes whose ridges are looked at together, those that may be the best first."""


@dataclass(frozen=True, slots=True)
class Found:
    """The best minute of the line for some lenses, given by their numbers.

    Attributes
    ----------
    cost_m : float
        What their pictures count and how far aside they stand, metres together.
    time : datetime
        The line's minute.
    some : tuple of int
    line : tuple of OnLine
        Each lens at that minute alone, shape (1,).
    pictures : tuple of TurnPictures
        What each shows, shape (1,).
    at : LineTimes
    """

    cost_m: float
    time: dt.datetime
    some: tuple[int, ...]
    line: tuple[OnLine, ...]
    pictures: tuple[TurnPictures, ...]
    at: LineTimes


@dataclass(frozen=True, slots=True)
class Kit:
    """All lenses at all minutes that the line may have, shape (t,) each."""

    times: tuple[dt.datetime, ...]
    utc: NDArray[np.datetime64]
    settled: tuple[Settled, ...]
    looked: dict[tuple[int, float], OnLine] = field(default_factory=dict)

    def on_line(self, task: Task, i: int, at: LineTimes, k: int) -> OnLine:
        """One lens as the k-th of a line; choices that give it the same times share it."""
        key = (i, at.begins[k])
        if key not in self.looked:
            self.looked[key] = on_line(task, self.settled[i], self.utc, at, k)
        return self.looked[key]


def one_line(setup: SessionSetup) -> OneLine | None:
    """Find the line from which most lenses work in the shortest span; None for fewer than two.

    Of equals the one with the least of what the pictures lack, by the session's own weights,
    and of metres that the lenses stand aside of the lines of their own minutes; then the
    earliest. Exact on whole minutes of the line. Lenses come from the nearest stand outward,
    ``line_change_minutes`` apart; from the farthest inward only where more of them work so.
    """
    kit = _kit(setup)
    outward = _outward(kit.settled)
    for count in range(len(outward), 1, -1):
        for order in (outward, outward[::-1]):
            best = _best_of(setup, kit, list(combinations(order, count)))
            if best is not None:
                return _told(setup, best, inward=order is not outward)
    return None


def _best_of(setup: SessionSetup, kit: Kit, choices: Sequence[tuple[int, ...]]) -> Found | None:
    """The best of some choices of lenses, as many in each, in their order."""
    best: Found | None = None
    for some in sorted(choices, key=lambda some: _times(setup, some).span_minutes):
        if best is not None and _times(setup, some).span_minutes > best.at.span_minutes:
            break
        found = _best(setup, kit, some, np.inf if best is None else best.cost_m)
        if found is not None and (best is None or _key(found) < _key(best)):
            best = found
    return best


def _kit(setup: SessionSetup) -> Kit:
    """Stands of all lenses at the minutes between the asked hours in which it is dark at all."""
    limits, dark = setup.limits, setup.sky.dark
    opens = min((window.start for window in dark), default=None)
    closes = max((window.end for window in dark), default=None)
    times = tuple(
        time
        for time in setup.times
        if opens is not None
        and closes is not None
        and opens <= time <= closes
        and (limits.not_before is None or time >= limits.not_before)
        and (limits.not_after is None or time <= limits.not_after)
    )
    if len(setup.tasks) < 2 or not times:
        return Kit((), utc_array([]), ())
    asked = [LensTimes(task.scene, task.lens, times) for task in setup.tasks]
    return Kit(times, utc_array(times), tuple(settle_all(asked, skyline=False)))


def _key(found: Found) -> tuple[float, dt.datetime]:
    return found.cost_m, found.time


def _outward(settled: Sequence[Settled]) -> list[int]:
    """Lenses that have stands, the nearest first."""
    known = [i for i, one in enumerate(settled) if np.isfinite(one.places.distance_m).any()]
    return sorted(known, key=lambda i: float(np.nanmedian(settled[i].places.distance_m)))


def _times(setup: SessionSetup, some: Sequence[int]) -> LineTimes:
    return LineTimes.of([setup.tasks[i] for i in some], setup.asked.picture.line_change_minutes)


def _best(setup: SessionSetup, kit: Kit, some: tuple[int, ...], below_m: float) -> Found | None:
    """The cheapest minute at which some lenses work from one line, if it is cheap enough.

    What needs no ridge bounds the cost from below: minutes are looked at in its order until
    no other can be cheaper.
    """
    at, tasks = _times(setup, some), [setup.tasks[i] for i in some]
    minutes = np.flatnonzero(timely(setup, tasks, at, kit.utc))
    line = tuple(
        kit.on_line(task, i, at, k).rows(minutes)
        for k, (i, task) in enumerate(zip(some, tasks, strict=True))
    )
    rows = np.flatnonzero(holds(setup, line))
    least = _without_ridge_m(setup, line)[rows]
    order = np.argsort(least, kind="stable")
    best: Found | None = None
    for first in range(0, len(order), AT_ONCE):
        if least[order[first]] > min(below_m, np.inf if best is None else best.cost_m):
            break
        part = rows[order[first : first + AT_ONCE]]
        pictures = shown(setup, line, part)
        for k, cost in enumerate(_costs_m(setup, line, part, pictures)):
            time = kit.times[minutes[part[k]]]
            if np.isfinite(cost) and (best is None or (cost, time) < _key(best)):
                only = np.array([k])
                best = Found(
                    float(cost),
                    time,
                    some,
                    tuple(one.rows(part[only]) for one in line),
                    tuple(picture.rows(only) for picture in pictures),
                    at,
                )
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


def _costs_m(
    setup: SessionSetup, line: Sequence[OnLine], rows: Rows, pictures: Sequence[TurnPictures]
) -> Floats:
    """What the line counts at some minutes, metres; infinite where a ridge is in the way."""
    clear_by, wishes = setup.sky.clear_by_deg, setup.asked.picture
    total = _aside_m(line)[rows]
    for picture in pictures:
        clear = picture.least_clearance_deg >= clear_by
        total = np.where(clear, total + picture.cost_m(wishes, clear_by), np.inf)
    return total


def _told(setup: SessionSetup, found: Found, *, inward: bool) -> OneLine:
    """Put the best line into the plan's figures and words."""
    time = found.time
    bearing = float(found.line[0].settled.places.bearing_deg[0])
    subject = setup.scene.subject
    declination = magnetic_declination(
        lat=subject.lat, lon=subject.lon, height_m=setup.scene.subject_ground_m, when=time
    ).declination_deg
    lenses = _lenses(found)
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
        inward=inward,
        sentence=_sentence(setup, time, lenses, left, bearing, inward=inward),
    )


def _lenses(found: Found) -> tuple[OnTheLine, ...]:
    row, time = 0, found.time
    own_minute = skylines_at(found.line, np.array([row]))
    told = []
    for i, (one, picture) in enumerate(zip(found.line, found.pictures, strict=True)):
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
    *,
    inward: bool,
) -> str:
    """Say when and where, who works, who does not, and what is lost at most."""
    clock = setup.sky.clock
    names = ", ".join(one.lens.label for one in lenses)
    start, end = lenses[0].frames_start, lenses[-1].frames_end
    most = max(lenses, key=lambda one: one.off_deg)
    side = "left" if most.aside_m >= 0.0 else "right"
    stepping = "in (more lenses work so than while stepping back)" if inward else "back"
    said = (
        f"From one line, that of {clock(time)}, bearing {num(bearing_deg, 1)}°: {names}, one after "
        f"the other while stepping {stepping}, {clock(start)} to {clock(end)}. The "
        f"{most.lens.label} loses most: the target is {num(most.off_deg, 1)}° off its place, and "
        f"the line of its own minute passes {num(abs(most.aside_m), 1)} m to the {side}."
    )
    without = ", ".join(lens.label for lens in left)
    return f"{said} Not from this line: {without}." if left else said
