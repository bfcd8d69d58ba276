"""Many nights at a glance: the dark windows over the real skyline, and why there is none."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from backbearing.alignment.night.cloud_of_nights import nights_with_cloud
from backbearing.alignment.night.crossings import crossing_times
from backbearing.alignment.night.from_outing import open_elevation, scene_of, zone_of
from backbearing.alignment.night.season_facts import least_glow_mag, stretches_of
from backbearing.alignment.stand.cloud_seen import forecast_notes
from backbearing.base.errors import SkyError
from backbearing.base.intervals import pieces
from backbearing.base.numbers import num, per_cent
from backbearing.outing.known_cover import known_cover
from backbearing.plan.season import (
    FixedStand,
    Night,
    NightSpans,
    Season,
    SeasonLimits,
    SeasonView,
    Stretch,
)
from backbearing.plan.stand import Span
from backbearing.sky.darkness import conditions_of, windows_of
from backbearing.sky.earth import clock_notes
from backbearing.sky.instants import aware
from backbearing.sky.nights import (
    SUNRISE_ALTITUDE_DEG,
    events_of_nights,
    moon_above,
    span_of_nights,
    sun_above,
)
from backbearing.sky.window_reasons import MOON_IS_TARGET, Asked

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.night.crossings import Crossings
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import NightRequest, Outing
    from backbearing.sky.darkness import Conditions
    from backbearing.sky.events import Toggles
    from backbearing.sky.nights import NightEvents, NightSpan
    from backbearing.sky.outcomes import Outcome
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.horizon import Horizon

MOST_NIGHTS = 732
SKYLINE_STEP_DEG = 0.5


def plan_season(
    outing: Outing,
    *,
    first_night: dt.date | None = None,
    nights: int = 30,
    stand_lat: float | None = None,
    stand_lon: float | None = None,
    within_deg: float = 1.0,
    elevation: Elevation | None = None,
) -> Season:
    """Look through a run of nights at the outing's subject, or at one fixed stand.

    Parameters
    ----------
    outing : Outing
        What counts as dark and clear, from its file.
    first_night : date, optional
        The outing's own evening when left out.
    nights : int
        1 to 732.
    stand_lat, stand_lon : float, optional
        A fixed stand, degrees: its skyline, and its crossings.
    within_deg : float
        Angle in azimuth that still counts as behind the subject.
    elevation : Elevation, optional
        The raster, when it is open already.

    Raises
    ------
    OutingError, TerrainError, SkyError
        One sentence each.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from datetime import date
    >>> from backbearing import load_outing, plan_season
    >>> outing = load_outing(sample / "outing.toml")
    >>> season = plan_season(outing, first_night=date(2027, 6, 10), nights=12)
    >>> for night in season.nights[::3]:
    ...     minutes = sum((w.end - w.start).total_seconds() / 60.0 for w in night.windows)
    ...     print(f"{night.label}: {minutes:.0f} minutes")
    10–11 June 2027: 175 minutes
    13–14 June 2027: 91 minutes
    16–17 June 2027: 0 minutes
    19–20 June 2027: 0 minutes
    """
    if not 1 <= nights <= MOST_NIGHTS:
        raise SkyError(
            f"{nights} nights were asked for", hint=f"ask for 1 to {MOST_NIGHTS}", nights=nights
        )
    scene, zone = scene_of(outing, elevation or open_elevation(outing)), zone_of(outing)
    stand = None if stand_lat is None or stand_lon is None else (stand_lat, stand_lon)
    lat, lon = stand or (outing.subject.lat, outing.subject.lon)
    horizon = _skyline(scene, lat, lon)
    span = span_of_nights(
        lat=lat,
        lon=lon,
        height_m=horizon.eye_ground_m if stand else scene.subject_ground_m,
        first_night=first_night or outing.night.evening,
        nights=nights,
        tz=zone,
    )
    asked = _asked(outing.night, outing.target, span, horizon)
    crossings = None
    if stand is not None:
        crossings = stand_crossings(
            outing,
            scene,
            stand_lat=stand[0],
            stand_lon=stand[1],
            first_night=span.evenings[0],
            nights=len(span.evenings),
            zone=span.zone,
            within_deg=within_deg,
        )
    made = _nights(asked, horizon, events_of_nights(span, sun_below_deg=asked.sun_below_deg))
    made = nights_with_cloud(made, asked, scene.forecast)
    return Season(
        name=outing.name,
        subject_name=outing.subject.name,
        subject_height_m=outing.subject.height_m,
        view=SeasonView(
            "the stand" if stand else "the subject",
            lat,
            lon,
            span.height_m,
            scene.framing.eye_height_m,
            unknown_share=float(np.mean(horizon.unknown_share)),
            cover_known=known_cover(outing.ground),
        ),
        zone=zone,
        target_name=outing.target.name,
        limits=SeasonLimits(
            asked.sun_below_deg, asked.moon, asked.moon_adds_mag, asked.min_altitude_deg
        ),
        nights=made,
        stand=_fixed_stand(crossings, made, within_deg),
        notes=(*_notes(asked, horizon), *forecast_notes(scene.forecast)),
    )


def _fixed_stand(
    crossings: Crossings | None, nights: Sequence[Night], within_deg: float
) -> FixedStand:
    if crossings is None:
        return FixedStand(within_deg)
    return FixedStand(
        within_deg=within_deg,
        bearing_deg=crossings.bearing_deg,
        distance_m=crossings.distance_m,
        crossings=tuple(crossings),
        note=crossings.reason,
        near=_near(crossings, nights),
    )


def _skyline(scene: Scene, lat: float, lon: float) -> Horizon:
    assert scene.elevation is not None  # noqa: S101  # an outing always has a raster
    return scene.elevation.horizon(
        lat=lat,
        lon=lon,
        eye_height_m=scene.framing.eye_height_m,
        azimuths_deg=np.arange(0.0, 360.0, SKYLINE_STEP_DEG),
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
    )


def _asked(night: NightRequest, target: Target, span: NightSpan, horizon: Horizon) -> Asked:
    return Asked(
        span,
        target,
        night.sun_below_deg,
        night.moon,  # type: ignore[arg-type]  # checked when the file was read
        night.clear_by_deg,
        horizon,
        night.moon_adds_mag,
    )


def stand_crossings(
    outing: Outing,
    scene: Scene,
    *,
    stand_lat: float,
    stand_lon: float,
    first_night: dt.date,
    nights: int = 1,
    zone: str | dt.tzinfo | None = None,
    within_deg: float = 1.0,
) -> Crossings:
    """When the target stands behind an outing's subject from one place, dark as the outing asks.

    See `crossing_times` for what is returned and raised.
    """
    return crossing_times(
        stand_lat=stand_lat,
        stand_lon=stand_lon,
        subject=outing.subject,
        target=outing.target,
        first_night=first_night,
        nights=nights,
        tz=zone,
        within_deg=within_deg,
        elevation=scene.elevation,
        camera=outing.camera,
        lenses=[request.lens for request in outing.lenses],
        framing=outing.framing,
        sun_below_deg=outing.night.sun_below_deg,
        moon=outing.night.moon,  # type: ignore[arg-type]
        moon_adds_mag=outing.night.moon_adds_mag,
        clear_by_deg=outing.night.clear_by_deg,
        refraction_k=scene.refraction_k,
        reach_m=scene.reach_m,
    )


def _near(crossings: Crossings, nights: Sequence[Night]) -> tuple[Span, ...]:
    """Stretches that turn back before the subject, those in full daylight left out."""
    spans = [Span(*(t.astimezone(dt.UTC) for t in ends)) for ends in crossings.near]
    return tuple(
        near
        for near in spans
        if any(s.start < near.end and near.start < s.end for n in nights for s in n.sunless)
    )


def _nights(asked: Asked, horizon: Horizon, events: list[NightEvents]) -> tuple[Night, ...]:
    """Every night with its windows, what the Moon takes, and the spans to draw."""
    span = asked.span
    found = conditions_of(asked, while_sun_below_deg=SUNRISE_ALTITUDE_DEG)
    good = windows_of(asked, found)
    lit = windows_of(asked, replace(found, moon=_opposite(found.moon)))
    stretches = stretches_of(asked, horizon, [*good, *lit])
    windows, moonlit = stretches[: len(good)], stretches[len(good) :]
    shown = {
        "sunless": _opposite(sun_above(span, SUNRISE_ALTITUDE_DEG)),
        "dark": found.dark,
        "moon_up": moon_above(span),
    }
    spans = {key: _spans(toggles, span.noons) for key, toggles in shown.items()}
    clear = _clear_spans(found, shown["sunless"], span.noons)
    outcomes: list[Literal["window"] | Outcome] = [
        good.outcomes.get(evening, "window") for evening in span.evenings
    ]
    glow = least_glow_mag(asked, clear)
    by_night: dict[dt.date, tuple[list[Stretch], list[Stretch]]] = {
        evening: ([], []) for evening in span.evenings
    }
    for place, many, made in ((0, good, windows), (1, lit, moonlit)):
        for window, stretch in zip(many, made, strict=True):
            by_night[window.evening][place].append(stretch)
    return tuple(
        Night(
            evening=evening,
            label=events[i].label,
            windows=tuple(by_night[evening][0]),
            moonlit=tuple(by_night[evening][1]),
            outcome=outcomes[i],
            why_not=good.reasons.get(evening, "") + _glow_words(outcomes[i], float(glow[i])),
            note=good.notes.get(evening, ""),
            dark_minutes=sum(s.minutes for s in spans["dark"][i]),
            clear_minutes=sum(s.minutes for part in by_night[evening] for s in part),
            window_minutes=sum(s.minutes for s in by_night[evening][0]),
            glow_least_mag=float(glow[i]),
            events=events[i],
            spans=NightSpans(**{key: value[i] for key, value in spans.items()}, clear=clear[i]),
        )
        for i, evening in enumerate(span.evenings)
    )


def _glow_words(outcome: str, glow_least_mag: float) -> str:
    """What is left of twilight at the target at best, on a night without darkness."""
    if outcome != "no darkness" or not np.isfinite(glow_least_mag):
        return ""
    return f" At best twilight still brightens the target's sky by {num(glow_least_mag, 1)} mag."


def _opposite(toggles: Toggles) -> Toggles:
    return replace(toggles, holds_at_start=not toggles.holds_at_start)


def _spans(toggles: Toggles, noons: NDArray[np.datetime64]) -> list[tuple[Span, ...]]:
    """For each night, noon to noon, the spans in which something holds."""
    nights = []
    for first, last in itertools.pairwise(noons):
        state, when, _ = toggles.between(first, last)
        cuts = [first, *when, last]
        nights.append(
            tuple(
                Span(aware(a), aware(b))
                for i, (a, b) in enumerate(itertools.pairwise(cuts))
                if (i % 2 == 0) == state and b > a
            )
        )
    return nights


def _clear_spans(
    found: Conditions, sunless: Toggles, noons: NDArray[np.datetime64]
) -> list[tuple[Span, ...]]:
    """Where the target is clear of the skyline, cut to the time when the Sun is down."""
    start, end, middle = pieces(noons, found.target.utc, sunless.utc)
    held = found.target.holds(middle) & sunless.holds(middle)
    night = np.searchsorted(noons, middle, side="right") - 1
    nights: list[list[Span]] = [[] for _ in noons[:-1]]
    for i in np.flatnonzero(held):
        nights[night[i]].append(Span(aware(start[i]), aware(end[i])))
    return [tuple(spans) for spans in nights]


def _notes(asked: Asked, horizon: Horizon) -> tuple[str, ...]:
    """Say what the numbers rest on, and how far the clock can be trusted."""
    notes = list(clock_notes(asked.span.evenings[-1]))
    if horizon.marked is not None:
        share = float(np.mean(horizon.marked.are_marked))
        notes.append(
            f"Measured skyline marks make {per_cent(share)} of the skyline here; the raster the "
            "rest."
        )
    unknown = float(np.mean(horizon.unknown_share))
    if unknown > 0.0:
        notes.append(
            f"{per_cent(unknown)} of the ground around, out to the asked reach, is unknown: a "
            "ridge there would not be seen."
        )
    if asked.target.body_name == "moon" and asked.moon == "down":
        notes.append(MOON_IS_TARGET)
    elif asked.moon != "any":
        notes.append(
            "The Moon counts as up from moonrise over a level horizon on, also while a ridge hides "
            "it: its light in the air still brightens the sky. On the subject it falls only from "
            "over the ridge."
        )
    notes.append(
        "Moonlight: Krisciunas and Schaefer 1991, clear air, 8 to 23 per cent. Twilight: Schaefer "
        "1998, within about 0.7 mag. Neither knows haze, cloud or snow."
    )
    return tuple(notes)
