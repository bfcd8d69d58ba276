"""A small lamp on a subject: candela, lux and the brightness that a camera sees.

The relations are those that every handbook of photometry begins with [Palmer2010]_: a lamp of
so many lumens spread evenly over its beam, the inverse square, the cosine of the angle on a
face, and a matt face that looks equally bright from everywhere, ``L = rho E / pi``. Real beams
are brighter in their middle, by a factor of two or so, and real faces are not quite matt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import CameraError
from backbearing.camera._numbers import plain, positive, within

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from backbearing.camera._numbers import Floats

PAPER_PASSES: Final = 0.2
"""Share of light that a sheet of white office paper lets through, spread to all sides; 0.1 to
0.3 (common practice, no source: hold your sheet before a meter)."""

CARD_GIVES_BACK: Final = 0.8
"""Share of light that a white card gives back, spread to all sides; 0.7 to 0.9 (common practice,
no source)."""

LAMP_SIGMA_STOPS: Final = 0.5
"""One standard deviation of a lamp's light on a face, stops: stated lumens and the beam's shape
(judgement, no source)."""


@dataclass(frozen=True, slots=True)
class Surface:
    """How much light a surface gives back.

    Attributes
    ----------
    name : str
    reflectance : float
        The middle of the range, as a share.
    low, high : float
        The range.
    source : str
        A key of the references, or that there is none.
    """

    name: str
    reflectance: float
    low: float
    high: float
    source: str

    @property
    def sigma_stops(self) -> float:
        """One standard deviation, stops: the range taken as two of them, each way one."""
        return 0.5 * math.log2(self.high / self.low)


_NO_SOURCE: Final = "common practice, no source"
SURFACES: Final[dict[str, Surface]] = {
    one.name: one
    for one in (
        Surface("bark", 0.15, 0.08, 0.30, _NO_SOURCE),
        Surface("pale bark", 0.40, 0.25, 0.60, _NO_SOURCE),
        Surface("grey wood", 0.25, 0.15, 0.40, _NO_SOURCE),
        Surface("rock", 0.26, 0.20, 0.35, "Oke1987"),
        Surface("brick", 0.28, 0.20, 0.40, "Oke1987"),
        Surface("concrete", 0.19, 0.10, 0.35, "Oke1987"),
        Surface("whitewash", 0.67, 0.50, 0.90, "Oke1987"),
        Surface("dry grass", 0.21, 0.16, 0.28, "Oke1987"),
        Surface("sand", 0.34, 0.23, 0.45, _NO_SOURCE),
        Surface("snow", 0.87, 0.80, 0.95, "Oke1987"),
        Surface("old snow", 0.53, 0.40, 0.70, "Oke1987"),
    )
}
"""Reflectances of whole sunlight, dry; what is wet is darker by up to half, and leaves and grass
give back less of what the eye sees than of the rest."""


def surface_named(name: str) -> Surface:
    """Look up a surface of the table.

    Raises
    ------
    CameraError
        For a name that is not in it.
    """
    found = SURFACES.get(name.strip().lower())
    if found is None:
        raise CameraError(
            f"surface is {name!r}, which is not in the table",
            hint=f"write one of {', '.join(SURFACES)}, or reflectance = 0.3 in its stead",
            key="surface",
        )
    return found


def cone_sr(beam_deg: ArrayLike) -> float | Floats:
    """Solid angle of a round beam so wide from edge to edge, ``2 pi (1 - cos(beam / 2))``.

    Parameters
    ----------
    beam_deg : array_like
        Full angle, above 0 to 360 degrees.

    Raises
    ------
    CameraError
        For an angle outside.
    """
    positive(beam_deg, "beam_deg", "degrees")
    beam = within(beam_deg, "beam_deg", "degrees", low=0.0, high=360.0)
    # 1 - cos x = 2 sin^2(x / 2), which keeps its digits for a narrow beam.
    return plain(np.asarray(4.0 * np.pi * np.sin(np.radians(beam) / 4.0) ** 2))


def intensity_cd(*, lumens: ArrayLike, beam_deg: ArrayLike = 360.0) -> float | Floats:
    """Candela of a lamp that spreads its lumens evenly over a round beam.

    Examples
    --------
    >>> from backbearing.camera.photometry import intensity_cd
    >>> f"{intensity_cd(lumens=200.0, beam_deg=40.0):.0f} cd"
    '528 cd'
    """
    flux = positive(lumens, "lumens", "lumens")
    return plain(np.asarray(flux / np.asarray(cone_sr(beam_deg))))


def matt_intensity_cd(lumens: ArrayLike) -> float | Floats:
    """Candela straight off a matt sheet or card that gives off so many lumens, ``Phi / pi``."""
    return plain(np.asarray(positive(lumens, "lumens", "lumens") / np.pi))


def illuminance_lux(
    *, intensity: ArrayLike, distance_m: ArrayLike, angle_deg: ArrayLike = 0.0
) -> float | Floats:
    """Lux on a face, ``I cos(a) / d^2``; nothing on a face that is turned away.

    Parameters
    ----------
    intensity : array_like
        Candela towards the face.
    distance_m : array_like
        From the lamp, which is small beside it.
    angle_deg : array_like
        Between the light and the face's normal, 0 to 180.

    Examples
    --------
    >>> from backbearing.camera.photometry import illuminance_lux
    >>> illuminance_lux(intensity=100.0, distance_m=2.0)
    25.0
    """
    far = positive(distance_m, "distance_m", "metres")
    off = within(angle_deg, "angle_deg", "degrees", low=0.0, high=180.0)
    cosine = np.maximum(np.cos(np.radians(off)), 0.0)
    return plain(np.asarray(np.asarray(intensity, dtype=np.float64) * cosine / far**2))


def luminance_of_face_cd_m2(*, lux: ArrayLike, reflectance: ArrayLike) -> float | Floats:
    """Candela a square metre of a matt face, ``rho E / pi``."""
    share = within(reflectance, "reflectance", "a share", low=0.0, high=1.0)
    return plain(np.asarray(share * np.asarray(lux, dtype=np.float64) / np.pi))


def lux_for_luminance(*, cd_m2: ArrayLike, reflectance: ArrayLike) -> float | Floats:
    """Lux that make a matt face so bright, ``pi L / rho``."""
    positive(reflectance, "reflectance", "a share")
    share = within(reflectance, "reflectance", "a share", low=0.0, high=1.0)
    return plain(np.asarray(np.pi * np.asarray(cd_m2, dtype=np.float64) / share))


def stops_between(bright: ArrayLike, dark: ArrayLike) -> float | Floats:
    """How many stops one light is over another."""
    with np.errstate(divide="ignore"):
        return plain(np.asarray(np.log2(np.asarray(bright, float) / np.asarray(dark, float))))


def rim_cosine(
    *, behind_m: float, half_width_m: float, stand_m: float, lamp_below_m: float = 0.0
) -> float:
    """Share of the lamp's light that the brightest facet of a broken edge takes, seen from a stand.

    The lamp stands ``behind_m`` behind the subject's middle, on the line from the stand; the
    edge is half a width aside and ``lamp_below_m`` higher. An edge of bark or stone has small
    facets turned all ways. One that both the lamp and the camera see has a normal between the
    two; the best has it in the middle, and then the cosine at the lamp is that of half the
    angle between the ways to lamp and camera, ``cos(gamma / 2)``. A smooth round edge shows
    nothing: so this is the most of a broken edge, and leaves or hair that let light through
    can show more (this project's own model, no source).

    Examples
    --------
    >>> from backbearing.camera.photometry import rim_cosine
    >>> f"{rim_cosine(behind_m=3.0, half_width_m=1.5, stand_m=30.0):.2f}"
    '0.25'
    """
    to_lamp = np.array([half_width_m, behind_m, lamp_below_m])
    to_stand = np.array([half_width_m, -stand_m, 0.0])
    cosine = float(to_lamp @ to_stand / (np.linalg.norm(to_lamp) * np.linalg.norm(to_stand)))
    return math.sqrt(max(0.0, (1.0 + cosine) / 2.0))
