"""The year's page: which nights to take, what they give each lens, and the year at a glance.

It opens from disk and asks no other computer for anything. Text from files is escaped by the
template, and put in by the page's script through ``textContent`` only.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.cautions import GENERAL
from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import compass_point, night_label
from backbearing.base.units import METRIC
from backbearing.base.wall_clock import hm, wall_hours
from backbearing.drawing.page_shell import asset, filled_page
from backbearing.drawing.texts import json_block

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.plan.year import (
        LensNight,
        NightHours,
        SubjectNight,
        Year,
        YearNight,
        YearSubject,
    )

PANEL_UNITS: Final = 730
HOUR_UNITS: Final = 9
"""About how wide a panel is, and its units for an hour down."""

BAR_UNITS: Final = 400
HEAD_UNITS: Final = 26

NEAR_DEG: Final = 0.25
"""Within so much the Moon rises and sets within a minute or two."""

WORDS: Final = ("no", "One", "Two", "Three", "Four", "Five", "Six", "Seven")


def year_page(year: Year, units: Units = METRIC) -> str:
    """Make the page; the same year gives the same text.

    Returns
    -------
    str
        HTML, complete, with nothing left to fetch.
    """
    first, last = _hours_shown(year)
    return filled_page(
        "maps",
        "year.html",
        styles=[asset("maps", "page.css"), asset("maps", "year.css")],
        scripts=[asset("maps", "year.js")],
        title=_title(year),
        year=year,
        span=_span(year),
        best=[_night(year, one, units) for one in year.best],
        spare=[_night(year, one, units) for one in year.spare],
        rule=_rule(year),
        panels=[_panel(year, one, first, last) for one in year.subjects],
        width=year.nights * _night_units(year),
        head=HEAD_UNITS,
        height=(last - first) * HOUR_UNITS,
        months=_months(year),
        hours=_hour_lines(first, last),
        picks=_picks(year),
        table=_month_table(year),
        first_caution=GENERAL[0],
        cautions=GENERAL,
        packed=json_block(_packed(year)),
    )


def _title(year: Year) -> str:
    count = len(year.best)
    if not count:
        return "No night to take"
    word = WORDS[count] if count < len(WORDS) else num(count)
    return f"{word} {'night' if count == 1 else 'nights'} to take"


def _span(year: Year) -> str:
    last = year.evening(year.nights - 1)
    if year.nights == 1:
        return night_label(last)
    return f"{night_label(year.first_evening)} to {night_label(last)}"


def _rule(year: Year) -> list[str]:
    rule = year.rule
    said = [
        (
            f"For a lens a night counts its good minutes, as far as it lacks them: "
            f"{num(rule.enough_minutes)} over all the nights taken together."
        ),
        "For a subject it counts the mean over its lenses, and in all the sum over the subjects.",
        (
            "The night that counts most is taken; of equals the one with more good minutes of all "
            "lenses, then the earlier. What it gives is no longer lacking, and the next is looked "
            "for; when no night gives a minute of what is lacking, all begin anew."
        ),
        "To spare for a night is what would have been taken in its place.",
    ]
    if rule.one_subject:
        said.insert(2, "Each night is spent at one subject, the one that it helps most.")
    if rule.whole_kit:
        said.insert(2, "A subject counts on those nights alone on which its whole kit has minutes.")
    return said


def _night(year: Year, night: YearNight, units: Units) -> dict[str, Any]:
    number = year.night_of(night.evening)
    return {
        "label": night.label,
        "weekday": f"{night.evening:%A} evening",
        "instead_of": "" if night.instead_of is None else night_label(night.instead_of),
        "why": _why(year, night),
        "moon": _shared_moon(year, night),
        "subjects": [_subject(year, at, number, units) for at in night.subjects],
    }


def _shared_moon(year: Year, night: YearNight) -> str:
    """The Moon told once for subjects near one another; empty where they are not."""
    first, *others = year.subjects
    near = all(
        abs(one.lat - first.lat) <= NEAR_DEG
        and abs(one.lon - first.lon) <= NEAR_DEG
        and one.zone == first.zone
        for one in others
    )
    if not near:
        return ""
    moon = night.subjects[0].moon
    return f"Moon {per_cent(moon.lit)} lit, {moon.moon_words}."


def _why(year: Year, night: YearNight) -> str:
    lacked = num(night.counted_minutes, 0 if night.counted_minutes >= 9.5 else 1)
    if not night.equals:
        return f"Gives most of what was lacking: {lacked} minutes a lens."
    return (
        f"Gives {lacked} minutes a lens of what was lacking, as "
        f"{counted(len(night.equals), 'others')} would; "
        "it has more good minutes in all, or comes first."
    )


def _subject(year: Year, at: SubjectNight, night: int, units: Units) -> dict[str, Any]:
    subject, moon = year.subjects[at.subject], at.moon
    start, end = _dark_of(subject, night)
    having = sum(not lens.missing for lens in at.lenses)
    evening = year.evening(night)
    return {
        "name": at.name,
        "good": at.good_minutes > 0.0,
        "having": f"{having} of {counted(len(at.lenses), 'lenses', 'lens')} with their minutes",
        "whole": at.whole_kit,
        "none": at.lenses[0].missing if at.lenses else "",
        "moon": f"Moon {per_cent(moon.lit)} lit, {moon.moon_words}",
        "from": _clock(start),
        "to": _clock(end),
        "lenses": [_lens(lens, at.zone, evening, start, end, units) for lens in at.lenses],
    }


def _lens(
    lens: LensNight, zone: str, evening: dt.date, start: float, end: float, units: Units
) -> dict[str, Any]:
    def across(moment: dt.datetime) -> float:
        hour = wall_hours(moment, zone, evening) - 12.0
        return min(max((hour - start) / max(end - start, 1e-6), 0.0), 1.0) * BAR_UNITS

    spans = [(across(span.start), across(span.end)) for span in lens.usable]
    return {
        "label": lens.label,
        "minutes": num(lens.minutes, 0),
        "bars": [(num(a, 1), num(max(b - a, 1.0), 1)) for a, b in spans],
        "best": "" if lens.at is None else hm(lens.at, zone),
        "tick": "" if lens.at is None else num(across(lens.at), 1),
        "spans": ", ".join(f"{hm(s.start, zone)} to {hm(s.end, zone)}" for s in lens.usable),
        "stand": ""
        if lens.at is None
        else f"{units.length(lens.distance_m)} away, looking {num(lens.bearing_deg, 0)}° "
        f"{compass_point(lens.bearing_deg)}, {num(lens.clearance_deg, 1)}° over the ridge",
        "missing": lens.missing,
    }


def _dark_of(subject: YearSubject, night: int) -> tuple[float, float]:
    """From when to when a night is dark, hours after noon; the good ones, or 6 to 18, else."""
    for hours in (subject.hours.dark, subject.hours.good):
        held = [(a, b) for n, a, b in hours if n == night]
        if held:
            return min(a for a, _ in held), max(b for _, b in held)
    return 6.0, 18.0


def _clock(hour: float) -> str:
    minutes = round((hour + 12.0) * 60.0) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _hours_shown(year: Year) -> tuple[int, int]:
    """Whole hours after noon that hold everything dark of all subjects."""
    ends = [hour for one in year.subjects for _, a, b in one.hours.dark for hour in (a, b)]
    if not ends:
        return 6, 18
    return max(math.floor(min(ends)), 0), min(math.ceil(max(ends)), 24)


def _night_units(year: Year) -> int:
    """A panel's units for a night across, so that few nights fill it as a year does."""
    return max(round(PANEL_UNITS / year.nights), 1)


def _panel(year: Year, subject: YearSubject, first: int, last: int) -> dict[str, Any]:
    wide = _night_units(year)

    def path(hours: NightHours) -> str:
        return "".join(
            f"M{n * wide} {_down(max(a, first), first)}h{wide}"
            f"V{_down(min(b, last), first)}h-{wide}z"
            for n, a, b in hours
            if min(b, last) > max(a, first)
        )

    good = subject.good_nights
    whole = sum(subject.whole_kit_on(n) for n in range(year.nights))
    return {
        "name": subject.name,
        "target": subject.target_name,
        "zone": subject.zone,
        "said": subject.why_none
        or f"{counted(good, 'good nights')}, {num(whole)} with the whole kit",
        "dark": path(subject.hours.dark),
        "moonless": path(subject.hours.moonless),
        "good": path(subject.hours.good),
    }


def _down(hour: float, first: int) -> str:
    return num((hour - first) * HOUR_UNITS, 1)


def _months(year: Year) -> list[dict[str, Any]]:
    """Where each month begins in a panel, and its name."""
    found: list[dict[str, Any]] = []
    for n in range(year.nights):
        evening = year.evening(n)
        if n == 0 or evening.day == 1:
            found.append({"x": n * _night_units(year), "name": f"{evening:%b}", "n": n})
    ends = [*(one["n"] for one in found[1:]), year.nights]
    for one, end in zip(found, ends, strict=True):
        one["named"] = (end - one["n"]) * len(found) > 0.45 * year.nights or len(found) == 1
        one["middle"] = num((one["n"] + end) / 2.0 * _night_units(year), 1)
    return found


def _hour_lines(first: int, last: int) -> list[dict[str, str]]:
    return [
        {"y": _down(hour, first), "name": _clock(float(hour))}
        for hour in (6, 9, 12, 15, 18)
        if first < hour < last
    ]


def _picks(year: Year) -> list[dict[str, Any]]:
    """The chosen nights as marks over every panel."""

    def mark(night: YearNight, name: str) -> dict[str, Any]:
        return {
            "x": num((year.night_of(night.evening) + 0.5) * _night_units(year), 1),
            "name": name,
        }

    return [
        *(mark(one, "") for one in year.spare),
        *(mark(one, num(i)) for i, one in enumerate(year.best, start=1)),
    ]


def _month_table(year: Year) -> dict[str, Any]:
    """Good nights of each month, in words for those who do not see the picture."""
    evenings = [year.evening(n) for n in range(year.nights)]
    months = list(dict.fromkeys((evening.year, evening.month) for evening in evenings))

    def row(subject: YearSubject) -> list[str]:
        good = [
            sum(
                subject.states[n] == "good" and (evening.year, evening.month) == month
                for n, evening in enumerate(evenings)
            )
            for month in months
        ]
        return [num(count) for count in good]

    return {
        "months": [f"{dt.date(y, m, 1):%b %y}" for y, m in months],
        "rows": [{"name": one.name, "cells": row(one)} for one in year.subjects],
    }


def _packed(year: Year) -> dict[str, Any]:
    """What the page's script reads out night by night."""

    def minutes(subject: YearSubject) -> Sequence[Sequence[int]]:
        return [[round(one) for one in lens.minutes] for lens in subject.lenses]

    states = {"good": "", "no darkness": "not dark", "moon": "Moon", "no minute": "no minute"}
    return {
        "nights": [night_label(year.evening(n)) for n in range(year.nights)],
        "first": year.night_of(year.best[0].evening) if year.best else 0,
        "unit": _night_units(year),
        "subjects": [
            {
                "name": one.name,
                "lenses": [lens.label for lens in one.lenses],
                "minutes": minutes(one),
                "states": [states[state] for state in one.states],
            }
            for one in year.subjects
        ],
    }
