"""All lenses in one evening: their turns, what the order costs, and the one line.

A turn may be held at a minute, as the page's hand holds it: the session is then worked out anew
with the middle of that lens's frames there, as an outing file's ``at`` would have it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError
from backbearing.outing.session_request import SessionRequest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.outing.request import Outing
    from backbearing.plan.session import Session, Shot

DEFAULT_MINUTES: Final = (3.0, 3.0, 3.0, None)
"""Walk, set up, focus and frames of each lens, where the outing has no [session] of its own."""


def evening_rows(night: PreparedNight, fixed: Mapping[int, float]) -> dict[str, Any]:
    """Order the lenses' turns; ``fixed`` holds lenses by number at a time, seconds since 1970.

    Raises
    ------
    OutingError
        For a lens that the outing does not have.
    """
    night = night.with_outing(_held(night, fixed))
    session = night.plan(whole_skyline=False).session
    if session is None:
        return {"turns": [], "sentence": "", "line": ""}
    return _rows(session)


def _held(night: PreparedNight, fixed: Mapping[int, float]) -> Outing:
    outing = night.outing
    lenses = list(outing.lenses)
    for number, time_s in fixed.items():
        if not 0 <= number < len(lenses):
            raise OutingError(f"There is no lens number {number}", hint="count from 0")
        clock = night.sky.clock(dt.datetime.fromtimestamp(time_s, dt.UTC))
        lenses[number] = replace(lenses[number], at=clock)
    session = outing.session
    if session is None:
        session = SessionRequest(minutes=(DEFAULT_MINUTES,) * len(lenses))
    return replace(outing, lenses=tuple(lenses), session=session)


def _rows(session: Session) -> dict[str, Any]:
    return {
        "turns": [_turn(shot) for shot in session.shots],
        "left_out": [f"{one.lens.label}: {one.why}" for one in session.left_out],
        "walked_m": session.count.walked_m,
        "waiting_minutes": session.count.waiting_minutes,
        "sentence": session.sentence,
        "line": session.one_line.sentence if session.one_line is not None else "",
        "one_line": None
        if session.one_line is None
        else {
            "bearing_deg": session.one_line.bearing_deg,
            "turns": [
                {
                    "lens": turn.lens.label,
                    "from": turn.frames_start.timestamp(),
                    "to": turn.frames_end.timestamp(),
                }
                for turn in session.one_line.lenses
            ],
        },
    }


def _turn(shot: Shot) -> dict[str, Any]:
    return {
        "number": shot.number,
        "lens": shot.lens.label,
        "from": shot.times.frames_start.timestamp(),
        "to": shot.times.frames_end.timestamp(),
        "set_up": shot.times.setup_start.timestamp(),
        "distance_m": shot.stand.distance_m,
        "bearing_deg": shot.stand.bearing_deg,
        "clearance_deg": shot.stand.clearance_deg,
    }
