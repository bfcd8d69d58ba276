"""A year as it was settled for several subjects: immutable, for every writer to read."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from math import nan
from typing import TYPE_CHECKING, Final, Literal

from backbearing.base.text import night_label

if TYPE_CHECKING:
    from backbearing.plan.stand import Span

ENOUGH_MINUTES: Final = 60.0
LEAST_MINUTES: Final = 10.0
MOST_CHOSEN: Final = 31

NightState = Literal["good", "no darkness", "moon", "no minute"]
"""What a night is to a subject: it has a good minute, or what took them all."""


@dataclass(frozen=True, slots=True)
class YearRule:
    """How nights are chosen; see the guide, ``docs/year.md``.

    Attributes
    ----------
    count : int
        So many nights are wanted.
    enough_minutes : float
        More good minutes than these count no further for a lens, on all chosen nights together.
    least_minutes : float
        With so many good minutes on a night a lens has its minutes, where the outing's session
        does not say how long its frames take.
    whole_kit : bool
        Whether a subject counts on those nights alone on which all its lenses have theirs.
    one_subject : bool
        Whether a night is spent at one subject, the one that it helps most.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from datetime import date
    >>> from backbearing import YearRule, load_outing, plan_year
    >>> outing = load_outing(sample / "outing.toml")
    >>> rule = YearRule(count=1, whole_kit=True)
    >>> year = plan_year([outing], first_night=date(2027, 7, 20), nights=10, rule=rule)
    >>> year.best[0].subjects[0].whole_kit
    True
    """

    count: int = 3
    enough_minutes: float = ENOUGH_MINUTES
    least_minutes: float = LEAST_MINUTES
    whole_kit: bool = False
    one_subject: bool = False


@dataclass(frozen=True, slots=True)
class YearLens:
    """One lens of a subject through all nights.

    Attributes
    ----------
    label : str
    wanted_minutes : float
        With so many in one stretch of a night it has its minutes.
    minutes : tuple of float
        Good minutes of each night.
    longest : tuple of float
        Longest good stretch of each night, minutes.
    """

    label: str
    wanted_minutes: float
    minutes: tuple[float, ...]
    longest: tuple[float, ...]

    def has_its_minutes(self, night: int) -> bool:
        """Whether its longest stretch of a night is as long as wanted."""
        return self.longest[night] >= self.wanted_minutes > 0.0


NightHours = tuple[tuple[int, float, float], ...]
"""Stretches: the night's number, and from and to in hours of wall time after its evening's noon."""


@dataclass(frozen=True, slots=True)
class YearHours:
    """A subject's year to draw.

    Attributes
    ----------
    dark, moonless, good : tuple of (int, float, float)
        The Sun as deep as asked; that with the Moon as asked; a good minute for any lens.
    """

    dark: NightHours = ()
    moonless: NightHours = ()
    good: NightHours = ()


@dataclass(frozen=True, slots=True)
class YearSubject:
    """One subject with its kit.

    Attributes
    ----------
    name : str
    file : str
        The outing's file, as it was named.
    lat, lon : float
        WGS84 degrees.
    zone : str
        Its time zone.
    target_name : str
    lenses : tuple of YearLens
    states : tuple of str
        For each night what it is to the subject.
    why_none : str
        A sentence where no night has a good minute for any lens.
    hours : YearHours
    """

    name: str
    file: str
    lat: float
    lon: float
    zone: str
    target_name: str
    lenses: tuple[YearLens, ...]
    states: tuple[NightState, ...]
    why_none: str = ""
    hours: YearHours = YearHours()

    def whole_kit_on(self, night: int) -> bool:
        """Whether every lens has its minutes on a night."""
        return all(lens.has_its_minutes(night) for lens in self.lenses)

    @property
    def good_nights(self) -> int:
        """On how many nights any lens has a good minute."""
        return self.states.count("good")


@dataclass(frozen=True, slots=True)
class LensNight:
    """One lens on one chosen night, as the plan of that night has it.

    Attributes
    ----------
    label : str
    minutes : float
        Good minutes.
    wanted_minutes : float
        With so many in one stretch it has its minutes.
    usable : tuple of Span
        The good stretches, UTC.
    at : datetime or None
        Its best minute, UTC.
    distance_m, bearing_deg : float
        The stand for that minute: distance to the subject, and the bearing towards it.
    altitude_deg, clearance_deg : float
        The target then, and over the skyline.
    missing : str
        What keeps it from its minutes; empty where it has them.
    """

    label: str
    minutes: float
    wanted_minutes: float
    usable: tuple[Span, ...]
    at: dt.datetime | None = None
    distance_m: float = nan
    bearing_deg: float = nan
    altitude_deg: float = nan
    clearance_deg: float = nan
    missing: str = ""


@dataclass(frozen=True, slots=True)
class NightMoon:
    """Darkness and Moon of a night in words and numbers, wall times of the subject.

    Attributes
    ----------
    dusk, dawn, rise, set : str
        "22:32 EDT", or why there is none.
    lit : float
        Lit fraction in the middle of the night.
    """

    dusk: str
    dawn: str
    rise: str
    set: str
    lit: float

    @property
    def moon_words(self) -> str:
        """What the Moon does, in order of time: "sets 16:33 EDT, rises 03:40 EDT"."""
        if "all night" in self.rise:
            return "up all night" if "above" in self.rise else "down all night"
        times = {f"rises {self.rise}": self.rise, f"sets {self.set}": self.set}
        there = {said: _after_noon(clock) for said, clock in times.items() if clock[:1].isdigit()}
        return ", ".join(sorted(there, key=lambda said: there[said]))

    @property
    def dark_words(self) -> str:
        """From when to when the Sun is as deep as asked, or that it always or never is."""
        if "all night" in self.dusk:
            return "never dark" if "above" in self.dusk else "dark all night"
        return f"dark from {self.dusk} to {self.dawn}"


def _after_noon(clock: str) -> int:
    """Minutes from noon on of a wall time that begins with hours and minutes."""
    hours, minutes = int(clock[:2]), int(clock[3:5])
    return (60 * hours + minutes - 720) % 1440


@dataclass(frozen=True, slots=True)
class SubjectNight:
    """One subject on one chosen night.

    Attributes
    ----------
    subject : int
        Which of the year's subjects.
    name, zone : str
    counted_minutes : float
        What it gave to the choice, minutes a lens.
    whole_kit : bool
        Whether every lens has its minutes.
    moon : NightMoon
    lenses : tuple of LensNight
    """

    subject: int
    name: str
    zone: str
    counted_minutes: float
    whole_kit: bool
    moon: NightMoon
    lenses: tuple[LensNight, ...]

    @property
    def good_minutes(self) -> float:
        """Good minutes of all lenses together."""
        return sum(lens.minutes for lens in self.lenses)


@dataclass(frozen=True, slots=True)
class YearNight:
    """A night that was chosen, or one to spare.

    Attributes
    ----------
    evening : date
        The first of its two dates.
    counted_minutes : float
        By which it was chosen: over all subjects, minutes a lens.
    subjects : tuple of SubjectNight
        In the order of the year's subjects.
    equals : tuple of date
        Evenings that counted as much and came after it by the later rules.
    instead_of : date or None
        For a night to spare, the chosen night that it stands in for.
    """

    evening: dt.date
    counted_minutes: float
    subjects: tuple[SubjectNight, ...]
    equals: tuple[dt.date, ...] = ()
    instead_of: dt.date | None = None

    @property
    def label(self) -> str:
        """Both dates: "12–13 June 2027"."""
        return night_label(self.evening)


@dataclass(frozen=True, slots=True)
class Year:
    """A run of nights for several subjects: which to take, which to keep in hand, and why.

    Attributes
    ----------
    name : str
        What it is called, for a heading.
    first_evening : date
    nights : int
        How many were looked at.
    rule : YearRule
    subjects : tuple of YearSubject
    best : tuple of YearNight
        In the order in which they were chosen.
    spare : tuple of YearNight
    said : str
        A sentence where fewer nights were found than wanted; else empty.
    notes : tuple of str
        What it rests on.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from datetime import date
    >>> from backbearing import load_outing, plan_year
    >>> outing = load_outing(sample / "outing.toml")
    >>> year = plan_year([outing], first_night=date(2027, 6, 1), nights=10)
    >>> [night.label for night in year.best]
    ['5–6 June 2027', '4–5 June 2027', '3–4 June 2027']
    >>> year.subjects[0].good_nights
    10
    """

    name: str
    first_evening: dt.date
    nights: int
    rule: YearRule
    subjects: tuple[YearSubject, ...]
    best: tuple[YearNight, ...]
    spare: tuple[YearNight, ...]
    said: str
    notes: tuple[str, ...]

    def evening(self, night: int) -> dt.date:
        """The evening of a night by its number, from 0."""
        return self.first_evening + dt.timedelta(days=night)

    def night_of(self, evening: dt.date) -> int:
        """The number of an evening, from 0."""
        return (evening - self.first_evening).days

    @property
    def found(self) -> bool:
        """Whether any night is good."""
        return bool(self.best)
