"""From a view to one panel: sky, stars, bodies, land, subject, and guides where asked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.drawing.labels import WIDE, Label, Labels
from backbearing.drawing.marks import Area, Dot, Mark, Panel, Points, Stroke, Words
from backbearing.drawing.palette import STARS, Colour

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.drawing.palette import ViewPalette
    from backbearing.plan.view import HiddenLight, MoonDisc, View

    Floats = NDArray[np.float64]

LIT: Final = 0.55
"""How near a sky full of moonlight comes to its own colour."""


HALO_MAG: Final = 2.2
"""Brighter stars have a halo."""

HALO: Final = 2.6
HALO_ALPHA: Final = 0.12


def frame_panel(
    view: View,
    *,
    x: float,
    y: float,
    width: float,
    palette: ViewPalette,
    guides: bool,
    light: bool = False,
    places: bool = False,
) -> Panel:
    """Draw one view as a panel of a width, pixels.

    With ``light`` the hidden light's ground is marked, with ``places`` what one may mean by the
    core.
    """
    height = width / view.aspect
    drawn = _FrameMarks(width, height, palette)
    marks: list[Mark] = []
    marks += drawn.stars(view)
    marks += drawn.planets(view)
    if view.moon is not None:
        marks += drawn.moon(view.moon)
    if view.bare_ridge is None:
        marks.append(Area((drawn.below(view.ridge),), palette.ridge))
    else:
        # Trees and buildings stand as a paler edge over the ground's own line.
        marks.append(Area((drawn.below(view.ridge),), palette.tops))
        marks.append(Area((drawn.below(view.bare_ridge),), palette.ridge))
    marks.append(Area((drawn.below(view.near),), palette.near))
    marks.append(
        Area(tuple(drawn.points(ring) for ring in view.subject), palette.subject, palette.edge)
    )
    if light and view.hidden is not None:
        marks += drawn.hidden(view.hidden)
    if places:
        marks += drawn.places(view, guides=guides)
    if guides:
        marks += drawn.guides(view)
    return Panel(x, y, width, height, sky_picture(view, palette), tuple(marks))


def sky_picture(view: View, palette: ViewPalette) -> NDArray[np.uint8]:
    """Colours of the sky behind everything, shape (rows, columns, 3)."""
    rise = np.clip(view.altitude / 55.0, 0.0, 1.0)[..., None] ** 0.6
    base = np.array(palette.low) * (1.0 - rise) + np.array(palette.high) * rise
    # Contrast falls with the light that lies over it, and that light lifts the sky.
    left = 10.0 ** (-0.4 * view.sky_adds_mag)
    if palette.lit is not None:
        base = base + (1.0 - left) * LIT * (np.array(palette.lit) - base)
    glow = np.clip(view.band, 0.0, 1.4)[..., None] ** 0.8 * 0.78 * left
    mixed = base + np.clip(glow, 0.0, 1.0) * (np.array(palette.band) - base)
    return np.asarray(np.clip(np.round(mixed), 0, 255), dtype=np.uint8)


class StarDots(NamedTuple):
    """The stars of a view as they are painted, shape (n,) each, pixels.

    A bright one has a ``halo`` of `HALO` times its radius.
    """

    x: Floats
    y: Floats
    radius: Floats
    alpha: Floats
    halo: NDArray[np.bool_]

    def rows(self) -> tuple[list[Any], ...]:
        """Each part as a list."""
        return tuple(part.tolist() for part in self)


def star_dots(view: View, width: float, height: float) -> StarDots:
    """Where the stars of a view are painted in a panel, how large and how strong."""
    stars = view.stars
    bright = 10.0 ** (-0.12 * (stars.mag - 6.0))
    return StarDots(
        x=stars.x * width,
        y=(1.0 - stars.y) * height,
        radius=width * np.clip(0.00062 * bright, 0.00050, 0.0042),
        alpha=np.clip(1.06 - 0.105 * (stars.mag - 1.0), 0.30, 1.0),
        halo=stars.mag < HALO_MAG,
    )


@dataclass(frozen=True, slots=True)
class _FrameMarks:
    width: float
    height: float
    palette: ViewPalette

    def points(self, line: Floats) -> Points:
        """Fractions from the lower left to pixels from the upper left."""
        pixels = np.stack([line[:, 0] * self.width, (1.0 - line[:, 1]) * self.height], axis=1)
        return tuple(map(tuple, pixels.tolist()))

    def below(self, line: Floats) -> Points:
        """Close a skyline along the bottom of the frame."""
        shown = line[(line[:, 0] > -0.2) & (line[:, 0] < 1.2)]
        if not len(shown):
            return ((0.0, 0.0), (0.0, 0.0), (0.0, 0.0))
        deep = self.height * 1.5
        top = self.points(shown)
        return ((top[0][0], deep), *top, (top[-1][0], deep))

    def stars(self, view: View) -> list[Mark]:
        marks: list[Mark] = []
        dots = star_dots(view, self.width, self.height)
        inks = star_colours(view.stars.b_v, red=self.palette.red)
        for (x, y, r, a, halo), ink in zip(zip(*dots.rows(), strict=True), inks, strict=True):
            if halo:
                marks.append(Dot(x, y, r * HALO, ink, HALO_ALPHA))
            marks.append(Dot(x, y, r, ink, a))
        return marks

    def planets(self, view: View) -> list[Mark]:
        ink = self.palette.planet
        marks: list[Mark] = []
        for planet in view.planets:
            at = planet.x * self.width, (1.0 - planet.y) * self.height
            bright = 10.0 ** (-0.12 * (planet.mag - 6.0))
            radius = self.width * min(0.00062 * bright, 0.0046)
            marks += [Dot(*at, radius * 2.6, ink, 0.14), Dot(*at, radius, ink)]
            size = self.size()
            marks.append(
                Words(at[0] + radius + size * 0.5, at[1] + size * 0.35, planet.name.title(),
                      self.palette.soft, size)
            )  # fmt: skip
        return marks

    def moon(self, moon: MoonDisc) -> list[Mark]:
        at = moon.x * self.width, (1.0 - moon.y) * self.height
        radius = max(moon.radius * self.height, 1.0)
        lit, dim = self.palette.moon_lit, self.palette.moon_dark
        shape = moon_shape(moon.lit, moon.bright_side_deg)
        ring = tuple((at[0] + radius * u, at[1] - radius * v) for u, v in shape)
        glow = moon.lit
        return [
            Dot(*at, radius * 9.0, lit, 0.05 * glow),
            Dot(*at, radius * 3.5, lit, 0.10 * glow),
            Dot(*at, radius, dim),
            Area((ring,), lit),
        ]

    def hidden(self, hidden: HiddenLight) -> list[Mark]:
        """The ground as an area and the light as a frame, seen through the subject."""
        ink = self.palette.light
        patch = tuple(self.points(ring) for ring in hidden.patch)
        marks: list[Mark] = [Area(patch, shade(ink), ink)]
        if len(hidden.light):
            ring = self.points(hidden.light)
            marks.append(Stroke((*ring, ring[0]), ink, 1.0, width=max(1.0, self.width / 900.0)))
        return marks

    def places(self, view: View, *, guides: bool) -> list[Mark]:
        """Small crosses with their names, those names apart from one another."""
        ink, size = self.palette.soft, 0.8 * self.size()
        arm = 0.35 * size
        labels = Labels(self.width, self.height, self.palette.paper)
        target = None
        if guides and all(map(math.isfinite, view.target)):
            x, y = view.target[0] * self.width, (1.0 - view.target[1]) * self.height
            wide = WIDE * self.size() * (len(view.target_name) + 2)
            labels.taken.append((x - size, y - 1.8 * self.size(), x + wide, y + size))
            target = (x, y)
        marks: list[Mark] = []
        for rank, place in enumerate(view.places):
            x, y = place.x * self.width, (1.0 - place.y) * self.height
            for across, up in ((arm, 0.0), (0.0, arm)):
                marks.append(Stroke(((x - across, y - up), (x + across, y + up)), ink))
            if target is not None and math.dist(target, (x, y)) < size:
                continue  # The target's own ring names it.
            labels.keep_free(x, y, arm)
            labels.ask(Label(x, y, place.name, ink, size, rank=rank, away=0.7 * size))
        labels.settle()
        # Words alone: the paper that a map lays under them would hide the sky.
        return marks + [mark for mark in labels.marks if isinstance(mark, Words)]

    def guides(self, view: View) -> list[Mark]:
        ink = self.palette.guide
        w, h = self.width, self.height
        marks: list[Mark] = []
        for third in (1.0 / 3.0, 2.0 / 3.0):
            marks.append(Stroke(((w * third, 0.0), (w * third, h)), ink, 0.35))
            marks.append(Stroke(((0.0, h * third), (w, h * third)), ink, 0.35))
        edge = view.edge_margin
        if edge > 0.0:
            marks.append(self._box((edge, edge, 1.0 - edge, 1.0 - edge), 0.6))
        if view.target_box is not None:
            marks.append(self._box(view.target_box, 0.9))
        if all(map(math.isfinite, view.target)):
            at = view.target[0] * w, (1.0 - view.target[1]) * h
            size = self.size()
            around = tuple(
                (at[0] + size * math.cos(a), at[1] + size * math.sin(a))
                for a in np.linspace(0.0, 2.0 * math.pi, 33).tolist()
            )
            marks.append(Stroke(around, ink, 0.9))
            marks.append(Words(at[0] + size * 1.5, at[1] - size * 0.7, view.target_name, ink, size))
        return marks

    def size(self) -> float:
        """Of small letters, pixels."""
        return max(9.0, self.width / 62.0)

    def _box(self, box: tuple[float, float, float, float], alpha: float) -> Stroke:
        left, bottom, right, top = box
        corners = np.array(
            [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]
        )
        return Stroke(self.points(corners), self.palette.guide, alpha, dashed=True)


def shade(ink: Colour) -> Colour:
    """Half as bright: the fill within an edge of that ink."""
    return Colour(*(part // 2 for part in ink))


def star_colours(b_v: Floats, *, red: bool) -> list[Colour]:
    """Colours of stars by their colour index; white where it is unknown."""
    return [Colour(*rgb) for rgb in star_rgb(b_v, red=red).tolist()]


def star_rgb(b_v: Floats, *, red: bool) -> NDArray[np.int64]:
    """Do as `star_colours`, shape (n, 3)."""
    known = np.where(np.isfinite(b_v), b_v, 0.4)
    index, anchors = (np.array(part, dtype=np.float64) for part in zip(*STARS, strict=True))
    found = np.stack([np.interp(known, index, anchors[:, i]) for i in range(3)], axis=1)
    if red:
        found = np.stack([found.max(axis=1), np.zeros(len(found)), np.zeros(len(found))], axis=1)
    return np.asarray(np.round(found), dtype=np.int64)


def moon_shape(lit: float, bright_side_deg: float) -> Points:
    """Outline of the lit part of a unit disc: a half circle and half an ellipse."""
    angles = np.linspace(-math.pi / 2.0, math.pi / 2.0, 25)
    limb = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    rim = np.stack([(1.0 - 2.0 * lit) * np.cos(angles), np.sin(angles)], axis=1)[::-1]
    turn = math.radians(bright_side_deg)
    ring = np.concatenate([limb, rim]) @ np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    return tuple((float(x), float(y)) for x, y in ring)
