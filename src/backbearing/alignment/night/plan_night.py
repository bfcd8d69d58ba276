"""One night settled: every lens's arc, the minutes that work, and the plan of it all."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import (
    asked_minute,
    night_sky,
    open_elevation,
    scene_of,
    zone_of,
)
from backbearing.alignment.night.horizon_layers import ground_within, moon_path
from backbearing.alignment.night.lens_arc import settle_lens
from backbearing.alignment.night.moved_stand import off_closed_ground
from backbearing.alignment.night.self_check import check_plan
from backbearing.alignment.session.plan_session import plan_session
from backbearing.alignment.stand.ground_cautions import with_surroundings
from backbearing.alignment.stand.lens_figures import lens_figures
from backbearing.alignment.stand.place_stand import place_stand
from backbearing.base.cautions import CANNOT_SEE, GENERAL
from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import num
from backbearing.base.parallel import in_parallel
from backbearing.base.text import crs_name
from backbearing.base.version import __version__
from backbearing.land.places import read_places
from backbearing.plan.plan import (
    GroundFacts,
    Plan,
    PlanBasis,
    PlanLand,
    PlanSky,
    SkyEvent,
    SkylinePoint,
    SkyPoint,
)
from backbearing.sky.darkness import dark_windows
from backbearing.sky.directions import direction
from backbearing.sky.nights import night_events
from backbearing.sky.window_reasons import MOON_IS_TARGET
from backbearing.terrain.reading.products import ASSUMED_VERTICAL_SIGMA_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.night.from_outing import AskedMinute
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import GroundRequest, LensRequest, NightRequest, Outing
    from backbearing.outing.subject import Subject
    from backbearing.plan.optics import LensFigures
    from backbearing.plan.place import Place
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.sky.nights import NightEvents
    from backbearing.sky.windows import DarkWindows
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.horizon import Horizon

SKYLINE_STEP_DEG: Final = 0.5


def plan_night(
    outing: Outing,
    elevation: Elevation | None = None,
    *,
    at: str | None = None,
    processes: int = 1,
) -> Plan:
    """Settle an outing: for each lens the stand and minute, the arc, and why not.

    Parameters
    ----------
    outing : Outing
        As read from its file.
    elevation : Elevation, optional
        The raster, when it is open already.
    at : str, optional
        A local wall time such as ``"23:40"`` for every lens, instead of the file's.
    processes : int
        Among how many processes the lenses are shared, see
        :func:`backbearing.base.parallel.as_finished`.

    Raises
    ------
    OutingError, TerrainError, SkyError, CameraError
        One sentence each; see :mod:`backbearing.base.errors`.
    SelfCheckError
        Where a chosen stand's own numbers contradict what the plan says of it.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, plan_night
    >>> plan = plan_night(load_outing(sample / "outing.toml"))
    >>> for lens in plan.lenses:
    ...     print(f"{lens.lens.label}: {lens.stand.distance_m:.1f} m from the subject")
    14 mm: 11.1 m from the subject
    20 mm: 14.9 m from the subject
    35 mm: 24.9 m from the subject
    50 mm: 35.2 m from the subject
    """
    elevation = open_elevation(outing) if elevation is None else elevation
    scene = scene_of(outing, elevation)
    places = read_places(outing.ground.places) if outing.ground.places else ()
    zone = zone_of(outing)
    events = _events(outing, scene, zone)
    horizon = _skyline(scene)
    sky = night_sky(outing.night, scene, zone)
    settled = partial(_settled, outing, scene, sky, places, at)
    tasks = [partial(settled, request) for request in outing.lenses]
    lenses = tuple(in_parallel(tasks, processes=processes))
    plan = Plan(
        name=outing.name,
        subject=outing.subject,
        target=outing.target,
        camera=outing.camera,
        framing=outing.framing,
        evening=outing.night.evening,
        zone=zone,
        sky=_sky(outing.night, scene, horizon, sky, events),
        lenses=lenses,
        land=_land(outing.ground, scene, elevation, horizon, places),
        cautions=GENERAL,
        notes=_notes(
            outing.ground,
            outing.subject,
            elevation,
            moon_is_target=outing.target.body_name == "moon" and outing.night.moon != "any",
        ),
        basis=PlanBasis(
            scene.refraction_k,
            outing.accepted_trail_px,
            outing.emergency_number,
            made=dt.datetime.now(dt.UTC).replace(microsecond=0),
            version=__version__,
        ),
        session=plan_session(outing, scene, sky, lenses, places) if outing.session else None,
    )
    check_plan(plan, sky)
    return plan


def _settled(
    outing: Outing,
    scene: Scene,
    sky: NightSky,
    places: Sequence[Place],
    at: str | None,
    request: LensRequest,
) -> LensPlan:
    """Settle one lens off closed ground, with what surrounds its stand and how to find it."""
    own = scene.with_drop(request.stand_drop_m).with_share(request.share)
    lens = request.lens

    def figures(stand: Stand | None) -> LensFigures:
        return lens_figures(own, lens, stand, outing)

    def settled_at(asked: AskedMinute | None) -> LensPlan:
        return settle_lens(own, lens, sky, asked, figures)

    asked = asked_minute(outing, at or request.at or outing.night.at, sky.zone)
    found = off_closed_ground(settled_at(asked), places, sky, settled_at)
    if found.stand is None:
        return found
    stand = with_surroundings(found.stand, own, places)
    pace = outing.session.pace_m if outing.session is not None else None
    placing = place_stand(own, lens, stand, zone=sky.zone, pace_m=pace)
    return replace(found, stand=stand, placing=placing)


def _sky(
    night: NightRequest,
    scene: Scene,
    horizon: Horizon,
    sky: NightSky,
    events: tuple[SkyEvent, ...],
) -> PlanSky:
    """Windows over the subject's skyline, and the target's and the Moon's path."""
    windows = _windows(night, scene, sky.zone, horizon)
    lat, lon = scene.subject.lat, scene.subject.lon
    return PlanSky(
        dark=tuple(windows),
        dark_reason=windows.reasons.get(night.evening, ""),
        path=_sky_path(scene, sky.times),
        events=events,
        moon_path=moon_path(scene, lat=lat, lon=lon, times=sky.times),
    )


def _land(
    asked: GroundRequest,
    scene: Scene,
    elevation: Elevation,
    horizon: Horizon,
    places: tuple[Place, ...],
) -> PlanLand:
    """What the raster and the user's places file know of the land about the subject."""
    lat, lon = scene.subject.lat, scene.subject.lon
    return PlanLand(
        subject_ground_m=scene.subject_ground_m,
        viewpoint_lat=lat,
        viewpoint_lon=lon,
        viewpoint_note=f"from the subject, {num(scene.framing.eye_height_m)} m above the ground",
        skyline=_skyline_points(horizon),
        places=places,
        raster=_ground_facts(asked, scene, elevation),
        ground_within=ground_within(scene, elevation, lat=lat, lon=lon, step_deg=SKYLINE_STEP_DEG),
    )


def _raster(scene: Scene) -> Elevation:
    assert scene.elevation is not None  # noqa: S101  # an outing always has a raster
    return scene.elevation


def _skyline(scene: Scene) -> Horizon:
    """Skyline all round, seen from the subject at eye height."""
    return _raster(scene).horizon(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        eye_height_m=scene.framing.eye_height_m,
        azimuths_deg=np.arange(0.0, 360.0, SKYLINE_STEP_DEG),
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
    )


def _windows(night: NightRequest, scene: Scene, zone: str, horizon: Horizon) -> DarkWindows:
    """Dark windows with the target clear of the skyline seen from the subject."""
    return dark_windows(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        first_night=night.evening,
        tz=zone,
        sun_below_deg=night.sun_below_deg,
        moon=night.moon,  # type: ignore[arg-type]  # checked when the file was read
        moon_adds_mag=night.moon_adds_mag,
        target=scene.target,
        min_altitude_deg=night.clear_by_deg,
        horizon=horizon,
    )


def _events(outing: Outing, scene: Scene, zone: str) -> tuple[SkyEvent, ...]:
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
    )


def _notes(
    ground: GroundRequest, subject: Subject, elevation: Elevation, *, moon_is_target: bool
) -> tuple[str, ...]:
    """Say what was assumed and what the data cannot show."""
    notes = list(CANNOT_SEE)
    if moon_is_target:
        notes.append(MOON_IS_TARGET)
    if ground.vertical_sigma_m is None and not ground.product:
        notes.append(
            f"The raster's vertical error was not stated; {num(ASSUMED_VERTICAL_SIGMA_M)} m "
            "(one standard deviation) is assumed."
        )
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
