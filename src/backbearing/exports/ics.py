"""Windows and crossings as an iCalendar file, RFC 5545: times in UTC, so no zone goes along."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num, per_cent
from backbearing.base.version import __version__
from backbearing.base.wall_clock import hm, now_utc

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backbearing.plan.crossing import Crossing
    from backbearing.plan.season import Night, Season, Stretch

FOLD_OCTETS: Final = 75
"""A content line is at most so long, its line end not counted ([RFC5545]_ section 3.1)."""

_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Event:
    """One entry: what, when (aware), and where (WGS84 degrees)."""

    key: str
    start: dt.datetime
    end: dt.datetime
    summary: str
    description: str
    lat: float
    lon: float
    location: str = ""


def season_calendar(found: Season, *, made: dt.datetime | None = None) -> str:
    r"""Write a season's windows, or with a stand its unspoilt crossings, as calendar text.

    Lines end in CRLF and are folded; write them as bytes, for ``write_file`` keeps text's
    ``\n``. A window keeps its UID when the file is made again, so that a calendar updates it.
    """
    return calendar_text(_events(found), name=found.name, made=made or now_utc())


def calendar_text(events: Iterable[Event], *, name: str, made: dt.datetime) -> str:
    """Put events into one VCALENDAR ([RFC5545]_ section 3.4)."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//Backbearing//Backbearing {__version__}//EN",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        f"NAME:{escaped(name)}",  # RFC 7986 section 5.1
    ]
    for event in events:
        lines += _event_lines(event, made)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded(line)}\r\n" for line in lines)


def escaped(text: str) -> str:
    r"""Escape a TEXT value: backslash, semicolon, comma, line end ([RFC5545]_ section 3.3.11).

    Control characters, which the grammar forbids, go.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = _CONTROLS.sub("", text.replace("\\", "\\\\").replace("\n", "\\n"))
    return text.replace(";", "\\;").replace(",", "\\,")


def folded(line: str) -> str:
    """Fold a line at 75 octets without cutting a character ([RFC5545]_ section 3.1)."""
    parts, part, used = [], "", 0
    for character in line:
        size = len(character.encode("utf-8"))
        if used + size > FOLD_OCTETS:
            parts.append(part)
            # The space that opens a continuation counts too.
            part, used = "", 1
        part += character
        used += size
    return "\r\n ".join([*parts, part])


def utc_stamp(moment: dt.datetime) -> str:
    """Write a moment as DATE-TIME form 2, to the nearest second: ``20270606T041500Z``."""
    utc = moment.astimezone(dt.UTC) + dt.timedelta(microseconds=500_000)
    return utc.strftime("%Y%m%dT%H%M%SZ")


def _event_lines(event: Event, made: dt.datetime) -> list[str]:
    uid = hashlib.sha256(event.key.encode("utf-8")).hexdigest()[:32]
    lines = [
        "BEGIN:VEVENT",
        f"UID:{uid}@backbearing",
        f"DTSTAMP:{utc_stamp(made)}",
        f"DTSTART:{utc_stamp(event.start)}",
        f"DTEND:{utc_stamp(max(event.end, event.start + dt.timedelta(seconds=1)))}",
        f"SUMMARY:{escaped(event.summary)}",
        f"DESCRIPTION:{escaped(event.description)}",
    ]
    if event.location:
        lines.append(f"LOCATION:{escaped(event.location)}")
    return [
        *lines,
        f"GEO:{num(event.lat, 6)};{num(event.lon, 6)}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _events(found: Season) -> list[Event]:
    if found.crossings or found.crossings_note:
        return [_crossing_event(found, one) for one in found.crossings if one.usable]
    return [
        _window_event(found, night, number, stretch)
        for night in found.nights
        for number, stretch in enumerate(night.windows, start=1)
    ]


def _window_event(found: Season, night: Night, number: int, stretch: Stretch) -> Event:
    clock = ZoneInfo(found.zone)
    local = " to ".join(f"{t.astimezone(clock):%H:%M %Z}" for t in (stretch.start, stretch.end))
    lines = [
        f"Night of {night.label}, {local} ({found.zone}).",
        (
            f"Altitude {num(stretch.altitude_start_deg, 0)} to {num(stretch.altitude_end_deg, 0)} "
            f"degrees, azimuth {num(stretch.azimuth_start_deg, 0)} to "
            f"{num(stretch.azimuth_end_deg, 0)}, seen from {found.seen_from}."
        ),
    ]
    if stretch.moon_adds_mag > 0.005:
        lines.append(
            f"Moon {per_cent(stretch.moon_lit)} lit, {stretch.moon_light_from}, adds up to "
            f"{num(stretch.moon_adds_mag, 2)} mag to the sky at the target."
        )
    lines.append(_CARE)
    where = f"{num(found.lat, 5)} {num(found.lon, 5)}"
    return Event(
        key=f"window {where} {found.target_name} {night.evening} {number}",
        start=stretch.start,
        end=stretch.end,
        summary=f"{found.target_name} over {found.subject_name}",
        description="\n".join(lines),
        lat=found.lat,
        lon=found.lon,
        location=found.subject_name,
    )


def _crossing_event(found: Season, one: Crossing) -> Event:
    clock = ZoneInfo(found.zone)
    lenses = [frame.lens for frame in one.frames if frame.in_frame]
    lines = [
        (
            f"Exactly behind at {one.time.astimezone(clock):%H:%M:%S %Z}, altitude "
            f"{num(one.altitude_deg, 1)} degrees, {num(one.over_top_deg, 1)} over the subject's "
            f"top; within {num(found.within_deg)} degrees from {hm(one.start, clock)} to "
            f"{hm(one.end, clock)}."
        ),
        f"In the frame of: {', '.join(lenses) or 'no lens'}.",
        _CARE,
    ]
    return Event(
        key=f"crossing {num(found.lat, 5)} {num(found.lon, 5)} {found.target_name} {one.evening}",
        start=one.start,
        end=one.end,
        summary=f"{found.target_name} behind {found.subject_name}",
        description="\n".join(lines),
        lat=found.lat,
        lon=found.lon,
        location=f"Stand for {found.subject_name}",
    )


_CARE: Final = (
    "Computed from maps and the sky; no promise of weather, safety or access. Trees and buildings "
    "are not in the elevation raster."
)
