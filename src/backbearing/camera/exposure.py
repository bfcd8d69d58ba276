"""Stops, shutter speeds and f-numbers, as marked on a camera and as they are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, overload

import numpy as np

from backbearing.camera._numbers import Floats, plain, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

STANDARD_SHUTTERS_S: Final[tuple[float, ...]] = (
    *(30.0, 25.0, 20.0, 15.0, 13.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.2, 2.5, 2.0, 1.6, 1.3, 1.0),
    *(0.8, 0.6, 0.5, 0.4, 0.3, 1 / 4, 1 / 5, 1 / 6, 1 / 8, 1 / 10, 1 / 13, 1 / 15, 1 / 20),
    *(1 / 25, 1 / 30, 1 / 40, 1 / 50, 1 / 60, 1 / 80, 1 / 100, 1 / 125, 1 / 160, 1 / 200),
    *(1 / 250, 1 / 320, 1 / 400, 1 / 500, 1 / 640, 1 / 800, 1 / 1000),
)
"""Marked shutter speeds in thirds of a stop, longest first, seconds (common practice, no
source). Beyond 30 s the shutter is held open by hand or remote."""

STANDARD_F_NUMBERS: Final[tuple[float, ...]] = (
    *(1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6),
    *(6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0),
)
"""Marked f-numbers in thirds of a stop (common practice, no source)."""


def f_number_of_stop(av: ArrayLike) -> Floats:
    """F-number of an aperture value, ``N = 2^(Av/2)`` [CIPA-DC-008 annex C].

    Parameters
    ----------
    av : array_like
        Aperture value in stops; 0 is f/1.

    Returns
    -------
    ndarray
        Exact f-numbers, same shape.
    """
    return np.asarray(2.0 ** (np.asarray(av, dtype=np.float64) / 2.0))


def shutter_of_stop_s(tv: ArrayLike) -> Floats:
    """Shutter time of a time value, ``t = 2^-Tv`` [CIPA-DC-008 annex C].

    Parameters
    ----------
    tv : array_like
        Time value in stops; 0 is 1 s, -5 is 32 s.

    Returns
    -------
    ndarray
        Seconds, same shape.
    """
    return np.asarray(2.0 ** -np.asarray(tv, dtype=np.float64))


@overload
def exact_f_number(marked: float) -> float: ...
@overload
def exact_f_number(marked: ArrayLike) -> Floats: ...
def exact_f_number(marked: ArrayLike) -> float | Floats:
    """F-number meant by a marked one: the nearest third of a stop, as f/5.6 means 5.657.

    Parameters
    ----------
    marked : array_like
        F-numbers as marked.

    Returns
    -------
    float or ndarray

    Raises
    ------
    CameraError
        For an f-number that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import exact_f_number
    >>> f"f/5.6 means f/{exact_f_number(5.6):.3f}"
    'f/5.6 means f/5.657'
    """
    av = 2.0 * np.log2(positive(marked, "f_number", "such as 2.8"))
    return plain(f_number_of_stop(np.round(3.0 * av) / 3.0))


@overload
def exact_shutter_s(marked_s: float) -> float: ...
@overload
def exact_shutter_s(marked_s: ArrayLike) -> Floats: ...
def exact_shutter_s(marked_s: ArrayLike) -> float | Floats:
    """Time meant by a marked shutter speed: the nearest third of a stop, as 30 s means 32 s.

    A camera that times by stops so trails up to 7 percent more than its marking says.

    Parameters
    ----------
    marked_s : array_like
        Shutter speeds as marked, seconds.

    Returns
    -------
    float or ndarray
        Seconds.

    Raises
    ------
    CameraError
        For a time that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import exact_shutter_s
    >>> f"30 s means {exact_shutter_s(30.0):.1f} s"
    '30 s means 32.0 s'
    """
    tv = -np.log2(positive(marked_s, "shutter_s", "seconds"))
    return plain(shutter_of_stop_s(np.round(3.0 * tv) / 3.0))


@overload
def standard_shutter_s(longest_s: float) -> float: ...
@overload
def standard_shutter_s(longest_s: ArrayLike) -> Floats: ...
def standard_shutter_s(longest_s: ArrayLike) -> float | Floats:
    """Longest marked shutter speed that is not above `longest_s`.

    Parameters
    ----------
    longest_s : array_like
        Seconds; may be infinite.

    Returns
    -------
    float or ndarray
        One of `STANDARD_SHUTTERS_S`; NaN where `longest_s` is shorter than all of them
        or unknown.

    Raises
    ------
    CameraError
        For a time that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import standard_shutter_s
    >>> f"{standard_shutter_s(11.7):g} s"
    '10 s'
    """
    longest = positive(longest_s, "shutter_s", "seconds", infinite=True)
    rising = np.array(STANDARD_SHUTTERS_S[::-1])
    # A computed 20 s may come out one bit short of the marked 20 s.
    place = np.searchsorted(rising, longest * (1.0 + 1e-12), side="right") - 1
    known = (place >= 0) & ~np.isnan(longest)
    return plain(np.where(known, rising[np.maximum(place, 0)], np.nan))


@overload
def exposure_value(f_number: float, shutter_s: float) -> float: ...
@overload
def exposure_value(f_number: ArrayLike, shutter_s: ArrayLike) -> Floats: ...
def exposure_value(f_number: ArrayLike, shutter_s: ArrayLike) -> float | Floats:
    """Exposure value of aperture and shutter, ``Ev = log2(N^2 / t)`` [CIPA-DC-008 annex C].

    One more is half the light on the sensor.

    Parameters
    ----------
    f_number : array_like
    shutter_s : array_like
        Seconds; broadcasts with `f_number`.

    Returns
    -------
    float or ndarray
        Stops.

    Raises
    ------
    CameraError
        For a value that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import exposure_value
    >>> f"{exposure_value(2.0, 8.0):.1f} stops"
    '-1.0 stops'
    """
    number = positive(f_number, "f_number", "such as 2.8")
    return plain(np.asarray(np.log2(number**2 / positive(shutter_s, "shutter_s", "seconds"))))
