"""What a plan says of night and land, whatever the lenses: sky, events, skyline, raster, notes."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.horizon_layers import ground_within, moon_path
from backbearing.alignment.stand.cloud_seen import forecast_notes
from backbearing.alignment.stand.cover_notes import cover_notes
from backbearing.base.cautions import cannot_see
from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import num
from backbearing.base.text import crs_name
from backbearing.land.sky_of_outing import sky_note
from backbearing.outing.known_cover import known_cover
from backbearing.plan.plan import GroundFacts, PlanLand, PlanSky, SkyEvent, SkylinePoint, SkyPoint
from backbearing.sky.directions import direction
from backbearing.sky.nights import night_events
from backbearing.sky.window_reasons import MOON_IS_TARGET
from backbearing.terrain.cover.covered_elevation import covered_of
from backbearing.terrain.reading.products import ASSUMED_VERTICAL_SIGMA_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import GroundRequest, NightRequest, Outing
    from backbearing.plan.place import Place
    from backbearing.sky.nights import NightEvents
    from backbearing.sky.windows import Skyline
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.horizon import Horizon

SKYLINE_STEP_DEG: Final = 0.5


def sky_of(
    night: NightRequest,
    scene: Scene,
    horizon: Skyline,
    sky: NightSky,
    events: tuple[SkyEvent, ...],
) -> PlanSky:
    """Windows over the subject's skyline, and the target's and the Moon's path."""
    assert sky.searched is not None  # noqa: S101  # a night is searched as it is laid out
    windows = sky.searched.over_skyline(horizon, night.clear_by_deg)
    lat, lon = scene.subject.lat, scene.subject.lon
    return PlanSky(
        dark=tuple(windows),
        dark_reason=windows.reasons.get(night.evening, ""),
        path=_sky_path(scene, sky.times),
        events=events,
        moon_path=moon_path(scene, lat=lat, lon=lon, times=sky.times),
    )


def land_of(
    asked: GroundRequest,
    scene: Scene,
    skyline: Horizon | None,
    places: tuple[Place, ...],
) -> PlanLand:
    """What the raster and the user's places file know of the land; no skyline told without one."""
    elevation = _raster(scene)
    lat, lon = scene.subject.lat, scene.subject.lon
    return PlanLand(
        subject_ground_m=scene.subject_ground_m,
        viewpoint_lat=lat,
        viewpoint_lon=lon,
        viewpoint_note=f"from the subject, {num(scene.framing.eye_height_m)} m above the ground",
        skyline=() if skyline is None else _skyline_points(skyline),
        places=places,
        raster=_ground_facts(asked, scene, elevation),
        ground_within=()
        if skyline is None
        else ground_within(scene, elevation, lat=lat, lon=lon, step_deg=SKYLINE_STEP_DEG),
    )


def _raster(scene: Scene) -> Elevation:
    assert scene.elevation is not None  # noqa: S101  # an outing always has a raster
    return scene.elevation


def skyline_of(scene: Scene, azimuths_deg: NDArray[np.float64] | None = None) -> Horizon:
    """Skyline seen from the subject at eye height, all round where no azimuths are given."""
    all_round = np.arange(0.0, 360.0, SKYLINE_STEP_DEG)
    return _raster(scene).horizon(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        eye_height_m=scene.framing.eye_height_m,
        azimuths_deg=all_round if azimuths_deg is None else azimuths_deg,
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
    )


class SkylineAsNeeded:
    """The skyline of `skyline_of`, whose rays are sent when their azimuths are first asked for.

    The same azimuths, and linear between them: the same answers for fewer rays.
    """

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        count = round(360.0 / SKYLINE_STEP_DEG)
        self._altitudes_deg = np.full(count, np.nan)
        self._sent = np.zeros(count, dtype=bool)

    def altitude_at(self, azimuth_deg: ArrayLike) -> NDArray[np.float64]:
        """Apparent altitude in degrees on any true azimuths; NaN beside one not known."""
        asked = np.mod(np.asarray(azimuth_deg, dtype=np.float64), 360.0)
        place = np.where(np.isfinite(asked), asked, 0.0) / SKYLINE_STEP_DEG
        below = np.floor(place).astype(np.int64) % self._sent.size
        above = (below + 1) % self._sent.size
        known = np.isfinite(asked)
        self._send(np.unique([below[known], above[known]]))
        low, high = self._altitudes_deg[below], self._altitudes_deg[above]
        share = np.mod(asked - below * SKYLINE_STEP_DEG, 360.0) / SKYLINE_STEP_DEG
        between = np.where(share == 0.0, low, low + share * (high - low))
        answer: NDArray[np.float64] = np.where(np.isnan(asked), np.nan, between)[()]
        return answer

    def _send(self, which: NDArray[np.int64]) -> None:
        unsent = which[~self._sent[which]]
        if unsent.size:
            found = skyline_of(self._scene, unsent.astype(np.float64) * SKYLINE_STEP_DEG)
            self._altitudes_deg[unsent] = found.altitudes_deg
            self._sent[unsent] = True


def events_of(outing: Outing, scene: Scene, zone: str) -> tuple[SkyEvent, ...]:
    """Name the Sun's and Moon's events that happen, in order of time."""
    try:
        night: NightEvents = night_events(
            lat=outing.subject.lat,
            lon=outing.subject.lon,
            height_m=scene.subject_ground_m,
            evening=outing.night.evening,
            tz=zone,
            sun_below_deg=outing.night.sun_below_deg,
        )
    except BackbearingError as problem:
        raise outing.refuse("night", "evening", problem) from problem
    named = {
        "sunset": night.sunset,
        "dark": night.dusk,
        "dawn": night.dawn,
        "sunrise": night.sunrise,
        "moonrise": night.moonrise,
        "moonset": night.moonset,
    }
    happening = [
        SkyEvent(event.at.astimezone(dt.UTC), name)
        for name, event in named.items()
        if event.at is not None
    ]
    return tuple(sorted(happening, key=lambda event: event.time))


def _skyline_points(horizon: Horizon) -> tuple[SkylinePoint, ...]:
    rows = zip(horizon.azimuths_deg, horizon.altitudes_deg, horizon.distances_m, strict=True)
    return tuple(SkylinePoint(float(a), float(h), float(s)) for a, h, s in rows)


def _sky_path(scene: Scene, times: Sequence[dt.datetime]) -> tuple[SkyPoint, ...]:
    if not times:
        return ()

    azimuth, altitude = direction(
        scene.target,
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        times=list(times),
    )
    return tuple(
        SkyPoint(time, float(a), float(h))
        for time, a, h in zip(times, azimuth, altitude, strict=True)
    )


def _ground_facts(asked: GroundRequest, scene: Scene, elevation: Elevation) -> GroundFacts:
    rows, columns = elevation.shape
    errors = scene.height_errors.over(elevation.cell_size_m)
    return GroundFacts(
        source=", ".join(path.name for path in asked.elevation),
        crs=crs_name(elevation.crs),
        rows=rows,
        columns=columns,
        cell_m=float(elevation.cell_size_m),
        vertical_sigma_m=scene.height_errors.sigma_m,
        credit=asked.credit or elevation.tags.get("credit", ""),
        canopy_m=scene.canopy_m,
        clearing_m=scene.clearing_m,
        vertical_datum=elevation.tags.get("vertical_datum", ""),
        local_sigma_m=errors.local_sigma_m,
        error_range_m=errors.local_range_m,
        cover=", ".join(path.name for path in asked.cover.files if not asked.holds_cover),
        cover_known=known_cover(asked),
    )


def notes_of(outing: Outing, scene: Scene) -> tuple[str, ...]:
    """Say what was assumed and what the data cannot show."""
    ground, subject, elevation = outing.ground, outing.subject, _raster(scene)
    notes = list(cannot_see(known_cover(ground), surface=ground.holds_cover))
    if outing.target.body_name == "moon" and outing.night.moon == "down":
        notes.append(MOON_IS_TARGET)
    if ground.vertical_sigma_m is None and not ground.product:
        notes.append(
            f"The raster's vertical error was not stated; {num(ASSUMED_VERTICAL_SIGMA_M)} m "
            "(one standard deviation) is assumed."
        )
    if sky := sky_note(outing):
        notes.append(sky)
    notes.extend(forecast_notes(scene.forecast))
    notes.extend(cover_notes(ground, covered_of(scene.elevation)))
    if elevation.placed_within_m != 0.0:
        notes.append(_tie_words(elevation))
    if subject.ground_m is not None:
        raster = float(elevation.height_at(lat=subject.lat, lon=subject.lon))
        notes.append(
            f"The ground at the subject was set by hand to {num(subject.ground_m)} m; the "
            f"raster says {num(raster, 1)} m. The stands' ground is still the raster's: measure "
            "stand_drop_m on the spot."
        )
    return tuple(notes)


def _tie_words(elevation: Elevation) -> str:
    """Say how well the raster's own reference system is tied to WGS84."""
    name, within = crs_name(elevation.crs), elevation.placed_within_m
    if math.isfinite(within):
        return (
            f"The raster is in {name}: one operation ties all of it to WGS84, published as good "
            f"to {num(within)} m."
        )
    return (
        f"The raster is in {name}, and no accuracy is published for its tie to WGS84 here: all "
        "of it may lie some metres off, or more."
    )
