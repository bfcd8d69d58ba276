"""[session] of an outing file: minutes for each lens, limits, breaks and lights."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError, Where
from backbearing.outing.session_limits import MOST_JOBS
from backbearing.outing.session_request import BreakRequest, SessionRequest

if TYPE_CHECKING:
    from pathlib import Path

TURN_KEYS: Final = ("walk_minutes", "setup_minutes", "focus_minutes", "frames_minutes")


def session_of(file: Path, shape: Any) -> SessionRequest | None:
    """Read [session], with each lens's own minutes over the common ones.

    Raises
    ------
    OutingError
        For more lenses than are ordered, an asked minute for all of them, or minutes of a
        lens without a session.
    """
    if shape.session is None:
        _refuse_minutes(file, shape)
        return None
    _refuse_what_contradicts(file, shape)
    common = shape.session.model_dump(exclude={*TURN_KEYS, "breaks", "late_minutes"})
    return SessionRequest(
        minutes=tuple(_minutes(shape.session, lens) for lens in shape.lens),
        breaks=tuple(BreakRequest(at=b.at, minutes=b.minutes) for b in shape.session.breaks),
        late_minutes=tuple(sorted(set(shape.session.late_minutes))),
        **common,
    )


def _minutes(session: Any, lens: Any) -> tuple[float, float, float, float | None]:
    walk, setup, focus, frames = (
        getattr(session, key) if getattr(lens, key) is None else getattr(lens, key)
        for key in TURN_KEYS
    )
    return walk, setup, focus, frames


def _refuse_minutes(file: Path, shape: Any) -> None:
    for number, lens in enumerate(shape.lens, start=1):
        for key in TURN_KEYS:
            if getattr(lens, key) is not None:
                raise OutingError(
                    f"{key} means something only in a session",
                    hint="add a [session] section, or take it out",
                    where=Where(file.name, f"[[lens]] number {number}", key),
                    file=str(file),
                    key=f"lens.{number - 1}.{key}",
                )


def _refuse_what_contradicts(file: Path, shape: Any) -> None:

    if len(shape.lens) > MOST_JOBS:
        raise OutingError(
            f"orders at most {MOST_JOBS} lenses and there are {len(shape.lens)}",
            hint="take lenses out, or take [session] out",
            where=Where(file.name, "[session]"),
            file=str(file),
            key="session",
        )
    if shape.night.at is not None:
        raise OutingError(
            "at holds all lenses to one minute and [session] gives each its own",
            hint="take one of them out, or write at under the [[lens]] that needs it",
            where=Where(file.name, "[night]", "at"),
            file=str(file),
            key="night.at",
        )
