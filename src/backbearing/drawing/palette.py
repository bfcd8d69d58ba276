"""Every colour that we draw with, by the role that it plays.

Roles differ in lightness as well as in hue, so that no eye needs the hue. A red palette is for
eyes that are used to the dark: it has no green and no blue light at all.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final, NamedTuple


class Colour(NamedTuple):
    """Red, green and blue, 0 to 255."""

    red: int
    green: int
    blue: int

    @property
    def css(self) -> str:
        """As ``#rrggbb``."""
        return f"#{self.red:02x}{self.green:02x}{self.blue:02x}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """What every drawing has: paper, the strongest ink, and a soft one that may stand back.

    Raises
    ------
    ValueError
        For a red palette with a colour that is not pure red.
    """

    paper: Colour
    ink: Colour
    soft: Colour
    red: bool = False

    def __post_init__(self) -> None:
        for field in fields(self) if self.red else ():
            colour = getattr(self, field.name)
            if isinstance(colour, Colour) and (colour.green or colour.blue):
                raise ValueError(f"{field.name} of a red palette has green or blue light: {colour}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewPalette(Palette):
    """What a lens will see, and what is written about it.

    ``high`` and ``low`` are the sky's, ``lit`` a sky full of moonlight (left as it is where
    None), ``edge`` the subject's outline, ``light`` the hidden light's marks.
    """

    high: Colour
    low: Colour
    lit: Colour | None = None
    band: Colour
    planet: Colour
    moon_lit: Colour
    moon_dark: Colour
    ridge: Colour
    tops: Colour
    near: Colour
    subject: Colour
    edge: Colour
    guide: Colour
    light: Colour


VIEW: Final = ViewPalette(
    paper=Colour(13, 15, 20),
    ink=Colour(232, 228, 218),
    soft=Colour(163, 160, 152),
    high=Colour(8, 11, 23),
    low=Colour(36, 42, 55),
    lit=Colour(104, 122, 158),
    band=Colour(226, 212, 190),
    planet=Colour(255, 240, 210),
    moon_lit=Colour(246, 240, 224),
    moon_dark=Colour(58, 60, 66),
    ridge=Colour(19, 22, 28),
    tops=Colour(60, 67, 68),
    near=Colour(12, 14, 17),
    subject=Colour(3, 4, 6),
    edge=Colour(52, 57, 67),
    guide=Colour(236, 196, 120),
    light=Colour(255, 176, 46),
)
VIEW_RED: Final = ViewPalette(
    red=True,
    paper=Colour(0, 0, 0),
    ink=Colour(236, 0, 0),
    soft=Colour(200, 0, 0),
    high=Colour(14, 0, 0),
    low=Colour(44, 0, 0),
    lit=Colour(112, 0, 0),
    band=Colour(205, 0, 0),
    planet=Colour(236, 0, 0),
    moon_lit=Colour(255, 0, 0),
    moon_dark=Colour(60, 0, 0),
    ridge=Colour(20, 0, 0),
    tops=Colour(84, 0, 0),
    near=Colour(11, 0, 0),
    subject=Colour(2, 0, 0),
    edge=Colour(80, 0, 0),
    guide=Colour(255, 0, 0),
    light=Colour(255, 0, 0),
)
VIEW_PRINT: Final = ViewPalette(
    paper=Colour(255, 255, 255),
    ink=Colour(0, 0, 0),
    soft=Colour(60, 60, 60),
    high=Colour(255, 255, 255),
    low=Colour(236, 236, 236),
    band=Colour(120, 120, 120),
    planet=Colour(255, 240, 210),
    moon_lit=Colour(246, 240, 224),
    moon_dark=Colour(58, 60, 66),
    ridge=Colour(172, 172, 172),
    tops=Colour(208, 208, 208),
    near=Colour(146, 146, 146),
    subject=Colour(0, 0, 0),
    edge=Colour(255, 255, 255),
    guide=Colour(0, 0, 0),
    light=Colour(255, 176, 46),
)
"""Dark stars on a white sky."""

VIEW_PRINT_RED: Final = replace(
    VIEW_RED,
    low=Colour(78, 0, 0),
    high=Colour(26, 0, 0),
    ridge=Colour(30, 0, 0),
    tops=Colour(130, 0, 0),
    edge=Colour(200, 0, 0),
)
"""A little brighter than on a screen, for a printer."""

STARS: Final[tuple[tuple[float, Colour], ...]] = (
    (-0.3, Colour(170, 196, 255)),
    (0.0, Colour(205, 219, 255)),
    (0.4, Colour(244, 245, 255)),
    (0.8, Colour(255, 241, 218)),
    (1.2, Colour(255, 219, 176)),
    (1.7, Colour(255, 196, 143)),
)
"""Colour index B-V to colour: along the black-body line [Ballesteros2012]_, softened by eye."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPalette(Palette):
    """The printed sheet: thin rules, pale washes, and a deeper one for bars."""

    rule: Colour
    wash: Colour
    deep: Colour


SHEET: Final = SheetPalette(
    paper=Colour(255, 255, 255),
    ink=Colour(0, 0, 0),
    soft=Colour(64, 64, 64),
    rule=Colour(150, 150, 150),
    wash=Colour(232, 232, 232),
    deep=Colour(196, 196, 196),
)
SHEET_RED: Final = SheetPalette(
    red=True,
    paper=Colour(0, 0, 0),
    ink=Colour(248, 0, 0),
    soft=Colour(236, 0, 0),
    rule=Colour(120, 0, 0),
    wash=Colour(44, 0, 0),
    deep=Colour(84, 0, 0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SkylinePalette(Palette):
    """The skyline, with the target's path and the stands' minutes over it."""

    rule: Colour
    ground: Colour
    edge: Colour
    path: Colour
    stand: Colour


SKYLINE: Final = SkylinePalette(
    paper=Colour(255, 253, 247),
    ink=Colour(28, 26, 22),
    soft=Colour(87, 81, 68),
    rule=Colour(221, 213, 194),
    ground=Colour(217, 211, 192),
    edge=Colour(109, 67, 19),
    path=Colour(176, 58, 6),
    stand=Colour(11, 85, 150),
)
SKYLINE_RED: Final = SkylinePalette(
    red=True,
    paper=Colour(0, 0, 0),
    ink=Colour(248, 0, 0),
    soft=Colour(236, 0, 0),
    rule=Colour(72, 0, 0),
    ground=Colour(36, 0, 0),
    edge=Colour(200, 0, 0),
    path=Colour(255, 0, 0),
    stand=Colour(255, 0, 0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonPalette(Palette):
    """A season's rows: what the night is like, and the window as the strongest mark.

    ``window`` is a good thing: in the hue of where a stand is good on a map, and far from that of a
    warning; ``moon`` is what spoils most nights, in a hue that no eye takes for the window's.
    """

    rule: Colour
    day: Colour
    twilight: Colour
    dark: Colour
    moon: Colour
    clear: Colour
    window: Colour


SEASON: Final = SeasonPalette(
    paper=Colour(255, 255, 255),
    ink=Colour(22, 24, 29),
    soft=Colour(76, 82, 92),
    rule=Colour(255, 255, 255),
    day=Colour(255, 255, 255),
    twilight=Colour(236, 239, 243),
    dark=Colour(203, 211, 222),
    moon=Colour(244, 230, 166),
    clear=Colour(100, 108, 120),
    window=Colour(11, 85, 150),
)
SEASON_RED: Final = SeasonPalette(
    red=True,
    paper=Colour(0, 0, 0),
    ink=Colour(248, 0, 0),
    soft=Colour(236, 0, 0),
    rule=Colour(0, 0, 0),
    day=Colour(0, 0, 0),
    twilight=Colour(24, 0, 0),
    dark=Colour(46, 0, 0),
    moon=Colour(100, 0, 0),
    clear=Colour(168, 0, 0),
    window=Colour(255, 0, 0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPalette(Palette):
    """Marks on a map; the page's style sheet names the same colours as CSS variables.

    ``go`` is where a stand is good, ``core`` the way to the target; ``ridge``, ``frame`` and
    ``sky`` are what spoils a minute; ``open``, ``ask`` and ``closed`` are land.
    """

    go: Colour
    core: Colour
    ridge: Colour
    frame: Colour
    sky: Colour
    open: Colour
    ask: Colour
    closed: Colour
    water: Colour
    subject: Colour


MAP: Final = MapPalette(
    paper=Colour(247, 243, 232),
    ink=Colour(28, 26, 22),
    soft=Colour(87, 81, 68),
    go=Colour(11, 85, 150),
    core=Colour(176, 58, 6),
    ridge=Colour(109, 67, 19),
    frame=Colour(92, 97, 102),
    sky=Colour(109, 79, 156),
    open=Colour(22, 119, 90),
    ask=Colour(168, 100, 0),
    closed=Colour(160, 23, 79),
    water=Colour(63, 134, 168),
    subject=Colour(20, 18, 14),
)

CLEARANCE: Final[tuple[Colour, ...]] = (
    Colour(52, 34, 84),
    Colour(122, 62, 112),
    Colour(190, 104, 92),
    Colour(228, 164, 92),
    Colour(250, 228, 150),
)
"""An area's classes, from hidden to far over the ridge; luminance rises from 0.02 to 0.78."""

RELIEF_LOW: Final[Colour] = Colour(224, 230, 214)
RELIEF_MIDDLE: Final[Colour] = Colour(239, 237, 222)
RELIEF_HIGH: Final[Colour] = Colour(251, 247, 238)
RELIEF_SHADOW: Final[Colour] = Colour(104, 108, 128)
"""Ground by height, and its shade."""
