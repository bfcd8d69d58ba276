"""What was ticked in the field, as the night page gives it out: read with suspicion, then told.

The file is ``backbearing-ticks`` version 1 (``docs/field.md``). It comes from a phone, by any
way, so that nothing in it is believed before it is looked at.
"""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from zoneinfo import ZoneInfo

from backbearing.base.errors import OutingError, Where
from backbearing.base.input_files import check_readable
from backbearing.base.limits import shown
from backbearing.base.numbers import num
from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.review.report import PlannedTurn, Review

FORMAT: Final = "backbearing-ticks"
VERSION: Final = 1
LARGEST_FILE_BYTES: Final = 1_000_000
MOST_TICKS: Final = 1_000

OF_A_TURN: Final = ("peg set", "focus checked", "light placed", "frames taken")
"""In the order in which they are done."""
KINDS: Final = (*OF_A_TURN, "gate shut")

CORRECTIONS: Final = {
    "subject_height_m": ("height of the subject", 1.0, "m"),
    "subject_width_m": ("width of the subject", 1.0, "m"),
    "ground_step_m": ("ground at the stand higher by", 1.0, "m"),
    "distance_m": ("distance that was possible", 1.0, "m"),
    "eye_height_m": ("height of the lens", 1.0, "m"),
    "focal_mm": ("focal length", 1.0, "mm"),
    "share": ("share of the frame", 100.0, "%"),
    "base_margin": ("margin below the base", 100.0, "%"),
    "compass_error_deg": ("the needle showed too much by", 1.0, "°"),
    "skyline_deg": ("ridge as read", 1.0, "°"),
    "skyline_azimuth_deg": ("which was read towards", 1.0, "°"),
}
"""Key of a correction to its words, what it is multiplied with to be read, and its unit."""


@dataclass(frozen=True, slots=True)
class Tick:
    """One thing that was done.

    Attributes
    ----------
    what : str
        One of `KINDS`.
    turn : int or None
        The session's turn; None of a lens by itself, and of what belongs to no lens.
    lens : str or None
        Its label: hostile text.
    time : datetime
        UTC, by the phone's clock less the error that was stated on the page.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> from backbearing.review import Tick
    >>> Tick("peg set", 1, "85 mm", datetime(2027, 5, 29, 4, 12, tzinfo=UTC)).what
    'peg set'
    """

    what: str
    turn: int | None
    lens: str | None
    time: dt.datetime


@dataclass(frozen=True, slots=True)
class Ticks:
    """A file of ticks.

    Attributes
    ----------
    outing : str
        The plan's name: hostile text.
    evening : date
    ticks : tuple of Tick
        In order of time.
    corrections : tuple of str
        What was corrected on the page, a phrase each.

    Examples
    --------
    >>> from datetime import UTC, date, datetime
    >>> from backbearing.review import Tick, Ticks
    >>> peg = Tick("peg set", 1, "85 mm", datetime(2027, 5, 29, 4, 12, tzinfo=UTC))
    >>> ticks = Ticks("a chapel", date(2027, 5, 28), (peg,))
    >>> [tick.what for tick in ticks.of_turn(1, "85 mm")]
    ['peg set']
    """

    outing: str
    evening: dt.date
    ticks: tuple[Tick, ...]
    corrections: tuple[str, ...] = ()

    def of_turn(self, turn: int | None, lens: str) -> tuple[Tick, ...]:
        """Give the ticks of one turn, or of a lens by itself."""
        return tuple(
            tick
            for tick in self.ticks
            if tick.what in OF_A_TURN
            and (tick.turn == turn if turn is not None else tick.lens == lens)
        )


def read_ticks(path: str | Path, evening: dt.date | None = None) -> Ticks:
    """Read a file of ticks.

    Parameters
    ----------
    path : str or Path
    evening : date, optional
        The plan's night, which has to be the file's.

    Raises
    ------
    OutingError
        One sentence: what is wrong, where, and what to write instead.

    Examples
    --------
    A file without a tick, into ``folder``:

    >>> from backbearing.review import read_ticks
    >>> head = '"format": "backbearing-ticks", "version": 1, "evening": "2027-05-28"'
    >>> none = f'{{{head}, "outing": "a chapel", "ticks": []}}'
    >>> written = (folder / "none.json").write_text(none)
    >>> read_ticks(folder / "none.json").ticks
    ()
    """
    file = Path(path)
    check_readable(file, "ticks", largest_bytes=LARGEST_FILE_BYTES)
    where = Where(file.name)
    try:
        document = json.loads(file.read_bytes().decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise OutingError(
            "this is not the JSON that a night page gives out",
            hint="save the ticks anew from the page",
            where=where,
        ) from problem
    try:
        ticks = _ticks(document)
    except OutingError as problem:
        raise problem.at(where) from None
    if evening is not None and ticks.evening != evening:
        raise OutingError(
            f"these ticks are of the night of {ticks.evening}, and the plan is for {evening}",
            hint="name the outing of that night, or its ticks",
            where=where,
        )
    return ticks


def _no_number(name: str) -> float:
    raise ValueError(name)


def _ticks(document: Any) -> Ticks:
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise OutingError(f'this is no file of ticks: its format is not "{FORMAT}"')
    if document.get("version") != VERSION or document["version"] is True:
        raise OutingError(
            f"version {shown(document.get('version'))} of the ticks is not known here",
            hint=f"this Backbearing reads version {VERSION}",
        )
    rows = document.get("ticks")
    if not isinstance(rows, list) or len(rows) > MOST_TICKS:
        raise OutingError(f"ticks is not a list of up to {MOST_TICKS} ticks")
    found = [_tick(row, i) for i, row in enumerate(rows, start=1)]
    return Ticks(
        outing=_text(document, "outing", "the file"),
        evening=_evening(document.get("evening")),
        ticks=tuple(sorted(found, key=lambda tick: tick.time)),
        corrections=_corrections(document.get("corrections", {})),
    )


def _evening(value: Any) -> dt.date:
    try:
        return dt.datetime.strptime(value, "%Y-%m-%d").replace(tzinfo=dt.UTC).date()
    except (TypeError, ValueError):
        raise OutingError(
            f"evening is {shown(value)}", hint="write a date such as 2027-05-28"
        ) from None


def _text(row: dict[str, Any], key: str, of: str) -> str:
    value = row.get(key)
    if not isinstance(value, str) or len(value) > 500:
        raise OutingError(f"{key} of {of} is {shown(value)}", hint="it has to be a short text")
    return value


def _tick(row: Any, number: int) -> Tick:
    of = f"tick {number}"
    if not isinstance(row, dict):
        raise OutingError(f"{of} is {shown(row)}", hint="it has to have what, turn, lens and time")
    what, turn = row.get("what"), row.get("turn")
    if what not in KINDS:
        raise OutingError(f"what of {of} is {shown(what)}", hint=f"write one of {_list(KINDS)}")
    if turn is not None and (type(turn) is not int or not 1 <= turn <= 1000):
        raise OutingError(
            f"turn of {of} is {shown(turn)}", hint="write the turn's number, from 1, or null"
        )
    lens = None if row.get("lens") is None else _text(row, "lens", of)
    return Tick(what, turn, lens, _time(row.get("time"), of))


def _list(words: Sequence[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _time(value: Any, of: str) -> dt.datetime:
    try:
        return dt.datetime.strptime(value, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=dt.UTC)
    except (TypeError, ValueError):
        raise OutingError(
            f"time of {of} is {shown(value)}", hint="write UTC such as 2027-05-29T04:12:03Z"
        ) from None


def _corrections(value: Any) -> tuple[str, ...]:
    """Turn what was corrected into phrases: of all lenses, and of one by its number."""
    if not isinstance(value, dict) or not value.keys() <= {"all", "lenses"}:
        raise OutingError(f"corrections is {shown(value)}", hint='it holds "all" and "lenses"')
    lenses = value.get("lenses", {})
    if not isinstance(lenses, dict) or len(lenses) > MOST_TICKS:
        raise OutingError(f"lenses of corrections is {shown(lenses)}", hint="save the ticks anew")
    told = _phrases(value.get("all", {}), "")
    for name, own in lenses.items():
        if not (name.isascii() and name.isdigit() and len(name) < 4):
            raise OutingError(f"lens {shown(name)} of corrections is no number of a lens")
        told += _phrases(own, f" (lens {int(name) + 1})")
    return tuple(told)


def _phrases(own: Any, of: str) -> list[str]:
    if not isinstance(own, dict):
        raise OutingError(f"a correction is {shown(own)}", hint="save the ticks anew")
    told = []
    for key, value in own.items():
        if key not in CORRECTIONS:
            raise OutingError(f"correction {shown(key)} is not known here")
        if type(value) not in (int, float) or not (math.isfinite(value) and abs(value) < 1e6):
            raise OutingError(f"correction {key} is {shown(value)}", hint="it has to be a number")
        words, times, unit = CORRECTIONS[key]
        gap = "" if unit in ("°", "%") else " "
        told.append(f"{words} {num(value * times, digits=4)}{gap}{unit}{of}")
    return told


def with_ticks(review: Review, plan: Plan, ticks: Ticks) -> Review:
    """Set what was ticked beside each frame of a review, and beside the plan's turns.

    Examples
    --------
    A file of ticks, into ``folder``, beside the sample outing's ``plan``:

    >>> from backbearing import load_outing, review_frames
    >>> from backbearing.review import read_ticks, with_ticks
    >>> tick = '{"what": "gate shut", "turn": null, "lens": null, "time": "2027-05-29T06:41:00Z"}'
    >>> head = '"format": "backbearing-ticks", "version": 1, "evening": "2027-05-28"'
    >>> told = f'{{{head}, "outing": "Averil Chapel, late May", "ticks": [{tick}]}}'
    >>> written = (folder / "ticks.json").write_text(told)
    >>> review = review_frames(load_outing(sample / "outing.toml"), [], plan=plan)
    >>> ticks = read_ticks(folder / "ticks.json", evening=plan.evening)
    >>> with_ticks(review, plan, ticks).ticked[-1]
    'On the way out: gate shut 02:41.'
    """
    frames = tuple(
        replace(frame, ticked=ticked_beside(ticks, frame.planned, frame.time, plan.zone))
        if frame.planned is not None
        else frame
        for frame in review.frames
    )
    return replace(review, frames=frames, ticked=ticked_in_all(ticks, plan))


def ticked_beside(ticks: Ticks, turn: PlannedTurn, time: dt.datetime | None, zone: str) -> str:
    """Say what was ticked of a frame's turn, and where the frame lies among it; empty for none."""
    own = ticks.of_turn(turn.turn, turn.lens)
    if not own:
        return ""
    local = ZoneInfo(zone)
    said = f"Ticked for its turn: {', '.join(f'{t.what} {hm(t.time, local)}' for t in own)}."
    if time is None:
        return said
    before = [tick for tick in own if tick.what == "peg set" and time < tick.time]
    after = [tick for tick in own if tick.what == "frames taken" and time > tick.time]
    if before:
        said += f" Taken {_apart(before[0].time - time)} before the peg was ticked."
    elif after:
        said += f" Taken {_apart(time - after[-1].time)} after the frames were ticked as taken."
    return said


def _apart(time: dt.timedelta) -> str:
    minutes = time.total_seconds() / 60.0
    return "under a minute" if minutes < 1.0 else f"{num(minutes, 0)} min"


def ticked_in_all(ticks: Ticks, plan: Plan) -> tuple[str, ...]:
    """Say what was done of each turn against what was planned, then what was corrected."""
    local = ZoneInfo(plan.zone)
    told = []
    shots = plan.session.shots if plan.session is not None else ()
    for shot in shots:
        own = ticks.of_turn(shot.number, shot.lens.label)
        done = ", ".join(_against(tick, shot, local) for tick in own) or "nothing ticked"
        told.append(f"{shot.number}. {shot.lens.label}: {done}.")
    if not shots:
        for label in dict.fromkeys(lens.lens.label for lens in plan.lenses):
            own = ticks.of_turn(None, label)
            if own:
                told.append(f"{label}: {', '.join(f'{t.what} {hm(t.time, local)}' for t in own)}.")
    out = [f"{t.what} {hm(t.time, local)}" for t in ticks.ticks if t.what not in OF_A_TURN]
    if out:
        told.append(f"On the way out: {', '.join(out)}.")
    if ticks.corrections:
        told.append(f"Corrected on the page: {'; '.join(ticks.corrections)}.")
    if ticks.outing != plan.name:
        told.append("The ticks bear another outing's name; the night is the same.")
    return tuple(told)


def _against(tick: Tick, shot: Shot, zone: ZoneInfo) -> str:
    by = {
        "peg set": shot.focus_start,
        "focus checked": shot.frames_start,
        "frames taken": shot.frames_end,
        "light placed": shot.frames_start,
    }[tick.what]
    return f"{tick.what} {hm(tick.time, zone)} (planned by {hm(by, zone)})"
