"""Where the target clears the ridge, for every cell of a raster, at a minute or all night.

The target crosses few bearings in a night. Each is swept once over the whole raster
(:meth:`Elevation.horizon_map`); when and how high the target stands on that bearing is
solved at the raster's corners and carried between them.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.prepare import night_sky, open_elevation, scene_of, zone_of
from backbearing.errors import NothingFoundError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.scene import Scene
    from backbearing.outing import Outing
    from backbearing.sky import DarkWindow
    from backbearing.terrain import Elevation

    Floats = NDArray[np.float32]

BEARING_STEP_DEG: Final = 1.0
"""Bearings swept lie at most this far apart; between them clearance is interpolated."""

LONGEST_STEP: Final = dt.timedelta(minutes=6)


@dataclass(frozen=True, slots=True)
class RidgeArea:
    """Where the target clears the ridge: arrays of shape ``(rows, columns)``, as the raster.

    Attributes
    ----------
    first_clear_h, last_clear_h : ndarray
        Local clock hours counted on from the evening's midnight, so that 25.5 is half past
        one; NaN where it never clears or the ground is unknown.
    clear_minutes : ndarray
        How long it stands clear by the asked margin within the dark window.
    margin_deg : ndarray
        Largest clearance in the dark window, or the clearance at the asked minute.
    bearings_deg : tuple of float
        The bearings that were swept.
    start, end : datetime
        The stretch looked at: the dark time at the subject with the target up.
    clear_by_deg : float
        The asked margin.
    """

    first_clear_h: Floats
    last_clear_h: Floats
    clear_minutes: Floats
    margin_deg: Floats
    bearings_deg: tuple[float, ...]
    start: dt.datetime
    end: dt.datetime
    evening: dt.date
    zone: str
    clear_by_deg: float


class _Sample(NamedTuple):
    """Clearance of every cell at its own moment of standing on one bearing."""

    bearing_deg: float
    minutes: Floats
    clearance_deg: Floats


def ridge_area(
    outing: Outing, elevation: Elevation | None = None, *, at: str | None = None
) -> RidgeArea:
    """Sweep the raster for a night, or for one local minute such as ``"23:40"``.

    Darkness is that of the subject: elsewhere it comes four minutes earlier for each degree
    east. The skyline is that of the raster's own ground.

    Raises
    ------
    NothingFoundError
        When the night has no dark window with the target up.
    OutingError
        When ``at`` is not a time of day.
    """
    elevation = open_elevation(outing) if elevation is None else elevation
    scene = scene_of(outing, elevation)
    zone = zone_of(outing)
    times = _moments(outing, scene, zone, at)
    corners = _Corners.of(elevation)
    tally = _Tally(elevation.shape, outing.night.clear_by_deg)
    bearings = []
    for sample in _samples(scene, elevation, corners, times):
        bearings.append(sample.bearing_deg)
        tally.take(sample)
    midnight = dt.datetime.combine(outing.night.evening, dt.time(), tzinfo=_zone_info(zone))
    lasting = (times[-1] - times[0]).total_seconds() / 60.0
    first, last = (np.clip(minutes, 0.0, lasting) for minutes in (tally.first, tally.last))
    offset_h = (times[0].timestamp() - midnight.timestamp()) / 3600.0
    return RidgeArea(
        first_clear_h=(first / 60.0 + offset_h).astype(np.float32),
        last_clear_h=(last / 60.0 + offset_h).astype(np.float32),
        clear_minutes=np.where(np.isfinite(tally.margin), tally.minutes, np.float32(np.nan)),
        margin_deg=tally.margin,
        bearings_deg=tuple(bearings),
        start=times[0],
        end=times[-1],
        evening=outing.night.evening,
        zone=zone,
        clear_by_deg=outing.night.clear_by_deg,
    )


def _zone_info(zone: str) -> dt.tzinfo:
    from zoneinfo import ZoneInfo

    return ZoneInfo(zone)


def _moments(outing: Outing, scene: Scene, zone: str, at: str | None) -> list[dt.datetime]:
    """Choose the moments at the raster's middle: dark, target up, bearings close enough."""
    from backbearing.sky import direction
    from backbearing.sky.zones import at_clock, named_zone

    if at is not None:
        asked = at_clock(outing.night.evening, at, named_zone(zone))
        return [asked.astimezone(dt.UTC)]
    sky = night_sky(outing, scene, zone)
    inside = [time for time in sky.times if sky.is_dark(time)]
    if len(inside) < 2:
        raise NothingFoundError(
            "There is no dark time with the target above the horizontal in this night; "
            "`backbearing stand` says why."
        )
    ends = _ends(sky.dark, inside)
    fine = [inside[0], *inside[1:-1], inside[-1], *ends]
    fine = sorted(set(fine))
    azimuth, _ = direction(
        scene.target, lat=scene.subject.lat, lon=scene.subject.lon, times=list(fine)
    )
    kept = [0]
    for i in range(1, len(fine)):
        after = min(i + 1, len(fine) - 1)
        turn = abs((azimuth[after] - azimuth[kept[-1]] + 180.0) % 360.0 - 180.0)
        late = fine[after] - fine[kept[-1]] > LONGEST_STEP
        if turn > BEARING_STEP_DEG or late or i == len(fine) - 1:
            kept.append(i)
    return [fine[i] for i in kept]


def _ends(dark: Sequence[DarkWindow], inside: Sequence[dt.datetime]) -> list[dt.datetime]:
    """Ends of the dark windows next to the moments that lie inside them."""
    near = dt.timedelta(minutes=2)
    found = []
    for window in dark:
        for end in (window.start, window.end):
            moment = end.astimezone(dt.UTC)
            if inside[0] - near <= moment <= inside[-1] + near:
                found.append(moment)
    return found


@dataclass(frozen=True, slots=True)
class _Corners:
    """The raster's four corners, and how far every cell lies between them."""

    lat: NDArray[np.float64]
    lon: NDArray[np.float64]
    down: Floats
    across: Floats

    @classmethod
    def of(cls, elevation: Elevation) -> _Corners:
        rows, columns = elevation.shape
        south, west, north, east = elevation.bounds
        lat = np.array([north, north, south, south])
        lon = np.array([west, east, west, east])
        places = elevation.grid.places(
            row=np.arange(rows, dtype=np.float64)[:, None],
            col=np.arange(columns, dtype=np.float64)[None, :],
        )
        return cls(
            lat,
            lon,
            np.asarray((north - places.lat) / (north - south), dtype=np.float32),
            np.asarray((places.lon - west) / (east - west), dtype=np.float32),
        )

    def spread(self, values: NDArray[np.float64]) -> Floats:
        """Carry four corner values over the raster, bilinear in latitude and longitude."""
        nw, ne, sw, se = (np.float32(v) for v in values)
        north = nw + self.across * (ne - nw)
        south = sw + self.across * (se - sw)
        return np.asarray(north + self.down * (south - north), dtype=np.float32)


def _samples(
    scene: Scene, elevation: Elevation, corners: _Corners, times: Sequence[dt.datetime]
) -> Iterator[_Sample]:
    from backbearing.sky import direction

    for time in times:
        azimuth, _ = direction(
            scene.target, lat=scene.subject.lat, lon=scene.subject.lon, times=time
        )
        bearing = float(azimuth)
        moments = _on_bearing(scene, corners, bearing, time)
        _, altitude = direction(
            scene.target,
            lat=corners.lat,
            lon=corners.lon,
            height_m=scene.subject_ground_m,
            times=moments,
        )
        first = np.datetime64(times[0].replace(tzinfo=None), "us")
        minutes = (moments - first) / np.timedelta64(60_000_000, "us")
        skyline = elevation.horizon_map(
            bearing,
            eye_height_m=scene.framing.eye_height_m,
            refraction_k=scene.refraction_k,
            max_distance_m=scene.reach_m,
        )
        clearance = corners.spread(altitude) - skyline.astype(np.float32)
        yield _Sample(bearing, corners.spread(minutes), clearance)


def _on_bearing(
    scene: Scene, corners: _Corners, bearing_deg: float, time: dt.datetime
) -> NDArray[np.datetime64]:
    """When the target stands on the bearing at each corner, next to the given moment.

    Where a corner never sees it there (near its greatest azimuth) the moment itself is
    taken: the bearing is then off by less than the corners' difference.
    """
    from backbearing.sky.hour_angles import azimuth_passages

    here = np.datetime64(time.replace(tzinfo=None), "us")
    if not scene.target.is_fixed:
        return np.full(4, here)
    near = dt.timedelta(hours=3)
    found = azimuth_passages(
        scene.target,
        lat=corners.lat,
        lon=corners.lon,
        azimuth_deg=np.full(4, bearing_deg),
        start=time - near,
        end=time + near,
    )
    if found.shape[-1] == 0:
        return np.full(4, here)
    away = np.abs((found - here).astype("timedelta64[us]").astype(np.float64))
    away[np.isnat(found)] = np.inf
    best = away.argmin(axis=-1)
    chosen = found[np.arange(4), best]
    return np.where(np.isfinite(away.min(axis=-1)), chosen, here)


class _Tally:
    """First, last, total and best, gathered sample by sample in order of time."""

    def __init__(self, shape: tuple[int, int], clear_by_deg: float) -> None:
        self.clear_by = np.float32(clear_by_deg)
        self.first = np.full(shape, np.nan, dtype=np.float32)
        self.last = np.full(shape, np.nan, dtype=np.float32)
        self.minutes = np.zeros(shape, dtype=np.float32)
        self.margin = np.full(shape, np.nan, dtype=np.float32)
        self._before: _Sample | None = None

    def take(self, now: _Sample) -> None:
        """Add a sample; between two of them clearance runs straight."""
        self.margin = np.fmax(self.margin, now.clearance_deg)
        over = now.clearance_deg - self.clear_by
        clear = over >= 0.0
        start = np.where(clear, now.minutes, np.nan)
        end = start
        if self._before is not None:
            before = self._before
            was = before.clearance_deg - self.clear_by
            with np.errstate(divide="ignore", invalid="ignore"):
                share = was / (was - over)
            cross = before.minutes + share * (now.minutes - before.minutes)
            changed = (was >= 0.0) != clear
            either = (was >= 0.0) | clear
            start = np.where(was >= 0.0, before.minutes, np.where(changed, cross, start))
            end = np.where(clear, now.minutes, cross)
            known = np.isfinite(was) & np.isfinite(over) & either
            start, end = np.where(known, start, np.nan), np.where(known, end, np.nan)
            self.minutes += np.where(known, end - start, 0.0).astype(np.float32)
        self.first = np.fmin(self.first, start)
        self.last = np.fmax(self.last, end)
        self._before = now


def area_words(area: RidgeArea) -> str:
    """Say in a few sentences how much of the raster clears the ridge."""
    known = np.isfinite(area.margin_deg)
    clear = np.where(known, area.margin_deg, -np.inf) >= area.clear_by_deg
    share = float(clear.sum() / max(int(known.sum()), 1))
    zone = _zone_info(area.zone)
    if area.start == area.end:
        when = f"At {area.start.astimezone(zone):%H:%M %Z}"
    else:
        ends = (f"{end.astimezone(zone):%H:%M}" for end in (area.start, area.end))
        when = f"In the dark time, {' to '.join(ends)} ({area.zone}),"
    return (
        f"{when} the target stands at least {area.clear_by_deg:g}° over the ridge from "
        f"{share:.0%} of the cells whose ground is known; {1.0 - float(known.mean()):.1%} of the "
        f"raster is unknown. {len(area.bearings_deg)} bearings were swept. Ground beyond the "
        "raster and trees are not in it."
    )
