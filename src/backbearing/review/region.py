"""What a region's stars say together: medians, their errors, and the prediction beside them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.review.prediction import Pointing

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

FEWEST_STARS: Final = 5
"""Fewer stars than this in a region give no figure."""

SURE_SIGMA: Final = 3.0
_MAD: Final = 1.4826
# Standard error of a median over that of a mean, for a normal scatter.
_MEDIAN_LOSS: Final = 1.2533


@dataclass(frozen=True, slots=True)
class RegionTrails:
    """Trails in one part of the frame.

    Attributes
    ----------
    where : str
        ``"centre"``, ``"upper left"`` and so on, or ``"whole frame"``.
    stars : int
        Stars used.
    length_px, length_sigma_px : float
        Median length of the trails, the star's own width taken off, and its standard
        error from the scatter among the stars; 0 where the scatter hides it, NaN where
        there are too few stars.
    at_most_px : float
        Longest trail that the scatter could hide (three standard errors).
    angle_deg, angle_sigma_deg : float
        Anticlockwise from the right in the upright picture, 0 to below 180; NaN where the
        trail is too short to have one.
    width_px : float
        Full width at half maximum of the stars across their trails.
    predicted_length_px, predicted_angle_deg : float
        Medians of the prediction at the same stars; NaN without a pointing.
    angle_off_deg : float
        Measured less predicted angle, -90 to 90.
    extra_px, extra_angle_deg : float
        What smear of its own, added to the prediction, would give the measured trail.

    Examples
    --------
    Of an invented picture with level trails of six pixels:

    >>> import numpy as np
    >>> from backbearing.review import Picture, measure_trails
    >>> rng = np.random.default_rng(1)
    >>> rows, columns = np.mgrid[-7:8, -12:13]
    >>> steps = np.linspace(-3.0, 3.0, 25)
    >>> trail = sum(np.exp(-((columns - step) ** 2 + rows**2) / 2.9) for step in steps)
    >>> light = 0.02 + rng.normal(0.0, 0.003, (600, 900))
    >>> for x, y in zip(rng.integers(0, 875, 150), rng.integers(0, 585, 150)):
    ...     light[y : y + 15, x : x + 25] += 0.02 * trail
    >>> picture = Picture.of_array(np.float32(light.clip(0.0, 1.0)))
    >>> whole = measure_trails(picture).whole
    >>> whole.where, whole.stars > 50, f"{whole.width_px:.1f} pixels across"
    ('whole frame', True, '2.8 pixels across')
    """

    where: str
    stars: int
    length_px: float
    length_sigma_px: float
    at_most_px: float
    angle_deg: float
    angle_sigma_deg: float
    width_px: float
    predicted_length_px: float = math.nan
    predicted_angle_deg: float = math.nan
    angle_off_deg: float = math.nan
    extra_px: float = math.nan
    extra_angle_deg: float = math.nan

    @property
    def measured(self) -> bool:
        """Whether there were stars enough."""
        return math.isfinite(self.length_px)


def summarise(
    where: str,
    x: Floats,
    y: Floats,
    q: NDArray[np.complex128],
    sigma: Floats,
    pointing: Pointing | None,
) -> RegionTrails:
    """Take medians over a region's stars, outliers left out.

    Parameters
    ----------
    where : str
    x, y : ndarray, shape (n,)
        Places, fractions of the frame.
    q : ndarray of complex, shape (n,)
        ``L^2 exp(2 i a)``, pixels squared.
    sigma : ndarray, shape (n,)
        Widths, pixels.
    pointing : Pointing or None
    """
    length, angle = (np.full(len(x), math.nan),) * 2
    if pointing is not None and len(x):
        length, angle = pointing.trails(x, y)
    known = pointing is not None and len(x) > 0 and bool(np.isfinite(length).all())
    turn = np.exp(-2j * np.radians(angle)) if known else np.ones(len(x), dtype=np.complex128)
    # Less the prediction: trails that differ over the region are no scatter.
    beyond = np.asarray(q * turn - (length**2 if known else 0.0), dtype=np.complex128)
    keep = _without_outliers(beyond)
    if keep.sum() < FEWEST_STARS:
        return _unmeasured(where, int(keep.sum()))
    beyond, sigma = beyond[keep], sigma[keep]
    predicted = _predicted(length[keep], angle[keep]) if known else (math.nan, math.nan)
    middle = complex(np.median(beyond.real), np.median(beyond.imag))
    middle += predicted[0] ** 2 if known else 0.0
    error = (_spread(beyond.real), _spread(beyond.imag))
    measured = _length_and_angle(middle, error, len(beyond))
    off = measured[3]
    extra = middle - predicted[0] ** 2 if known else complex(math.nan, math.nan)
    lag = predicted[1] if known else 0.0
    return RegionTrails(
        where=where,
        stars=len(beyond),
        length_px=measured[0],
        length_sigma_px=measured[1],
        at_most_px=measured[2],
        angle_deg=(off + lag) % 180.0,
        angle_sigma_deg=measured[4],
        width_px=2.3548 * float(np.median(sigma)),
        predicted_length_px=predicted[0],
        predicted_angle_deg=predicted[1],
        angle_off_deg=(off + 90.0) % 180.0 - 90.0 if known else math.nan,
        extra_px=math.sqrt(abs(extra)) if known else math.nan,
        extra_angle_deg=(math.degrees(math.atan2(extra.imag, extra.real)) / 2.0 + lag) % 180.0
        if known
        else math.nan,
    )


def _length_and_angle(
    middle: complex, error: tuple[float, float], stars: int
) -> tuple[float, float, float, float, float]:
    """Length, its error, the longest hidden, angle against the axis, its error."""
    loss = _MEDIAN_LOSS / math.sqrt(stars)
    along, aslant = error[0] * loss, error[1] * loss
    size = abs(middle)
    least = SURE_SIGMA * max(along, aslant, 1e-9)
    at_most = math.sqrt(size + least)
    if size < least:
        return 0.0, at_most / 2.0, at_most, math.nan, math.nan
    length = math.sqrt(size)
    angle = math.degrees(math.atan2(middle.imag, middle.real)) / 2.0
    return length, along / (2.0 * length), at_most, angle, math.degrees(aslant / (2.0 * size))


def _predicted(length: Floats, angle: Floats) -> tuple[float, float]:
    """Middle of predicted lengths, and of angles about their mean direction."""
    double = np.exp(2j * np.radians(angle)).mean()
    mean = math.degrees(math.atan2(double.imag, double.real)) / 2.0
    return math.sqrt(float(np.median(length**2))), mean % 180.0


def _without_outliers(q: NDArray[np.complex128]) -> Flags:
    keep = np.isfinite(q)
    for _ in range(3):
        if keep.sum() < FEWEST_STARS:
            break
        middle = complex(np.median(q[keep].real), np.median(q[keep].imag))
        scatter = max(_spread(q[keep].real), _spread(q[keep].imag), 1e-3)
        keep = np.isfinite(q) & (np.abs(q - middle) < 4.0 * scatter)
    return np.asarray(keep)


def _spread(values: Floats) -> float:
    return _MAD * float(np.median(np.abs(values - np.median(values))))


def _unmeasured(where: str, stars: int) -> RegionTrails:
    nan = math.nan
    return RegionTrails(where, stars, nan, nan, nan, nan, nan, nan)
