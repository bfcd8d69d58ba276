"""What a lens will see from its stand, as plain data for writers to draw.

Everything lies in fractions of the frame, from its left and its bottom edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from backbearing.base.grouped import FieldOf

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stars:
    """Stars in the frame, shape (n,) each, the faintest first.

    ``mag`` is dimmed by the air; ``b_v`` is NaN where the colour is unknown.
    """

    x: Floats
    y: Floats
    mag: Floats
    b_v: Floats
    hip: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Planet:
    """A planet in the frame: its name, place and V magnitude."""

    name: str
    x: float
    y: float
    mag: float


@dataclass(frozen=True, slots=True)
class MoonDisc:
    """The Moon in the frame.

    Attributes
    ----------
    x, y : float
        Its middle.
    radius : float
        Of its disc, as a fraction of the frame's height.
    lit : float
        Lit fraction of the disc, 0 to 1.
    bright_side_deg : float
        Where its lit limb points in the picture, anticlockwise from the right.
    """

    x: float
    y: float
    radius: float
    lit: float
    bright_side_deg: float


@dataclass(frozen=True, slots=True)
class HiddenLight:
    """The light behind the subject as it would fall in the frame, were the subject of glass.

    Attributes
    ----------
    patch : tuple of ndarray, shape (n, 2)
        Rings of the ground on which it hides, fractions of the frame, even-odd.
    light : ndarray, shape (n, 2)
        Outline of the light at its spot; no points when there is no spot.
    width_m, height_m : float
        The light's size.
    from_every_stand : bool
        Whether the patch serves all stands; otherwise it is this lens's own.
    """

    patch: tuple[Floats, ...]
    light: Floats
    width_m: float
    height_m: float
    from_every_stand: bool


@dataclass(frozen=True, slots=True)
class SkyPlace:
    """A named place among the stars in the frame, such as Sgr A* or the bright cloud."""

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class ViewSky:
    """The sky in the frame.

    Attributes
    ----------
    stars : Stars
    band : ndarray, shape (rows, columns)
        Brightness of the Milky Way, 1 at its largest, dimmed by the air; the first row is
        the top of the frame.
    altitude : ndarray, shape (rows, columns)
        Apparent altitude of the same grid, degrees.
    planets : tuple of Planet
    moon : MoonDisc or None
        None when it is out of the frame.
    adds_mag : float
        By how much Moon and twilight brighten the sky at the target, magnitudes; the band is
        drawn as much fainter.
    places : tuple of SkyPlace
        What one may mean by the core, as far as it is in the frame and above the land.
    """

    stars: Stars
    band: Floats
    altitude: Floats
    planets: tuple[Planet, ...]
    moon: MoonDisc | None
    adds_mag: float = 0.0
    places: tuple[SkyPlace, ...] = ()


@dataclass(frozen=True, slots=True)
class ViewGround:
    """The land in the frame.

    Attributes
    ----------
    ridge, near : ndarray, shape (n, 2)
        Skyline of all ground, and of the ground within 250 m, left to right.
    known : bool
        False when the skyline is unknown somewhere in the frame, or no raster was given.
    bare : ndarray, shape (n, 2), or None
        Where known trees or buildings make some of the ridge: the same skyline without them.
    """

    ridge: Floats
    near: Floats
    known: bool
    bare: Floats | None = None


@dataclass(frozen=True, slots=True)
class ViewPlacement:
    """Where the target sits in the frame, and where it was asked to.

    Attributes
    ----------
    target : tuple of float
    name : str
    core_width : float
        Ten degrees of sky about the target, in frame heights.
    edge_margin : float
    box : tuple of float or None
    """

    target: tuple[float, float]
    name: str
    core_width: float
    edge_margin: float
    box: tuple[float, float, float, float] | None


@dataclass(frozen=True, slots=True)
class View:
    """One lens's picture as plain data.

    Attributes
    ----------
    label, caption : str
        The lens; when and from where.
    aspect : float
        Frame width over height.
    sky : ViewSky
    ground : ViewGround
    subject : tuple of ndarray, shape (n, 2)
        Rings of the silhouette, to be filled by the even-odd rule.
    placement : ViewPlacement
    hidden : HiddenLight or None
        Where a session's light hides behind the subject; None without one.
    shape_note : str
        That the silhouette is a plausible one and not the subject's own; empty where it is.

    Notes
    -----
    What ``sky``, ``ground`` and ``placement`` hold can be read from the view itself, as
    ``view.stars``, ``view.ridge`` or ``view.target_name``.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.alignment.view import views
    >>> view = views(plan, elevation)[0]
    >>> view.label, view.target_name, f"{view.aspect:.2f} times as wide as high"
    ('16 mm', 'Milky Way core (Sgr A*)', '1.50 times as wide as high')
    """

    label: str
    caption: str
    aspect: float
    sky: ViewSky
    stars: ClassVar[FieldOf[Stars]] = FieldOf("sky")
    band: ClassVar[FieldOf[Floats]] = FieldOf("sky")
    altitude: ClassVar[FieldOf[Floats]] = FieldOf("sky")
    planets: ClassVar[FieldOf[tuple[Planet, ...]]] = FieldOf("sky")
    moon: ClassVar[FieldOf[MoonDisc | None]] = FieldOf("sky")
    places: ClassVar[FieldOf[tuple[SkyPlace, ...]]] = FieldOf("sky")
    ground: ViewGround
    ridge: ClassVar[FieldOf[Floats]] = FieldOf("ground")
    near: ClassVar[FieldOf[Floats]] = FieldOf("ground")
    bare_ridge: ClassVar[FieldOf[Floats | None]] = FieldOf("ground", "bare")
    ground_known: ClassVar[FieldOf[bool]] = FieldOf("ground", "known")
    subject: tuple[Floats, ...]
    placement: ViewPlacement
    target: ClassVar[FieldOf[tuple[float, float]]] = FieldOf("placement")
    target_name: ClassVar[FieldOf[str]] = FieldOf("placement", "name")
    core_width: ClassVar[FieldOf[float]] = FieldOf("placement")
    edge_margin: ClassVar[FieldOf[float]] = FieldOf("placement")
    target_box: ClassVar[FieldOf[tuple[float, float, float, float] | None]] = FieldOf(
        "placement", "box"
    )
    sky_adds_mag: ClassVar[FieldOf[float]] = FieldOf("sky", "adds_mag")
    hidden: HiddenLight | None = None
    shape_note: str = ""
