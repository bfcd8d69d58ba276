"""The chosen nights of a year as an iCalendar file (RFC 5545): one event a subject and night."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import night_label
from backbearing.base.wall_clock import hm, now_utc
from backbearing.exports.file_text import NOT_PLAIN, inline, visible
from backbearing.exports.ics import Event, calendar_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from backbearing.plan.year import LensNight, SubjectNight, Year, YearNight

CARE: Final = (
    "Computed from maps and the sky; no promise of weather, safety or access. One place at a time: "
    "minutes at one subject say nothing of time for another."
)


def year_calendar(year: Year, *, made: dt.datetime | None = None) -> str:
    """Write the chosen nights, and those to spare, as calendar text, lines ended by CRLF.

    An event reaches from the first good minute of any lens to the last one. It keeps its UID
    when the file is made again, so that a calendar updates it.
    """
    events = [
        event
        for number, night in enumerate((*year.best, *year.spare), start=1)
        for event in _events(year, night, number)
    ]
    return calendar_text(events, name=visible(year.name, NOT_PLAIN), made=made or now_utc())


def _events(year: Year, night: YearNight, number: int) -> Iterator[Event]:
    for at in night.subjects:
        spans = [span for lens in at.lenses for span in lens.usable]
        if not spans:
            continue
        subject = year.subjects[at.subject]
        what = f"{inline(subject.target_name)} behind {inline(subject.name)}"
        yield Event(
            key=(
                f"year {num(subject.lat, 5)} {num(subject.lon, 5)} {inline(subject.target_name)} "
                f"{night.evening}"
            ),
            start=min(span.start for span in spans),
            end=max(span.end for span in spans),
            summary=visible(f"{_rank(night, number)}: {what}", NOT_PLAIN),
            description=visible("\n".join(_lines(night, at)), NOT_PLAIN),
            lat=subject.lat,
            lon=subject.lon,
            location=visible(inline(subject.name), NOT_PLAIN),
        )


def _rank(night: YearNight, number: int) -> str:
    if night.instead_of is None:
        return f"Night {number}"
    return f"To spare for {night_label(night.instead_of)}"


def _lines(night: YearNight, at: SubjectNight) -> list[str]:
    having, dark = sum(not lens.missing for lens in at.lenses), at.moon.dark_words
    return [
        f"Night of {night.label}, times in {at.zone}.",
        f"{having} of {counted(len(at.lenses), 'lenses', 'lens')} with their minutes.",
        *(_lens_line(lens, at.zone) for lens in at.lenses),
        f"{dark[:1].upper()}{dark[1:]}. Moon {per_cent(at.moon.lit)} lit, {at.moon.moon_words}.",
        CARE,
    ]


def _lens_line(lens: LensNight, zone: str) -> str:
    if not lens.usable:
        return f"{lens.label}: none. {lens.missing}"
    clock = ZoneInfo(zone)
    spans = ", ".join(f"{hm(span.start, clock)} to {hm(span.end, clock)}" for span in lens.usable)
    best = "" if lens.at is None else f"; best {hm(lens.at, clock)}"
    return f"{lens.label}: {num(lens.minutes, 0)} min, {spans}{best}"
