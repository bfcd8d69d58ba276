"""A mount that turns with the sky: how fast a polar error lets the stars drift.

The sky turns about the pole and the mount about its own axis, both at the sidereal rate w. What
is left is a turn about the axis that is the difference of the two: stars drift by at most
``w e`` for a polar error of e, those that stand a quarter of a turn from that axis; 1 degree makes
15.7 arcseconds a minute, as guides to drift alignment print. Analyses of what the error does to
a guided frame are [Hook1989]_ and [Covington1999]_.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.camera._numbers import require_number
from backbearing.camera.bodies_and_lenses import check_pair

if TYPE_CHECKING:
    from backbearing.camera.bodies_and_lenses import Camera, Lens

ARCSEC_RAD: Final = math.radians(1.0 / 3600.0)


def polar_drift_arcsec_s(polar_error_arcmin: float) -> float:
    """Fastest drift of any star, arcseconds a second: ``2 w sin(e / 2)``.

    Parameters
    ----------
    polar_error_arcmin : float
        Angle between the mount's axis and the pole, arcminutes.

    Raises
    ------
    CameraError
        For an error that is not above zero.

    Examples
    --------
    >>> from backbearing.camera.tracking import polar_drift_arcsec_s
    >>> f"{60.0 * polar_drift_arcsec_s(60.0):.2f} arcseconds a minute for a degree"
    '15.75 arcseconds a minute for a degree'
    """
    error = require_number(polar_error_arcmin, "polar_error_arcmin", "arcminutes")
    turned = 2.0 * math.sin(math.radians(error / 60.0) / 2.0)
    return SIDEREAL_RATE_RAD_S * turned / ARCSEC_RAD


def pixel_arcsec(camera: Camera, lens: Lens) -> float:
    """Width of a pixel on the sky in the middle of the frame, arcseconds."""
    check_pair(camera, lens)
    return math.atan(camera.pixel_pitch_um * 1e-3 / lens.focal_length_mm) / ARCSEC_RAD


def seconds_to_drift(camera: Camera, lens: Lens, drift_arcsec_s: float, *, pixels: float) -> float:
    """How long a drift takes over so many pixels in the middle of the frame, seconds.

    In a corner pixels are smaller on the sky, by the square of the cosine off the axis with a
    rectilinear lens. Infinite without a drift.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens
    >>> from backbearing.camera.tracking import polar_drift_arcsec_s, seconds_to_drift
    >>> lens = Lens(focal_length_mm=85.0)
    >>> drift = polar_drift_arcsec_s(20.0)
    >>> f"{seconds_to_drift(Camera(), lens, drift, pixels=1.0):.0f} s for a pixel"
    '167 s for a pixel'
    """
    wide = require_number(pixels, "pixels", "pixels") * pixel_arcsec(camera, lens)
    return wide / drift_arcsec_s if drift_arcsec_s > 0.0 else math.inf
