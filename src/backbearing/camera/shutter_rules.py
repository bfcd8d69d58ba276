"""The rules of thumb for the shutter that photographers know, with where they come from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, overload

import numpy as np

from backbearing.camera._numbers import Floats, plain, positive, within
from backbearing.camera.trailing import trail_length_px

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from backbearing.camera.bodies_and_lenses import Camera, Lens

PRACTICE: Final = "common practice, no source"
NPF_SOURCE: Final = (
    "F. Michaud, Societe Astronomique du Havre; coefficients from secondary transcriptions, "
    "the primary was not seen"
)
FULL_FRAME_DIAGONAL_MM: Final = float(np.hypot(36.0, 24.0))


@dataclass(frozen=True, slots=True)
class ShutterRule:
    """What one rule says.

    Attributes
    ----------
    name : str
        What the rule is called in the trade.
    shutter_s : float
        The shutter it gives, seconds.
    trail_px : float
        The trail at the frame's centre with that shutter, pixels.
    source : str
        Where the rule comes from.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, common_rules
    >>> rule = common_rules(Camera(), Lens(focal_length_mm=20.0), declination_deg=-29.0)[0]
    >>> f"{rule.name}: {rule.shutter_s:.0f} s, a trail of {rule.trail_px:.1f} pixels"
    '500 rule: 25 s, a trail of 5.3 pixels'
    """

    name: str
    shutter_s: float
    trail_px: float
    source: str


@overload
def focal_length_rule_s(
    focal_length_mm: float, *, constant: float = ..., crop_factor: float = ...
) -> float: ...
@overload
def focal_length_rule_s(
    focal_length_mm: ArrayLike, *, constant: float = ..., crop_factor: float = ...
) -> Floats: ...
def focal_length_rule_s(
    focal_length_mm: ArrayLike, *, constant: float = 500.0, crop_factor: float = 1.0
) -> float | Floats:
    """Shutter by a constant over the focal length (common practice, no source).

    Parameters
    ----------
    focal_length_mm : array_like
        Millimetres.
    constant : float
        500, 400 or 300 by custom.
    crop_factor : float
        Diagonal of 36 x 24 mm over the sensor's diagonal.

    Returns
    -------
    float or ndarray
        Seconds.

    Raises
    ------
    CameraError
        For a focal length that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import focal_length_rule_s
    >>> f"{focal_length_rule_s(35.0, constant=500.0, crop_factor=1.5):.1f} s"
    '9.5 s'
    """
    focal = positive(focal_length_mm, "focal_length_mm", "millimetres")
    return plain(np.asarray(constant / (focal * crop_factor)))


@overload
def npf_simple_s(focal_length_mm: float, f_number: float, pixel_pitch_um: float) -> float: ...
@overload
def npf_simple_s(
    focal_length_mm: ArrayLike, f_number: ArrayLike, pixel_pitch_um: ArrayLike
) -> Floats: ...
def npf_simple_s(
    focal_length_mm: ArrayLike, f_number: ArrayLike, pixel_pitch_um: ArrayLike
) -> float | Floats:
    """Shutter by the simplified N-P-F rule, ``(35 N + 30 p) / f`` [Michaud2016].

    Parameters
    ----------
    focal_length_mm : array_like
        Millimetres.
    f_number : array_like
    pixel_pitch_um : array_like
        Micrometres. All three broadcast together.

    Returns
    -------
    float or ndarray
        Seconds.

    Raises
    ------
    CameraError
        For a value that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import npf_simple_s
    >>> f"{npf_simple_s(35.0, 2.0, 5.98):.1f} s"
    '7.1 s'
    """
    focal = positive(focal_length_mm, "focal_length_mm", "millimetres")
    number = positive(f_number, "f_number", "such as 2.8")
    pitch = positive(pixel_pitch_um, "pixel_pitch_um", "micrometres")
    return plain(np.asarray((35.0 * number + 30.0 * pitch) / focal))


@overload
def npf_full_s(
    focal_length_mm: float,
    f_number: float,
    pixel_pitch_um: float,
    declination_deg: float,
    *,
    k: float = ...,
) -> float: ...
@overload
def npf_full_s(
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    pixel_pitch_um: ArrayLike,
    declination_deg: ArrayLike,
    *,
    k: float = ...,
) -> Floats: ...
def npf_full_s(
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    pixel_pitch_um: ArrayLike,
    declination_deg: ArrayLike,
    *,
    k: float = 1.0,
) -> float | Floats:
    """Shutter by the full N-P-F rule [Michaud2016].

    ``k (16.856 N + 0.0997 f + 13.713 p) / (f cos(dec))``: it lengthens away from the
    celestial equator.

    Parameters
    ----------
    focal_length_mm : array_like
        Millimetres.
    f_number : array_like
    pixel_pitch_um : array_like
        Micrometres.
    declination_deg : array_like
        Degrees. All four broadcast together.
    k : float, optional
        1 for barely visible trails, 2 and 3 for more lenient ones.

    Returns
    -------
    float or ndarray
        Seconds; infinite at the celestial poles.

    Raises
    ------
    CameraError
        For a value that is not above zero, or a declination beyond 90 degrees.

    Examples
    --------
    >>> from backbearing.camera import npf_full_s
    >>> f"{npf_full_s(35.0, 2.0, 5.98, -29.0):.1f} s"
    '3.9 s'
    """
    focal = positive(focal_length_mm, "focal_length_mm", "millimetres")
    number = positive(f_number, "f_number", "such as 2.8")
    pitch = positive(pixel_pitch_um, "pixel_pitch_um", "micrometres")
    declination = within(declination_deg, "declination_deg", "degrees", low=-90.0, high=90.0)
    cosine = np.where(np.abs(declination) == 90.0, 0.0, np.cos(np.radians(declination)))
    with np.errstate(divide="ignore"):
        return plain(
            np.asarray(k * (16.856 * number + 0.0997 * focal + 13.713 * pitch) / (focal * cosine))
        )


def common_rules(camera: Camera, lens: Lens, *, declination_deg: float) -> tuple[ShutterRule, ...]:
    """Return what the common rules say, to stand beside the computed shutter.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    declination_deg : float
        Of the target, degrees.

    Returns
    -------
    tuple of ShutterRule

    Raises
    ------
    CameraError
        For a declination beyond 90 degrees.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, common_rules
    >>> for rule in common_rules(Camera(), Lens(focal_length_mm=20.0), declination_deg=-29.0):
    ...     print(f"{rule.name}: {rule.shutter_s:.1f} s")
    500 rule: 25.0 s
    400 rule: 20.0 s
    300 rule: 15.0 s
    N-P-F simplified: 13.9 s
    N-P-F full, k = 1: 7.5 s
    N-P-F full, k = 2: 15.0 s
    """
    focal, number, pitch = lens.focal_length_mm, lens.f_number, camera.pixel_pitch_um
    crop = FULL_FRAME_DIAGONAL_MM / camera.frame_diagonal_mm
    found = [
        (
            f"{constant} rule",
            focal_length_rule_s(focal, constant=constant, crop_factor=crop),
            PRACTICE,
        )
        for constant in (500, 400, 300)
    ]
    found += [
        ("N-P-F simplified", npf_simple_s(focal, number, pitch), NPF_SOURCE),
        ("N-P-F full, k = 1", npf_full_s(focal, number, pitch, declination_deg), NPF_SOURCE),
        ("N-P-F full, k = 2", npf_full_s(focal, number, pitch, declination_deg, k=2.0), NPF_SOURCE),
    ]
    return tuple(
        ShutterRule(
            name=name,
            shutter_s=float(shutter),
            trail_px=trail_length_px(float(shutter), focal, pitch, declination_deg)
            if np.isfinite(shutter)
            else 0.0,
            source=source,
        )
        for name, shutter, source in found
    )
