"""How bright the dark sky behind the target is at stands' minutes, in figures and words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import figures, num
from backbearing.base.text import length
from backbearing.land.dark_sky import DarkSky, dark_sky_of
from backbearing.plan.behind import BehindFacts
from backbearing.sky.moonlight import zenith_mag_for
from backbearing.sky.town_light import LOWEST_DEG

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.land.dark_sky import SkyTowards
    from backbearing.outing.request import Outing
    from backbearing.plan.stand import Stand

WHAT_IT_IS: Final = "without Moon, twilight and the Milky Way"
MOST_OF_IT: Final = 0.6


def dark_sky_over(scene: Scene, outing: Outing) -> DarkSky:
    """The scene's own dark sky, or the outing's where the scene was made without one."""
    return scene.dark_sky or dark_sky_of(outing, scene.subject_ground_m)


def behind_each(sky: DarkSky, stands: Sequence[Stand]) -> list[BehindFacts]:
    """Say how bright the dark sky behind the target is at each stand's minute."""
    if not stands:
        return []
    found = sky.towards(
        lat=[stand.lat for stand in stands],
        lon=[stand.lon for stand in stands],
        azimuth_deg=[stand.target_azimuth_deg for stand in stands],
        altitude_deg=[stand.target_altitude_deg for stand in stands],
    )
    return [_facts(sky, found, i, stand) for i, stand in enumerate(stands)]


def as_zenith(sky: DarkSky, stands: Sequence[Stand], behind: Sequence[BehindFacts]) -> list[float]:
    """What the models of moonlight and twilight take as the zenith's magnitude, stand by stand.

    One number for the whole sky is taken as the zenith's; a sky by direction is met at the target.
    """
    if not sky.by_direction:
        return [one.behind_mag_arcsec2 for one in behind]
    return [
        float(zenith_mag_for(one.behind_mag_arcsec2, stand.target_altitude_deg))
        for one, stand in zip(behind, stands, strict=True)
    ]


def _facts(sky: DarkSky, found: SkyTowards, i: int, stand: Stand) -> BehindFacts:
    known = sky.towns is not None and found.town[i] >= 0
    return BehindFacts(
        behind_mag_arcsec2=float(found.mag_arcsec2[i]),
        behind_cd_m2=float(found.cd_m2[i]),
        behind_natural_cd_m2=float(found.natural_cd_m2[i]),
        behind_towns_cd_m2=float(found.towns_cd_m2[i]),
        behind_sigma_mag=float(found.sigma_mag[i]),
        behind_from=sky.source,
        behind_town=sky.towns.name[found.town[i]] if sky.towns is not None and known else "",
        sentence=_words(sky, found, i, stand.target_altitude_deg),
    )


def _words(sky: DarkSky, found: SkyTowards, i: int, altitude_deg: float) -> str:
    if not math.isfinite(found.mag_arcsec2[i]):
        return (
            f"At {num(altitude_deg, 1)}° how bright the sky behind the target is is unknown: the "
            f"model of towns' light ends at {num(LOWEST_DEG)}°."
        )
    bright = (
        f"{num(found.mag_arcsec2[i], 1)} ± {num(found.sigma_mag[i], 1)} mag/arcsec2 "
        f"({figures(1e3 * found.cd_m2[i])} mcd/m2)"
    )
    if sky.source == "asked":
        return f"The sky behind the target is taken as {bright}, as asked, {WHAT_IT_IS}."
    if sky.source == "raster":
        return (
            f"The sky behind the target is taken as {bright}, the raster's at the zenith, "
            f"{WHAT_IT_IS}; low down and towards a town it is brighter."
        )
    return (
        f"At {num(altitude_deg, 1)}° the sky behind the target is {bright} by a model, "
        f"{WHAT_IT_IS}: {figures(1e3 * found.natural_cd_m2[i])} mcd/m2 natural, "
        f"{figures(1e3 * found.towns_cd_m2[i])} of towns{_whose(sky, found, i)}."
    )


def _whose(sky: DarkSky, found: SkyTowards, i: int) -> str:
    """The town that adds the most: ``, most of it Millbrook's, 18 km away``."""
    if sky.towns is None or found.town[i] < 0:
        return ""
    name = sky.towns.name[found.town[i]]
    part = "most of it" if found.town_share[i] > MOST_OF_IT else "the largest part"
    return f", {part} {name}'s, {length(float(found.town_distance_m[i]))} away"
