"""WallClock times as people write them, in the plan's zone."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

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
        """Hours and minutes, as a clock on the wall shows them: ``23:40``."""
        return self.local(time).strftime("%H:%M")

    def letters(self, time: dt.datetime) -> str:
        """Short name of local time then, such as ``EDT``, or its offset from UTC."""
        return self.local(time).tzname() or self.local(time).strftime("UTC%z")

    def letters_between(self, first: dt.datetime, last: dt.datetime) -> str:
        """Short names of local time at two moments: ``EDT``, or ``EDT, then EST``."""
        return ", then ".join(dict.fromkeys((self.letters(first), self.letters(last))))

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
