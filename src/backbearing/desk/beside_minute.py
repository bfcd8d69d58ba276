"""What stands beside a minute's stands: air, sky, lamp, trees on the skyline, a forecast's cloud.

Only what the outing has: what it does not ask about is None.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from backbearing.alignment.night.lamp_light import lamp_at_minute
from backbearing.alignment.night.lamp_words import shutter_words
from backbearing.alignment.stand.lens_air import air_facts
from backbearing.alignment.stand.lens_figures import longest_shutter
from backbearing.alignment.stand.sky_behind import behind_each, dark_sky_over
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.plan.optics import LensFigures
from backbearing.plan.stand import LensPlan
from backbearing.weather.told import DOUBT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.lamp import LampTurn
    from backbearing.plan.stand import Stand


def beside_rows(
    night: PreparedNight, stands: Sequence[Stand | None]
) -> list[dict[str, Any] | None]:
    """Say for each lens what light, air, trees and cloud do at its stand; None without a stand.

    Returns
    -------
    list of dict
        ``air``, ``behind``, ``skyline``, ``cloud`` and ``lamp``, each with its numbers and
        ``says``, sentences that name the doubt. ``skyline`` is None where the outing knows nothing
        of trees,
        ``cloud`` without a forecast, ``lamp`` without a [light].
    """
    there = [stand for stand in stands if stand is not None]
    skies = behind_each(dark_sky_over(night.scene, night.outing), there)
    lamps, behind = iter(_lamps(night, there, skies)), iter(skies)
    return [
        None
        if stand is None
        else {
            "air": _air(night, stand),
            "behind": _behind(next(behind)),
            "skyline": _skyline(stand),
            "cloud": _cloud(night, stand),
            "lamp": next(lamps),
        }
        for stand in stands
    ]


def _air(night: PreparedNight, stand: Stand) -> dict[str, Any]:
    air = air_facts(stand, night.scene.subject_ground_m, night.outing.night.aerosol_mag)
    return {
        "dimmer_mag": air.dimmer_mag,
        "redder_mag": air.redder_mag,
        "sigma_mag": air.air_sigma_mag,
        "says": [air.sentence],
    }


def _behind(sky: BehindFacts) -> dict[str, Any]:
    """The dark sky behind the target at a stand."""
    return {
        "mag_arcsec2": sky.behind_mag_arcsec2,
        "cd_m2": sky.behind_cd_m2,
        "sigma_mag": sky.behind_sigma_mag,
        "from": sky.behind_from,
        "says": [sky.sentence],
    }


def _skyline(stand: Stand) -> dict[str, Any] | None:
    """The bare ground's skyline and the tops', both or none of them known."""
    if not math.isfinite(stand.bare_skyline_deg):
        return None
    return {
        "bare_deg": stand.bare_skyline_deg,
        "covered_deg": stand.skyline_deg,
        "sigma_deg": stand.clearance_sigma_deg,
        "cover": stand.skyline_cover,
        "says": [_skyline_words(stand)],
    }


def _skyline_words(stand: Stand) -> str:
    altitude = num(stand.bare_skyline_deg, 1)
    bare = f"The skyline behind the target stands {altitude}° up over bare ground"
    doubt = f"the clearance is good to ± {num(stand.clearance_sigma_deg, 1)}°"
    far = length(stand.skyline_distance_m)
    if stand.skyline_cover == "unknown":
        return f"{bare}, {far} away; whether trees stand on it is unknown; {doubt}."
    if stand.skyline_cover:
        covered = f"{num(stand.skyline_deg, 1)}° with what stands there: {stand.skyline_cover}"
        return f"{bare}, {covered}, {far} away; {doubt}."
    if abs(stand.skyline_deg - stand.bare_skyline_deg) > 1e-6:
        return f"{bare}, {num(stand.skyline_deg, 1)}° by your marks; {doubt}."
    return f"{bare}, {far} away, and no trees are known on it; {doubt}."


def _cloud(night: PreparedNight, stand: Stand) -> dict[str, Any] | None:
    if night.scene.forecast is None:
        return None
    return {
        "site": stand.cloud.site,
        "towards": stand.cloud.towards,
        "says": [stand.cloud_words, DOUBT],
    }


def _lamps(
    night: PreparedNight, stands: Sequence[Stand], skies: Sequence[BehindFacts]
) -> list[dict[str, Any] | None]:
    outing = night.outing
    if outing.exposure.lamp is None:
        return [None] * len(stands)
    lenses = [_lens_plan(night, stand) for stand in stands]
    turns = lamp_at_minute(outing, night.scene, lenses, skies)
    apart = shutter_words(turns)
    return [_lamp(turn, apart) for turn in turns]


def _lens_plan(night: PreparedNight, stand: Stand) -> LensPlan:
    """As much of a lens's plan as the lamp asks for."""
    outing = night.outing
    shutter_s, _ = longest_shutter(outing.camera, stand.lens, stand, outing.accepted_trail_px)
    figures = LensFigures(math.nan, shutter_s=shutter_s)
    return LensPlan(stand.lens, stand, (), (), (), "", figures)


def _lamp(turn: LampTurn, apart: str) -> dict[str, Any]:
    spots = turn.spots
    return {
        "wanted_lux": turn.wanted_lux,
        "sigma_stops": turn.lux_sigma_stops,
        "shutter_stops": turn.shutter_stops,
        "dim_share": spots[0].dim_share if spots else math.nan,
        "says": [turn.sentence, *(spot.sentence for spot in spots), *([apart] if apart else [])],
    }
