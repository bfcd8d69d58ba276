"""From one fixed stand: when the target stands exactly behind the subject, and what spoils it.

The instants come in closed form (`backbearing.sky.hour_angles`) and are polished against the
full reduction to well under 0.1 s; nothing is scanned. The stretches within the asked angle end
where the target passes the bearing plus and minus that angle, found the same way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from backbearing.alignment.night.crossing_facts import CrossingSearch, described
from backbearing.alignment.stand.scene import ground_at_subject
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import OutingError
from backbearing.base.geodesy import altitude_of, line_between
from backbearing.base.intervals import pieces, stretches
from backbearing.base.numbers import num
from backbearing.base.text import compass_point
from backbearing.outing.subject import Framing
from backbearing.plan.crossing import Crossing, Crossings, InFrame, Spoiler, SubjectLine
from backbearing.sky.directions import direction
from backbearing.sky.hour_angles import azimuth_passages, greatest_azimuth_deg
from backbearing.sky.nights import DARK_BELOW_DEG, span_of_nights
from backbearing.sky.targets import CORE
from backbearing.sky.window_reasons import Asked
from backbearing.sky.zones import locals_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Subject
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation

    Instants = NDArray[np.datetime64]

__all__ = ["Crossing", "Crossings", "InFrame", "Spoiler", "crossing_times"]


def crossing_times(
    *,
    stand_lat: float,
    stand_lon: float,
    subject: Subject,
    target: Target | None = None,
    first_night: dt.date,
    nights: int = 1,
    tz: str | dt.tzinfo | None = None,
    within_deg: float = 1.0,
    elevation: Elevation | None = None,
    camera: Camera | None = None,
    lenses: Sequence[Lens] = (),
    framing: Framing | None = None,
    sun_below_deg: float = DARK_BELOW_DEG,
    moon: Literal["down", "any"] | float = "down",
    moon_adds_mag: float | None = None,
    clear_by_deg: float = 0.0,
    refraction_k: float = DEFAULT_REFRACTION_K,
    reach_m: float = DEFAULT_REACH_M,
) -> Crossings:
    """Find when the target stands exactly behind the subject, seen from one stand.

    Parameters
    ----------
    stand_lat, stand_lon : float
        The stand, WGS84 degrees.
    subject : Subject
        What is in front.
    target : Target, optional
        What is behind; the core when None.
    first_night : date
        Evening of the first night.
    nights : int
        How many nights, noon to noon.
    tz : str, tzinfo or None
        Zone of the answer; the zone of the stand when None.
    within_deg : float
        Angle in azimuth between target and subject that is still called behind it.
    elevation : Elevation, optional
        The ground; without it the land is flat and nothing hides the target.
    camera, lenses, framing
        For the frames; the subject's base sits at the framing's margin. ``offset_deg`` is
        not used here.
    sun_below_deg, moon, moon_adds_mag
        What counts as dark, as in `backbearing.sky.dark_windows`.
    clear_by_deg : float
        Margin over the terrain skyline.
    refraction_k, reach_m : float
        Terrestrial refraction, and how far to look for ridges.

    Returns
    -------
    Crossings
        Every crossing with the target above the horizontal, dark or not; what spoils each
        stands in it. Instants are within 0.1 s of the full reduction.

    Raises
    ------
    SkyError
        A date outside the ephemeris, no such place or zone.
    OutingError
        The stand is at the subject, or an angle that makes no sense.
    TerrainError
        The ground at stand or subject is not known.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing import Subject, crossing_times
    >>> chapel = Subject(lat=36.30250, lon=-84.18000, height_m=7.0)
    >>> found = crossing_times(
    ...     stand_lat=36.30278, stand_lon=-84.18012,
    ...     subject=chapel, first_night=date(2027, 5, 28), nights=3,
    ... )
    >>> [f"{crossing.time:%d %B %H:%M:%S}" for crossing in found]
    ['29 May 01:36:40', '30 May 01:32:44', '31 May 01:28:48']
    """
    if not 0.0 < within_deg <= 45.0:
        raise OutingError(f"The angle {within_deg} degrees is not above 0 and up to 45.")
    framing = framing or Framing()
    sight = _sight(stand_lat, stand_lon, subject, elevation, framing, refraction_k, reach_m)
    span = span_of_nights(
        lat=stand_lat, lon=stand_lon, height_m=sight.eye_ground_m,
        first_night=first_night, nights=nights, tz=tz,
    )  # fmt: skip
    return _search(
        CrossingSearch(
            # The target counts from the horizontal on, whatever ridge stands there.
            sky=Asked(span, target or CORE, sun_below_deg, moon, 0.0, None, moon_adds_mag),
            bearing_deg=sight.bearing_deg,
            distance_m=sight.distance_m,
            subject=sight.subject,
            thing=subject,
            within_deg=within_deg,
            has_ground=elevation is not None,
            clear_by_deg=clear_by_deg,
            camera=camera,
            lenses=tuple(lenses),
            framing=framing,
        )
    )


class _Sight(NamedTuple):
    """From the stand to the subject, and what stands along that bearing."""

    bearing_deg: float
    distance_m: float
    eye_ground_m: float
    subject: SubjectLine


def _sight(
    stand_lat: float,
    stand_lon: float,
    subject: Subject,
    elevation: Elevation | None,
    framing: Framing,
    refraction_k: float,
    reach_m: float,
) -> _Sight:
    """Look along the bearing: altitudes of base and top, and the skyline behind them."""
    line = line_between(lat1=stand_lat, lon1=stand_lon, lat2=subject.lat, lon2=subject.lon)
    distance, bearing = float(line.distance_m), float(line.azimuth_deg)
    if distance < 0.1:
        raise OutingError("The stand is at the subject", hint="name a stand some metres away")
    at_subject = ground_at_subject(subject, elevation)
    skyline, raster = float("nan"), at_subject
    if elevation is not None:
        ray = elevation.horizon(
            lat=stand_lat,
            lon=stand_lon,
            eye_height_m=framing.eye_height_m,
            azimuths_deg=[bearing],
            max_distance_m=reach_m,
            refraction_k=refraction_k,
        )
        skyline, raster = float(ray.altitudes_deg[0]), float(ray.eye_ground_m)
    drop = framing.stand_drop_m
    eye_ground = raster if drop is None else at_subject - drop
    rise = at_subject + subject.base_height_m - eye_ground - framing.eye_height_m
    along = SubjectLine(
        base_deg=float(altitude_of(rise, distance, refraction_k)),
        top_deg=float(altitude_of(rise + subject.height_m, distance, refraction_k)),
        skyline_deg=skyline,
    )
    return _Sight(bearing, distance, eye_ground, along)


def _search(search: CrossingSearch) -> Crossings:
    span = search.span
    first, last, place = span.noons[0], span.noons[-1], search.place
    exact, below, above = (
        azimuth_passages(
            search.target, **place, azimuth_deg=wrap_360_deg(search.bearing_deg + side),
            start=first, end=last,
        )
        for side in (0.0, -search.within_deg, search.within_deg)
    )  # fmt: skip
    _, altitude = direction(search.target, **place, times=exact)
    exact = exact[altitude > 0.0]
    starts, ends = _within(search, below, above)
    holding = np.searchsorted(starts, exact, side="right") - 1
    empty = np.setdiff1d(np.arange(starts.size), holding)
    _, over = direction(search.target, **place, times=starts[empty] + (ends - starts)[empty] // 2)
    empty = empty[over > 0.0]
    return Crossings(
        described(search, exact, starts[holding], ends[holding]),
        bearing_deg=search.bearing_deg,
        distance_m=search.distance_m,
        near=list(
            zip(locals_of(starts[empty], span.zone), locals_of(ends[empty], span.zone), strict=True)
        ),
        reason="" if exact.size else _why_none(search),
    )


def _within(search: CrossingSearch, *changes: Instants) -> tuple[Instants, Instants]:
    """Stretches in which the target's azimuth is within the asked angle of the bearing."""
    piece = pieces(search.span.noons, *changes)
    azimuth, _ = direction(search.target, **search.place, times=piece.middle)
    off = wrap_180_deg(azimuth - search.bearing_deg)
    first, last = stretches(np.abs(off) <= search.within_deg)
    return piece.start[first], piece.end[last]


def _why_none(search: CrossingSearch) -> str:

    name, bearing = search.target.name, search.bearing_deg
    if search.target.is_fixed:
        least, most = (
            float(v)
            for v in greatest_azimuth_deg(
                search.target, lat=search.span.lat, when=search.span.noons[0]
            )
        )
        if most - least < 360.0 and wrap_360_deg(bearing - least) > wrap_360_deg(most - least):
            return (
                f"{name} only swings between azimuths {num(least, 1)}° and "
                f"{num(wrap_360_deg(most), 1)}° here; the subject stands at {num(bearing, 1)}° "
                f"({compass_point(bearing)})."
            )
    return (
        f"{name} is below the horizontal when it passes the subject's bearing of "
        f"{num(bearing, 1)}° ({compass_point(bearing)})."
    )
