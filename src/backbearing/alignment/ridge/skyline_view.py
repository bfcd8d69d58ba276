"""The skyline from one spot with the target's path over it: when a ridge hides it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np

from backbearing.alignment.night.from_outing import night_sky, open_elevation, scene_of, zone_of
from backbearing.alignment.night.horizon_layers import ground_within, moon_path
from backbearing.alignment.stand.spans import spans_where
from backbearing.alignment.stand.uncertainty import errors_of, verdict
from backbearing.base.grouped import FieldOf
from backbearing.base.lazy import Later
from backbearing.sky.directions import direction
from backbearing.terrain.cover.covered_rays import covered_rays
from backbearing.terrain.marks.marked_elevation import MarkedElevation

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.marks import marked_ground, marks_told
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.plan.marks import RidgeMark
    from backbearing.plan.plan import GroundWithin, SkyPoint
    from backbearing.plan.stand import Span, Verdict
    from backbearing.sky.windows import DarkWindow
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.skyline.doubt import Doubt
else:
    # Few outings have skyline marks.
    marked_ground = Later("backbearing.alignment.marks.marked_ground")
    marks_told = Later("backbearing.alignment.marks.marks_told")

RidgeState = Literal["clear", "too low", "hidden", "unknown"]

SKYLINE_STEP_DEG = 0.25


@dataclass(frozen=True, slots=True)
class PathPoint:
    """The target at one moment, against the skyline below it.

    ``clearance_sigma_deg`` is one standard deviation of the clearance, ``clearance_bias_deg``
    how much less than stated it is on average, ``verdict`` what they are worth together;
    ``state`` goes by the asked margin alone; ``by_mark`` says whether a measured mark makes the
    skyline there. ``bare_skyline_deg`` is the bare ground's, NaN where nothing was asked of its
    cover; ``by_cover`` says whether trees or buildings make the skyline.
    """

    time: dt.datetime
    azimuth_deg: float
    altitude_deg: float
    skyline_deg: float
    skyline_distance_m: float
    clearance_deg: float
    dark: bool
    state: RidgeState
    clearance_sigma_deg: float = math.nan
    clearance_bias_deg: float = math.nan
    verdict: Verdict = "unknown"
    by_mark: bool = False
    by_cover: bool = False
    bare_skyline_deg: float = math.nan


@dataclass(frozen=True, slots=True)
class RidgeEye:
    """From where a ridge is seen: WGS84 degrees, ground above sea level, eye above it."""

    lat: float
    lon: float
    ground_m: float
    eye_height_m: float


@dataclass(frozen=True, slots=True)
class RidgeView:
    """Skyline and path from one spot for one night.

    Attributes
    ----------
    eye : RidgeEye
        Also ``view.lat`` and so on.
    horizon : Horizon
        The skyline all round.
    path : tuple of PathPoint
        The target while the Sun is down and it stands above the horizontal.
    clear : tuple of Span
        When it stands above the skyline by the asked margin, dark or not.
    clear_and_dark : tuple of Span
        The same, within the windows of Sun and Moon.
    dark : tuple of DarkWindow
        The windows of Sun and Moon alone.
    ground_within : tuple of GroundWithin
        Skylines of the nearer ground alone, for a picture.
    moon_path : tuple of SkyPoint
        The Moon while it is up.
    marks : tuple of RidgeMark
        Measured skyline marks as seen from here; those that hold here.
    """

    eye: RidgeEye
    lat: ClassVar[FieldOf[float]] = FieldOf("eye")
    lon: ClassVar[FieldOf[float]] = FieldOf("eye")
    ground_m: ClassVar[FieldOf[float]] = FieldOf("eye")
    eye_height_m: ClassVar[FieldOf[float]] = FieldOf("eye")
    evening: dt.date
    zone: str
    target_name: str
    clear_by_deg: float
    horizon: Horizon
    path: tuple[PathPoint, ...]
    clear: tuple[Span, ...]
    clear_and_dark: tuple[Span, ...]
    dark: tuple[DarkWindow, ...]
    unknown_share: float
    ground_within: tuple[GroundWithin, ...] = ()
    moon_path: tuple[SkyPoint, ...] = ()
    marks: tuple[RidgeMark, ...] = ()


def ridge_view(
    outing: Outing, *, lat: float, lon: float, elevation: Elevation | None = None
) -> RidgeView:
    """See the night's skyline from a spot.

    Raises
    ------
    TerrainError
        When the raster does not know the ground there.
    """
    elevation = open_elevation(outing) if elevation is None else elevation
    scene = scene_of(outing, elevation)
    over = scene.elevation
    assert over is not None  # noqa: S101  # an outing always has a raster
    zone = zone_of(outing)
    sky = night_sky(outing.night, scene, zone)
    eye = scene.framing.eye_height_m

    def skyline(azimuths_deg: NDArray[np.float64]) -> Horizon:
        return over.horizon(
            lat=lat,
            lon=lon,
            eye_height_m=eye,
            azimuths_deg=azimuths_deg,
            max_distance_m=scene.reach_m,
            refraction_k=scene.refraction_k,
        )

    horizon = skyline(np.arange(0.0, 360.0, SKYLINE_STEP_DEG))
    azimuth, altitude = _track(scene, lat, lon, sky.times)
    below = skyline(azimuth) if len(azimuth) else horizon
    doubt = over.skyline_doubt(below, errors_of(scene, elevation))
    path = _path(sky, azimuth, altitude, below, doubt)

    def clear_at(times: Sequence[dt.datetime]) -> NDArray[np.bool_]:
        az, alt = _track(scene, lat, lon, times)
        return np.asarray(alt - skyline(az).altitudes_deg >= sky.clear_by_deg, dtype=bool)

    def clear_and_dark_at(times: Sequence[dt.datetime]) -> NDArray[np.bool_]:
        dark_then = np.array([sky.is_dark(time) for time in times], dtype=bool)
        return np.asarray(clear_at(times) & dark_then)

    clear = np.array([point.state == "clear" for point in path], dtype=bool)
    dark = np.array([point.dark for point in path], dtype=bool)
    return RidgeView(
        eye=RidgeEye(lat, lon, horizon.eye_ground_m, eye),
        evening=outing.night.evening,
        zone=zone,
        target_name=outing.target.name,
        clear_by_deg=sky.clear_by_deg,
        horizon=horizon,
        path=path,
        clear=spans_where(sky.times, clear, clear_at),
        clear_and_dark=spans_where(sky.times, clear & dark, clear_and_dark_at),
        dark=sky.dark,
        ground_within=ground_within(scene, over, lat=lat, lon=lon, step_deg=SKYLINE_STEP_DEG),
        moon_path=moon_path(scene, lat=lat, lon=lon, times=sky.times),
        marks=_marks(over, horizon),
        unknown_share=float(np.mean(below.unknown_share)) if path else float("nan"),
    )


def _marks(over: Elevation, horizon: Horizon) -> tuple[RidgeMark, ...]:
    """The marks that hold at an eye, as it sees them."""
    if not isinstance(over, MarkedElevation):
        return ()
    assert isinstance(over, marked_ground.OutingMarks)  # noqa: S101  # as the scene made it
    return marks_told.ridge_marks(over, horizon)


def _track(
    scene: Scene, lat: float, lon: float, times: Sequence[dt.datetime]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:

    if not times:
        return np.empty(0), np.empty(0)
    return direction(
        scene.target, lat=lat, lon=lon, height_m=scene.subject_ground_m, times=list(times)
    )


def _path(
    sky: NightSky,
    azimuth: NDArray[np.float64],
    altitude: NDArray[np.float64],
    below: Horizon,
    doubt: Doubt,
) -> tuple[PathPoint, ...]:
    points = []
    rays = below.marked
    marked = np.zeros(len(azimuth), dtype=bool) if rays is None else rays.are_marked
    cover = covered_rays(below)
    covered = ~marked & (False if cover is None else cover.are_covered[: len(azimuth)])
    for i, time in enumerate(sky.times):
        clearance = float(altitude[i] - below.altitudes_deg[i])
        sigma, bias = float(doubt.sigma_deg[i]), float(doubt.rise_deg[i])
        points.append(
            PathPoint(
                time=time,
                azimuth_deg=float(azimuth[i]),
                altitude_deg=float(altitude[i]),
                skyline_deg=float(below.altitudes_deg[i]),
                skyline_distance_m=float(below.distances_m[i]),
                clearance_deg=clearance,
                dark=sky.is_dark(time),
                state=_state(clearance, sky.clear_by_deg),
                clearance_sigma_deg=sigma,
                clearance_bias_deg=bias,
                verdict=verdict(clearance, sigma, bias),
                by_mark=bool(marked[i]),
                by_cover=bool(covered[i]),
                bare_skyline_deg=math.nan if cover is None else float(cover.bare_deg[i]),
            )
        )
    return tuple(points)


def _state(clearance_deg: float, clear_by_deg: float) -> RidgeState:
    if not np.isfinite(clearance_deg):
        return "unknown"
    if clearance_deg < 0.0:
        return "hidden"
    return "clear" if clearance_deg >= clear_by_deg else "too low"
