"""What light, air, sky, trees and cloud do at one lens's stand of a minute.

Asked apart from the minute's stands, which are to be quick. Only what the outing has: what it does
not ask about is None.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from backbearing.alignment.night.lamp_light import light_at_minute
from backbearing.alignment.night.lamp_words import shutter_words
from backbearing.alignment.session.light_session import light_session
from backbearing.alignment.stand.lens_air import air_facts
from backbearing.alignment.stand.lens_figures import longest_shutter
from backbearing.alignment.stand.sky_behind import behind_each, dark_sky_over
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.plan.optics import LensFigures
from backbearing.plan.stand import LensPlan
from backbearing.weather.told import DOUBT

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.alignment.night.lamp_light import MinuteLight
    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.lighting import Lighting
    from backbearing.plan.stand import Stand


def beside_stand(
    night: PreparedNight, stands: Sequence[Stand | None], lens: int
) -> dict[str, Any] | None:
    """Say what light, air, trees and cloud do at one of a minute's stands; None without it.

    Parameters
    ----------
    night : PreparedNight
    stands : sequence of Stand or None
        Those of all lenses: how long they burn is compared.
    lens : int
        Which of them.

    Returns
    -------
    dict or None
        ``air``, ``behind``, ``skyline``, ``cloud``, ``lamp``, ``lights`` and ``blue_hour``, each
        with its numbers and ``says``, sentences that name the doubt. ``skyline`` is None where the
        outing knows nothing of trees, ``cloud`` without a forecast, ``lamp`` and ``blue_hour``
        without a [light], ``lights``, places for them, without a [session].
    """
    stand = stands[lens]
    if stand is None:
        return None
    lighting = _lighting(night, stand)
    others = [_lens_plan(night, one) for one in stands if one is not None]
    at = sum(one is not None for one in stands[:lens])
    skies = behind_each(
        dark_sky_over(night.scene, night.outing), [one for one in stands if one is not None]
    )
    light = light_at_minute(night.outing, night.scene, night.sky, others, lighting, skies)
    return {
        "air": _air(night, stand),
        "behind": _behind(skies[at]),
        "skyline": _skyline(stand),
        "cloud": _cloud(night, stand),
        "lamp": None if light is None else _lamp(light, at),
        "lights": None if lighting is None else _lights(lighting),
        "blue_hour": None if light is None or light.blue_hour is None else _blue(light, at),
    }


class _Placed(NamedTuple):
    """A lens on its stand, alone in its night."""

    lens: Lens
    stand: Stand


def _lighting(night: PreparedNight, stand: Stand) -> Lighting | None:
    """Where a light hides from this stand alone, and where one stands beside its frame."""
    asked = night.outing.session
    if asked is None:
        return None
    return light_session(night.scene, asked, [_Placed(stand.lens, stand)], night.places)


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


def _lens_plan(night: PreparedNight, stand: Stand) -> LensPlan:
    """As much of a lens's plan as the lamp asks for."""
    outing = night.outing
    shutter_s, _ = longest_shutter(outing.camera, stand.lens, stand, outing.accepted_trail_px)
    figures = LensFigures(math.nan, shutter_s=shutter_s)
    return LensPlan(stand.lens, stand, (), (), (), "", figures)


def _lamp(light: MinuteLight, at: int) -> dict[str, Any]:
    turn, apart = light.turns[at], shutter_words(light.turns)
    spots = turn.spots
    return {
        "wanted_lux": turn.wanted_lux,
        "sigma_stops": turn.lux_sigma_stops,
        "shutter_stops": turn.shutter_stops,
        "dim_share": spots[0].dim_share if spots else math.nan,
        "says": [turn.sentence, *(spot.sentence for spot in spots), *([apart] if apart else [])],
    }


def _lights(lighting: Lighting) -> dict[str, Any]:
    """Places: from the subject, so far and on such a bearing."""
    return {
        "hidden": [[one.distance_m, one.bearing_deg, one.room_m] for one in lighting.blind.spots],
        "sides": [[one.distance_m, one.bearing_deg] for one in lighting.side_lights],
        "says": [lighting.blind.sentence, *(one.sentence for one in lighting.side_lights)],
    }


def _blue(light: MinuteLight, at: int) -> dict[str, Any]:
    blue = light.blue_hour
    assert blue is not None  # noqa: S101  # asked only where there is one
    frame = next((one for one in blue.frames if one.lens == light.turns[at].lens), None)
    said = [] if frame is None else [frame.sentence]
    return {
        "level_lux": blue.level_lux,
        "dusk": _seconds(blue.dusk),
        "dawn": _seconds(blue.dawn),
        "frame_at": None if frame is None else _seconds(frame.time),
        "shutter_s": math.nan if frame is None else frame.shutter_s,
        "says": [blue.sentence, *said],
    }


def _seconds(time: dt.datetime | None) -> float | None:
    return None if time is None else time.timestamp()
