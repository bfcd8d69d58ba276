"""From one fixed stand: when the target stands exactly behind the subject, and what spoils it.

The instants come in closed form (`backbearing.sky.hour_angles`) and are polished against the
full reduction to well under 0.1 s; nothing is scanned. The stretches within the asked angle end
where the target passes the bearing plus and minus that angle, found the same way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from backbearing.alignment.night.crossing_facts import Asked, described
from backbearing.alignment.stand.scene import ground_at_subject
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.constants import DEFAULT_REFRACTION_K
from backbearing.base.errors import OutingError
from backbearing.base.geodesy import altitude_of, line_between
from backbearing.base.intervals import pieces, stretches
from backbearing.base.text import compass_point
from backbearing.outing.subject import Framing
from backbearing.plan.crossing import Crossing, Crossings, InFrame, Spoiler
from backbearing.sky.directions import direction
from backbearing.sky.hour_angles import azimuth_passages, greatest_azimuth_deg
from backbearing.sky.nights import span_of_nights
from backbearing.sky.targets import CORE
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
    sun_below_deg: float = -18.0,
    moon: Literal["down", "any"] | float = "down",
    moon_adds_mag: float | None = None,
    clear_by_deg: float = 0.0,
    refraction_k: float = DEFAULT_REFRACTION_K,
    reach_m: float = 100_000.0,
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
    """
    if not 0.0 < within_deg <= 45.0:
        raise OutingError(f"The angle {within_deg} degrees is not above 0 and up to 45.")
    framing = framing or Framing()
    ground = _ground(stand_lat, stand_lon, subject, elevation, framing, refraction_k, reach_m)
    asked = Asked(
        span=span_of_nights(
            lat=stand_lat, lon=stand_lon, height_m=ground.pop("eye_ground_m"),
            first_night=first_night, nights=nights, tz=tz,
        ),
        target=target or CORE,
        within_deg=within_deg,
        has_ground=elevation is not None,
        clear_by_deg=clear_by_deg,
        sun_below_deg=sun_below_deg,
        moon=moon,
        moon_adds_mag=moon_adds_mag,
        camera=camera,
        lenses=tuple(lenses),
        framing=framing,
        **ground,
    )  # fmt: skip
    return _search(asked)


def _ground(
    stand_lat: float,
    stand_lon: float,
    subject: Subject,
    elevation: Elevation | None,
    framing: Framing,
    refraction_k: float,
    reach_m: float,
) -> dict[str, float]:
    """Bearing, distance, altitudes of base and top, and the skyline behind the subject."""
    line = line_between(lat1=stand_lat, lon1=stand_lon, lat2=subject.lat, lon2=subject.lon)
    distance, bearing = float(line.distance_m), float(line.azimuth_deg)
    if distance < 0.1:
        raise OutingError("The stand is at the subject; name a stand some metres away.")
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
    return {
        "bearing_deg": bearing,
        "distance_m": distance,
        "eye_ground_m": eye_ground,
        "base_deg": float(altitude_of(rise, distance, refraction_k)),
        "top_deg": float(altitude_of(rise + subject.height_m, distance, refraction_k)),
        "skyline_deg": skyline,
    }


def _search(asked: Asked) -> Crossings:

    span = asked.span
    first, last = span.noons[0], span.noons[-1]
    place: dict[str, Any] = {"lat": span.lat, "lon": span.lon, "height_m": span.height_m}
    exact, below, above = (
        azimuth_passages(
            asked.target, **place, azimuth_deg=wrap_360_deg(asked.bearing_deg + side),
            start=first, end=last,
        )
        for side in (0.0, -asked.within_deg, asked.within_deg)
    )  # fmt: skip
    _, altitude = direction(asked.target, **place, times=exact)
    exact = exact[altitude > 0.0]
    starts, ends = _within(asked, below, above)
    holding = np.searchsorted(starts, exact, side="right") - 1
    empty = np.setdiff1d(np.arange(starts.size), holding)
    _, over = direction(asked.target, **place, times=starts[empty] + (ends - starts)[empty] // 2)
    empty = empty[over > 0.0]
    return Crossings(
        described(asked, exact, starts[holding], ends[holding]),
        bearing_deg=asked.bearing_deg,
        distance_m=asked.distance_m,
        near=list(
            zip(locals_of(starts[empty], span.zone), locals_of(ends[empty], span.zone), strict=True)
        ),
        reason="" if exact.size else _why_none(asked),
    )


def _within(asked: Asked, *changes: Instants) -> tuple[Instants, Instants]:
    """Stretches in which the target's azimuth is within the asked angle of the bearing."""
    piece = pieces(asked.span.noons, *changes)
    azimuth, _ = direction(
        asked.target,
        lat=asked.span.lat,
        lon=asked.span.lon,
        height_m=asked.span.height_m,
        times=piece.middle,
    )
    off = wrap_180_deg(azimuth - asked.bearing_deg)
    first, last = stretches(np.abs(off) <= asked.within_deg)
    return piece.start[first], piece.end[last]


def _why_none(asked: Asked) -> str:

    name, bearing = asked.target.name, asked.bearing_deg
    if asked.target.is_fixed:
        least, most = (
            float(v)
            for v in greatest_azimuth_deg(
                asked.target, lat=asked.span.lat, when=asked.span.noons[0]
            )
        )
        if most - least < 360.0 and wrap_360_deg(bearing - least) > wrap_360_deg(most - least):
            return (
                f"{name} only swings between azimuths {least:.1f}° and {wrap_360_deg(most):.1f}° "
                f"here; the subject stands at {bearing:.1f}° ({compass_point(bearing)})."
            )
    return (
        f"{name} is below the horizontal when it passes the subject's bearing of {bearing:.1f}° "
        f"({compass_point(bearing)})."
    )
