"""How bright the lamp of an outing must be at each lens's stand and minute."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from backbearing.alignment.night.blue_hour import blue_hour
from backbearing.alignment.night.lamp_words import (
    CARE,
    NOTES,
    line_of,
    shutter_words,
    turn_words,
    with_words,
)
from backbearing.alignment.stand.sky_behind import as_zenith, behind_each, dark_sky_over
from backbearing.camera.photometry import (
    CARD_GIVES_BACK,
    LAMP_SIGMA_STOPS,
    PAPER_PASSES,
    illuminance_lux,
    intensity_cd,
    lux_for_luminance,
    matt_intensity_cd,
    rim_cosine,
    surface_named,
)
from backbearing.plan.lamp import LampSpot, LampTurn, PlanLamp, SkyParts
from backbearing.plan.turns import as_planned, order_of
from backbearing.sky.glow import SIGMA_MAG as TWILIGHT_SIGMA_MAG
from backbearing.sky.luminance import sky_luminance
from backbearing.sky.night_light import night_light

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.light_request import LampRequest
    from backbearing.outing.request import Outing
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.lamp import BlueHour, LampPlace
    from backbearing.plan.lighting import Lighting
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.sky.night_light import NightLight

STOPS_A_MAG: Final = 0.4 * math.log2(10.0)
MOST_SHEETS: Final = 6
RIM_SIGMA_STOPS: Final = 2.0
"""One standard deviation of what a hidden light's edge shows, stops (judgement, no source)."""


class _Place(NamedTuple):
    """Where the lamp may stand for some of the lenses."""

    place: LampPlace
    distance_m: float
    angle_deg: float
    lenses: tuple[str, ...] | None
    below_m: float
    half_width_m: float


def lamp_of(outing: Outing, scene: Scene, sky: NightSky, plan: Plan) -> PlanLamp | None:
    """Say what light each lens asks for; None where the outing has no [light]."""
    asked = outing.exposure.lamp
    if asked is None:
        return None
    lenses = [as_planned(plan).lenses[i] for i in order_of(plan)]
    lenses = [lens for lens in lenses if lens.stand is not None]
    skies = _skies(outing, scene, [lens.stand for lens in lenses if lens.stand is not None])
    lighting = plan.session.lighting if plan.session is not None else None
    turns = _turns(asked, scene, list(zip(lenses, skies, strict=True)), lighting)
    face, ground = asked.face, surface_named(asked.ground)
    return PlanLamp(
        asked=asked,
        surface=face.name,
        reflectance=face.reflectance,
        source=face.source,
        ground=ground.name,
        ground_reflectance=ground.reflectance,
        turns=turns,
        blue_hour=blue_hour(outing, scene, sky, lenses, skies) if lenses else None,
        line=line_of(turns),
        shutters=shutter_words(turns),
        care=CARE,
        notes=NOTES,
    )


class MinuteLight(NamedTuple):
    """What lenses ask of a lamp at stands of one minute, and twilight on the ground there."""

    turns: tuple[LampTurn, ...]
    blue_hour: BlueHour | None


def light_at_minute(
    outing: Outing,
    scene: Scene,
    sky: NightSky,
    lenses: Sequence[LensPlan],
    lighting: Lighting | None,
    behind: Sequence[BehindFacts] | None = None,
) -> MinuteLight | None:
    """Say it for stands of one minute; None where no lamp is asked about.

    Parameters
    ----------
    outing : Outing
    scene : Scene
    sky : NightSky
    lenses : sequence of LensPlan
        Each with a stand, its shutter known; one at least.
    lighting : Lighting or None
        Places for lights, where some were looked for.
    behind : sequence of BehindFacts, optional
        The dark sky at each, where it is known already.
    """
    asked = outing.exposure.lamp
    if asked is None:
        return None
    stands = [lens.stand for lens in lenses if lens.stand is not None]
    subject = scene.subject
    night = night_light(
        scene.target,
        lat=subject.lat,
        lon=subject.lon,
        height_m=scene.subject_ground_m,
        evening=outing.night.evening,
    )
    skies = _skies(outing, scene, stands, night, behind)
    return MinuteLight(
        _turns(asked, scene, list(zip(lenses, skies, strict=True)), lighting),
        blue_hour(outing, scene, sky, lenses, skies),
    )


def _turns(
    asked: LampRequest,
    scene: Scene,
    lenses: Sequence[tuple[LensPlan, SkyParts]],
    lighting: Lighting | None,
) -> tuple[LampTurn, ...]:
    places = _places(lighting, asked, scene)
    shutters = [lens.shutter_s for lens, _ in lenses if math.isfinite(lens.shutter_s)]
    longest = max(shutters, default=0.0)
    return tuple(_turn(lens, sky, asked, places, longest) for lens, sky in lenses)


def _skies(
    outing: Outing,
    scene: Scene,
    stands: Sequence[Stand],
    night: NightLight | None = None,
    behind: Sequence[BehindFacts] | None = None,
) -> list[SkyParts]:
    """The sky at each stand; by a night that is worked out already where there is one."""
    if not stands:
        return []
    exposure, dark = outing.exposure, dark_sky_over(scene, outing)
    behind = behind_each(dark, stands) if behind is None else behind
    times = [stand.time for stand in stands]
    light: dict[str, Any] = {
        "dark_mag": [one.behind_mag_arcsec2 for one in behind],
        "core_mag": exposure.core_mag_arcsec2,
        "dark_zenith_mag": as_zenith(dark, stands, behind),
    }
    if night is not None and night.covers(times):
        parts = night.luminance(times, **light)
    else:
        lat, lon = ([getattr(stand, key) for stand in stands] for key in ("lat", "lon"))
        height = scene.subject_ground_m
        parts = sky_luminance(scene.target, lat=lat, lon=lon, height_m=height, times=times, **light)
    sigma = [one.behind_sigma_mag for one in behind]
    columns = (parts.total, parts.dark, parts.milky_way, parts.moon, parts.twilight, sigma)
    return [SkyParts(*(float(v) for v in row)) for row in zip(*columns, strict=True)]


def _places(lighting: Lighting | None, asked: LampRequest, scene: Scene) -> list[_Place]:
    """The outing's own place, and those that the session found."""
    top_m = lighting.light_height_m if lighting is not None else 0.0
    below = scene.subject.base_height_m + scene.subject.height_m / 2.0 - top_m
    size = below, scene.subject.shown_width_m / 2.0
    found = []
    if asked.distance_m is not None:
        found.append(_Place("asked", asked.distance_m, asked.angle_deg, None, *size))
    for side in lighting.side_lights if lighting is not None else ():
        where: LampPlace = "left" if side.side == "left" else "right"
        found.append(_Place(where, side.distance_m, side.angle_deg, None, *size))
    hidden = lighting.blind.spots if lighting is not None else ()
    found += [_Place("hidden", one.distance_m, 180.0, one.lenses, *size) for one in hidden]
    return found


def _turn(
    lens: LensPlan, sky: SkyParts, asked: LampRequest, places: Sequence[_Place], longest_s: float
) -> LampTurn:
    assert lens.stand is not None  # noqa: S101  # asked only of lenses that have one
    face = asked.face
    wanted = sky.sky_cd_m2 * 2.0**asked.stops_over_sky
    lux = float(lux_for_luminance(cd_m2=wanted, reflectance=face.reflectance))
    sigma = _sigma_stops(sky, face.sigma_stops)
    known = math.isfinite(lux) and asked.lumens is not None
    spots = tuple(
        _spot(lens, place, asked, (lux, sigma))
        for place in places
        if known and (place.lenses is None or lens.lens.label in place.lenses)
    )
    shutter = math.log2(lens.shutter_s / longest_s) if math.isfinite(lens.shutter_s) else math.nan
    return LampTurn(
        lens=lens.lens.label,
        time=lens.stand.time,
        sky=sky,
        wanted_cd_m2=wanted,
        wanted_lux=lux,
        lux_sigma_stops=sigma,
        shutter_stops=shutter,
        spots=spots,
        sentence=turn_words(sky, asked, (lux, sigma)),
    )


def _sigma_stops(sky: SkyParts, surface_stops: float) -> float:
    """Of the wanted lux: the sky, its twilight and the surface."""
    share = sky.twilight_cd_m2 / sky.sky_cd_m2 if sky.sky_cd_m2 else 0.0
    return math.hypot(
        sky.dark_sigma_mag * STOPS_A_MAG, share * TWILIGHT_SIGMA_MAG * STOPS_A_MAG, surface_stops
    )


def _spot(
    lens: LensPlan, place: _Place, asked: LampRequest, wanted: tuple[float, float]
) -> LampSpot:
    wanted_lux, sigma = wanted
    assert asked.lumens is not None  # noqa: S101  # asked only of a lamp with lumens
    in_beam, from_paper = _candela(asked.lumens, asked.beam_deg)
    full, matt = _lux(lens, place, in_beam), _lux(lens, place, from_paper)
    over = math.log2(full / wanted_lux) if full > 0.0 else -math.inf
    tries = [math.log2(matt * PAPER_PASSES**n / wanted_lux) for n in range(1, MOST_SHEETS + 1)]
    best = min(range(MOST_SHEETS), key=lambda n: abs(tries[n]))
    spot = LampSpot(
        place=place.place,
        distance_m=place.distance_m,
        angle_deg=place.angle_deg,
        full_lux=full,
        over_stops=over,
        off_sigma_stops=math.hypot(
            sigma, RIM_SIGMA_STOPS if place.place == "hidden" else LAMP_SIGMA_STOPS
        ),
        dim_share=wanted_lux / full if full > 0.0 else math.inf,
        sheets=best + 1 if over > 0.0 else 0,
        sheets_off_stops=tries[best] if over > 0.0 else math.nan,
        card_off_stops=math.log2(matt * CARD_GIVES_BACK / wanted_lux),
        sentence="",
    )
    return with_words(spot, asked)


@lru_cache(maxsize=16)
def _candela(lumens: float, beam_deg: float) -> tuple[float, float]:
    """The lamp in its beam, and spread by paper or card: the same at every minute."""
    return (
        float(intensity_cd(lumens=lumens, beam_deg=beam_deg)),
        float(matt_intensity_cd(lumens)),
    )


def _lux(lens: LensPlan, place: _Place, candela: float) -> float:
    """On an upright face at the subject's mid height, or on the best facet of its edge."""
    assert lens.stand is not None  # noqa: S101  # asked only of lenses that have one
    slant = math.hypot(place.distance_m, place.below_m)
    if place.place == "hidden":
        cosine = rim_cosine(
            behind_m=place.distance_m,
            half_width_m=place.half_width_m,
            stand_m=lens.stand.distance_m,
            lamp_below_m=place.below_m,
        )
    else:
        cosine = math.cos(math.radians(place.angle_deg)) * place.distance_m / slant
    if cosine <= 0.0:
        return 0.0
    angle = math.degrees(math.acos(min(1.0, cosine)))
    return float(illuminance_lux(intensity=candela, distance_m=slant, angle_deg=angle))
