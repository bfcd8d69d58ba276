"""How bright the dark sky behind a target is, and where that is known from: values only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BehindFacts:
    """The sky behind the target at a stand's minute, without Moon, twilight and the Milky Way.

    Attributes
    ----------
    behind_mag_arcsec2 : float
        V magnitudes a square arcsecond as it reaches the camera; NaN where it is unknown.
    behind_cd_m2 : float
        The same, candela a square metre.
    behind_natural_cd_m2, behind_towns_cd_m2 : float
        Its parts; NaN where the outing's own number stands for both.
    behind_sigma_mag : float
        One standard deviation of ``behind_mag_arcsec2``.
    behind_from : str
        ``"asked"``, ``"raster"``, ``"towns"`` or ``"raster and towns"``.
    behind_town : str
        The town that adds the most; empty without towns.
    sentence : str
    """

    behind_mag_arcsec2: float
    behind_cd_m2: float
    behind_natural_cd_m2: float
    behind_towns_cd_m2: float
    behind_sigma_mag: float
    behind_from: str
    behind_town: str
    sentence: str
