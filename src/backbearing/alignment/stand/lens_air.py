"""What the air takes from the target at a stand's minute."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.plan.lamp import AirFacts
from backbearing.sky.extinction import dimming, haze_mag

if TYPE_CHECKING:
    from backbearing.plan.stand import Stand


def air_facts(stand: Stand, site_m: float, aerosol_mag: float | None) -> AirFacts:
    """Say how much dimmer and redder the air makes the target.

    Parameters
    ----------
    stand : Stand
    site_m : float
        Height of the site, metres.
    aerosol_mag : float, optional
        As asked; a clear night's haze when not given.
    """
    air = dimming(stand.target_altitude_deg, height_m=site_m, aerosol_mag=aerosol_mag)
    facts = [float(v) for v in (air.air_mass, air.lost_mag, air.below_zenith_mag, air.redder_mag)]
    sigma = float(air.sigma_mag)
    return AirFacts(
        air_mass=facts[0],
        haze_mag=float(haze_mag(site_m)) if aerosol_mag is None else aerosol_mag,
        lost_mag=facts[1],
        dimmer_mag=facts[2],
        redder_mag=facts[3],
        air_sigma_mag=sigma,
        sentence=_words(stand.target_altitude_deg, facts[2], facts[3], sigma),
    )


def _words(altitude_deg: float, dimmer: float, redder: float, sigma: float) -> str:
    if not math.isfinite(dimmer):
        return "Below the horizontal what the air takes is unknown."
    return (
        f"At {num(altitude_deg, 1)}° the air makes it {num(dimmer, 1)} ± {num(sigma, 1)} mag "
        f"dimmer than overhead, and its B-V {num(redder, 1)} mag redder than above the air; by a "
        "model, without smoke or airglow."
    )
