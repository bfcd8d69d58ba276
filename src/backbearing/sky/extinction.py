"""What the air takes from a low target: magnitudes and colour, by altitude and site.

The coefficients are those of Schaefer's program [Schaefer1998]_ without its water vapour and
seasons: molecules as ``0.1066 e^(-h / 8200) (w / 0.55)^-4``, haze as
``0.1 e^(-h / 1500) (w / 0.55)^-1.3`` and ozone 0.031 in V alone, magnitudes a unit of air mass
with the site's height h in metres and the wavelength w in micrometres. The path through the
air is [Kasten1989]_. Airglow and smoke are not in it, and nothing is promised of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.errors import SkyError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_V_UM, _B_UM = 0.55, 0.44
_OZONE_V_MAG: Final = 0.031
MOLECULES_SCALE_M: Final = 8200.0
HAZE_SCALE_M: Final = 1500.0
"""Heights over which molecules and haze thin out to 1/e [Schaefer1998]_."""

HAZE_SIGMA: Final = 0.5
"""One standard deviation of the haze of an unmeasured night, as a share of it (judgement, no
source; [Green1992]_ lets it go from half to several times)."""


class Dimming(NamedTuple):
    """What the air takes, arrays of one shape.

    Attributes
    ----------
    air_mass : array
        Path through the air, 1 at the zenith of sea level's scale; NaN below the horizontal.
    zenith_mag : array
        V magnitudes lost at the zenith.
    lost_mag : array
        V magnitudes lost at the altitude.
    below_zenith_mag : array
        How much more that is than at the zenith.
    redder_mag : array
        By how much B - V grows above the air's edge to the eye; 0.1 is just seen in a picture.
    sigma_mag : array
        One standard deviation of ``lost_mag``.
    """

    air_mass: Floats
    zenith_mag: Floats
    lost_mag: Floats
    below_zenith_mag: Floats
    redder_mag: Floats
    sigma_mag: Floats


def kasten_young_air_mass(altitude_deg: ArrayLike) -> Floats:
    """Path through the air at an apparent altitude; NaN below the horizontal.

    ``1 / (sin h + 0.50572 (h + 6.07995)^-1.6364)`` [Kasten1989]_.

    Examples
    --------
    >>> from backbearing.sky.extinction import kasten_young_air_mass
    >>> [f"{x:.2f}" for x in kasten_young_air_mass([90.0, 30.0, 6.0])]
    ['1.00', '1.99', '8.84']
    """
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    up = np.where((altitude >= 0.0) & (altitude <= 90.0), altitude, np.nan)
    return np.asarray(1.0 / (np.sin(np.radians(up)) + 0.50572 * (up + 6.07995) ** -1.6364))


def haze_mag(height_m: ArrayLike) -> Floats:
    """V magnitudes a unit of air mass that haze takes on a clear night at a site so high."""
    return np.asarray(0.1 * np.exp(-np.asarray(height_m, dtype=np.float64) / HAZE_SCALE_M))


def molecules_mag(height_m: ArrayLike) -> Floats:
    """V magnitudes a unit of air mass that the air's molecules take at a site so high."""
    return np.asarray(0.1066 * np.exp(-np.asarray(height_m, dtype=np.float64) / MOLECULES_SCALE_M))


def extinction_mag(
    *, height_m: ArrayLike, wavelength_um: float = _V_UM, aerosol_mag: float | None = None
) -> Floats:
    """Magnitudes a unit of air mass at a site, in the V band or near another wavelength.

    ``aerosol_mag`` is the haze in V; the model's for the height when not given.
    """
    height = np.asarray(height_m, dtype=np.float64)
    ratio = wavelength_um / _V_UM
    haze = haze_mag(height) if aerosol_mag is None else np.full(height.shape, aerosol_mag)
    # Ozone's band lies about 0.6 micrometre and hardly reaches B.
    ozone = _OZONE_V_MAG if wavelength_um > 0.5 else 0.0
    return np.asarray(molecules_mag(height) * ratio**-4 + haze * ratio**-1.3 + ozone)


def dimming(
    altitude_deg: ArrayLike, *, height_m: ArrayLike = 0.0, aerosol_mag: float | None = None
) -> Dimming:
    """Say what the air takes at an apparent altitude; the inputs broadcast.

    Parameters
    ----------
    altitude_deg : array_like
        Degrees; unknown below the horizontal.
    height_m : array_like
        Of the site, metres.
    aerosol_mag : float, optional
        V magnitudes a unit of air mass that haze takes; a clear night's when not given.

    Raises
    ------
    SkyError
        For haze below zero.

    Examples
    --------
    >>> from backbearing.sky.extinction import dimming
    >>> low = dimming(6.0, height_m=400.0)
    >>> f"{low.below_zenith_mag:.1f} mag dimmer than overhead, {low.redder_mag:.1f} redder"
    '1.6 mag dimmer than overhead, 1.2 redder'
    """
    if aerosol_mag is not None and not aerosol_mag >= 0.0:
        raise SkyError(
            f"aerosol_mag is {aerosol_mag:g}",
            hint="write magnitudes a unit of air mass, 0 or more, such as 0.1",
            key="aerosol_mag",
        )
    altitude, height = np.broadcast_arrays(
        np.asarray(altitude_deg, dtype=np.float64), np.asarray(height_m, dtype=np.float64)
    )
    mass = kasten_young_air_mass(altitude)
    in_v = extinction_mag(height_m=height, aerosol_mag=aerosol_mag)
    in_b = extinction_mag(height_m=height, wavelength_um=_B_UM, aerosol_mag=aerosol_mag)
    haze = haze_mag(height) if aerosol_mag is None else np.full(height.shape, aerosol_mag)
    return Dimming(
        air_mass=mass,
        zenith_mag=in_v,
        lost_mag=np.asarray(in_v * mass),
        below_zenith_mag=np.asarray(in_v * (mass - 1.0)),
        redder_mag=np.asarray((in_b - in_v) * mass),
        sigma_mag=np.asarray(HAZE_SIGMA * haze * mass),
    )
