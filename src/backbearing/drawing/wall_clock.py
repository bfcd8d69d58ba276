"""WallClock times as people write them, in the plan's zone."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.wall_clock import hm, letters

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import Span


class WallClock:
    """Turns UTC moments into local wall time.

    Parameters
    ----------
    zone : str
        IANA name, such as ``America/New_York``.
    """

    def __init__(self, zone: str) -> None:
        self.zone = ZoneInfo(zone)

    def local(self, time: dt.datetime) -> dt.datetime:
        """The same moment on the local wall clock."""
        return time.astimezone(self.zone)

    def hm(self, time: dt.datetime) -> str:
        """Hours and minutes, as a clock on the wall shows them: ``23:40``, ``01:30 EDT``."""
        return hm(time, self.zone)

    def letters(self, time: dt.datetime) -> str:
        """Short name of local time then, such as ``EDT``, or its offset from UTC."""
        return letters(time, self.zone)

    def all_letters(self, times: Sequence[dt.datetime]) -> str:
        """Short names of local time over some moments: ``EDT``, or ``EDT, then EST``."""
        return ", then ".join(dict.fromkeys(self.letters(time) for time in sorted(times)))

    def night_letters(self, plan: Plan) -> str:
        """Short names of local time over all that a plan shows of its night."""
        times = [e.time for e in plan.events] + [p.time for p in plan.sky_path]
        times += [end for d in plan.dark for end in (d.start, d.end)]
        times += [lens.stand.time for lens in plan.lenses if lens.stand is not None]
        midnight = dt.datetime.combine(plan.evening, dt.time(23, 59), tzinfo=self.zone)
        return self.all_letters(times or [midnight])

    def span(self, span: Span) -> str:
        """A stretch of time: ``22:10–00:40``."""
        return f"{self.hm(span.start)}–{self.hm(span.end)}"

    def spans(self, spans: Sequence[Span]) -> str:
        """Several stretches, or ``none``."""
        return ", ".join(self.span(s) for s in spans) or "none"

    def marks(
        self, first: dt.datetime, last: dt.datetime, every_minutes: int
    ) -> Iterator[dt.datetime]:
        """Round clock times between two moments, as UTC.

        Steps through UTC, so that a change of the clock neither skips nor repeats one.
        """
        step = dt.timedelta(minutes=every_minutes)
        local = self.local(first)
        over = dt.timedelta(
            minutes=local.minute % every_minutes if every_minutes < 60 else local.minute,
            seconds=local.second,
            microseconds=local.microsecond,
        )
        time = first - over
        while time <= last:
            if time >= first:
                yield time
            time += step
