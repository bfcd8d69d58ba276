"""Where to stand: one stand for each lens at one moment."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.stand.cover_seen import cover_seen
from backbearing.alignment.stand.scene import Scene, ground_at_subject
from backbearing.alignment.stand.settled_stands import LensTimes, Settled, eye_ground_m, settle_all
from backbearing.alignment.stand.stand_cautions import GroundSeen, ground_seen, stand_cautions
from backbearing.alignment.stand.stand_doubts import no_doubt_yet, with_doubts
from backbearing.base import asked as checked
from backbearing.base.angles import angle_between_deg, wrap_180_deg, wrap_360_deg
from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import SkyError
from backbearing.outing.subject import POSITION_SIGMA_M
from backbearing.plan.stand import (
    Stand,
    StandFraming,
    StandPlay,
    StandPosition,
    StandSkyline,
    StandTarget,
)
from backbearing.sky.magnetic import magnetic_declination
from backbearing.terrain.height_errors import StatedErrors
from backbearing.terrain.marks.marked_elevation import MarkedElevation, bare_of
from backbearing.terrain.reading.products import ASSUMED_ERRORS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing, Subject
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]


def find_stands(
    subject: Subject,
    target: Target,
    time: dt.datetime,
    camera: Camera,
    lenses: Sequence[Lens],
    framing: Framing,
    elevation: Elevation | None = None,
    *,
    refraction_k: float = DEFAULT_REFRACTION_K,
    max_distance_m: float = DEFAULT_REACH_M,
    vertical_sigma_m: float | None = None,
    position_sigma_m: float = POSITION_SIGMA_M,
) -> list[Stand]:
    """Find where the tripod goes for each lens at one moment.

    Distance and pitch follow together from the exact projection, so that the subject
    takes ``framing.share`` of the frame with its base at ``framing.base_margin``, on the
    ground that the raster gives at that distance; the stand lies where the geodesic's
    azimuth towards the subject equals the target's apparent azimuth there, less
    ``framing.offset_deg``.

    Parameters
    ----------
    subject, target, camera, lenses, framing
        What to photograph, before what, with what, and how.
    time : datetime
        Timezone-aware.
    elevation : Elevation, optional
        Raster; level ground without skyline when None.
    refraction_k : float
        Terrestrial refraction coefficient.
    max_distance_m : float
        How far the skyline is sought.
    vertical_sigma_m, position_sigma_m : float
        Standard deviations of the raster's heights and of the tripod's position, metres.

    Returns
    -------
    list of Stand
        One for each lens, in order. Where no distance gives the framing or the ground is
        unknown, its position is NaN, ``in_frame`` is False and ``cautions`` says why.

    Raises
    ------
    TerrainError
        When the raster does not know the ground at the subject.
    SkyError
        For a time without zone or outside the ephemeris.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing import CORE, Camera, Framing, Lens, Subject, find_stands
    >>> chapel = Subject(lat=36.30250, lon=-84.18000, height_m=7.0)
    >>> when = datetime(2027, 5, 29, 4, 13, tzinfo=timezone.utc)
    >>> [stand] = find_stands(chapel, CORE, when, Camera(), [Lens(focal_length_mm=85.0)], Framing())
    >>> f"{stand.distance_m:.1f} m away, looking towards {stand.bearing_deg:.1f} degrees"
    '62.1 m away, looking towards 143.5 degrees'
    """
    time = checked.moment(time, "time", SkyError)
    scene = Scene(
        subject=subject,
        subject_ground_m=ground_at_subject(subject, elevation),
        target=target,
        camera=camera,
        framing=framing,
        elevation=elevation,
        refraction_k=refraction_k,
        reach_m=max_distance_m,
        height_errors=ASSUMED_ERRORS
        if vertical_sigma_m is None
        else StatedErrors(vertical_sigma_m),
        position_sigma_m=position_sigma_m,
    )
    asked = [LensMoment(scene, lens, time) for lens in lenses]
    return with_doubts(stands_at(asked), scene)


class LensMoment(NamedTuple):
    """One lens, framed as its scene has it, at one moment."""

    scene: Scene
    lens: Lens
    time: dt.datetime


def stand_at(scene: Scene, lens: Lens, time: dt.datetime) -> Stand:
    """Settle one lens at one moment, with play, swing, skyline break and cautions.

    Its doubt is left open: `with_doubts` works it out for many stands at once.
    """
    return stands_at([LensMoment(scene, lens, time)])[0]


def stands_at(asked: Sequence[LensMoment]) -> list[Stand]:
    """Do as `stand_at` for lenses with moments of their own, all in one array.

    The scenes share subject, target and ground; framings and cameras may differ.
    """
    return stands_of(asked, settled_about(asked)) if asked else []


def settled_about(asked: Sequence[LensMoment]) -> list[Settled]:
    """Settle each lens a minute before its moment, at it, and a minute after it."""
    return settle_all([LensTimes(one.scene, one.lens, moments_about(one.time)) for one in asked])


def moments_about(time: dt.datetime) -> list[dt.datetime]:
    """A minute before a moment, the moment, and a minute after it."""
    minute = dt.timedelta(minutes=1)
    return [time - minute, time, time + minute]


def stands_of(asked: Sequence[LensMoment], settled: Sequence[Settled]) -> list[Stand]:
    """Make stands of what was settled about their moments."""
    trees, behind = _other_rays(asked, settled)
    scenes = [one.scene for one in asked]
    seen, cover = ground_seen(scenes, settled), cover_seen(scenes, settled)
    stands = []
    for i, (one, about) in enumerate(zip(asked, settled, strict=True)):
        skyline = _skyline(one.scene, about, float(trees[i]), float(behind[i]))
        skyline = replace(skyline, bare_deg=cover[i].bare_deg, cover=cover[i].words)
        stand = _stand(one, about, skyline, seen[i])
        stands.append(replace(stand, cautions=(*stand.cautions, *cover[i].cautions)))
    return stands


def _stand(asked: LensMoment, settled: Settled, skyline: StandSkyline, seen: GroundSeen) -> Stand:
    scene, lens, time = asked
    at = settled.places
    return Stand(
        lens=lens,
        time=time.astimezone(dt.UTC),
        position=StandPosition(
            lat=float(at.lat[1]),
            lon=float(at.lon[1]),
            ground_m=float(at.ground_m[1]),
            ground_source=_ground_source(scene),
            distance_m=float(at.distance_m[1]),
            bearing_deg=float(at.bearing_deg[1]),
            bearing_magnetic_deg=_magnetic(scene, float(at.bearing_deg[1]), time),
        ),
        framing=_framing(settled),
        target=_target(settled),
        skyline=skyline,
        play=_play(scene, settled),
        doubt=no_doubt_yet(scene),
        cautions=stand_cautions(scene, lens, settled, skyline, seen),
    )


def _framing(settled: Settled) -> StandFraming:
    return StandFraming(
        pitch_deg=float(settled.pitch_deg[1]),
        share=float(settled.share[1]),
        share_width=float(settled.share_width[1]),
        base_margin=float(settled.base_margin[1]),
        in_frame=bool(settled.in_frame[1]),
    )


def _target(settled: Settled) -> StandTarget:
    altitude = settled.target_altitude_deg[1]
    return StandTarget(
        azimuth_deg=float(settled.target_azimuth_deg[1]),
        altitude_deg=float(altitude),
        x=float(settled.target_x[1]),
        y=float(settled.target_y[1]),
        above_top_deg=float(altitude - settled.places.top_altitude_deg[1]),
        behind_subject=bool(settled.behind[1]),
    )


def _skyline(scene: Scene, settled: Settled, trees_deg: float, behind_deg: float) -> StandSkyline:
    target, trees = settled.target_altitude_deg[1], scene.elevation is not None
    highest = np.fmax(trees_deg, settled.skyline_deg[1])
    return StandSkyline(
        altitude_deg=float(settled.skyline_deg[1]),
        distance_m=float(settled.skyline_distance_m[1]),
        lat=float(settled.skyline_lat[1]),
        lon=float(settled.skyline_lon[1]),
        unknown_share=float(settled.unknown_share[1]),
        clearance_deg=float(settled.clearance_deg[1]),
        canopy_clearance_deg=float(target - highest)
        if trees and scene.canopy_m > 0.0
        else float("nan"),
        break_deg=float(settled.places.top_altitude_deg[1] - behind_deg),
    )


def _play(scene: Scene, settled: Settled) -> StandPlay:
    """How far off the stand may be, from the target's own motion about the moment."""
    distance, play = float(settled.places.distance_m[1]), scene.framing.play_deg
    motion = _apparent_motion(settled)
    return StandPlay(
        sideways_m=distance * float(np.tan(np.radians(play))),
        minutes=play / motion if motion > 0.0 else float("inf"),
        swing_m_per_minute=distance * float(np.radians(_azimuth_rate(settled))),
    )


def _ground_source(scene: Scene) -> str:
    if scene.framing.stand_drop_m is not None:
        return "measured drop"
    return "raster" if scene.elevation is not None else "flat"


def _azimuth_rate(settled: Settled) -> float:
    """Turn of the target's azimuth, degrees a minute, by the central difference."""
    before, _, after = settled.target_azimuth_deg
    return wrap_180_deg(float(after - before)) / 2.0


def _apparent_motion(settled: Settled) -> float:
    """Angle that the target moves over the sky in a minute, degrees."""
    azimuth, altitude = settled.target_azimuth_deg, settled.target_altitude_deg
    moved = angle_between_deg(
        lon1_deg=azimuth[0], lat1_deg=altitude[0], lon2_deg=azimuth[2], lat2_deg=altitude[2]
    )
    return float(moved) / 2.0


def _other_rays(asked: Sequence[LensMoment], settled: Sequence[Settled]) -> tuple[Floats, Floats]:
    """Two more skylines from each stand, degrees: over trees, and behind the subject.

    The first is that towards the target if trees stood on all ground beyond the clearing;
    NaN where the scene has none. Trees of one height everywhere lift all ground by that
    height, which is the same as an eye that much lower.
    """
    found = np.full((2, len(asked)), np.nan)
    elevation = asked[0].scene.elevation
    if elevation is None:
        return found[0], found[1]
    scenes = [one.scene for one in asked]
    lat, lon, bearing, distance, target, ground = np.array(
        [
            (
                *(c[1] for c in (at.lat, at.lon, at.bearing_deg, at.distance_m)),
                one.target_azimuth_deg[1],
                eye_ground_m(elevation, at)[1],
            )
            for one in settled
            for at in [one.places]
        ]
    ).T
    canopy = np.array([scene.canopy_m for scene in scenes])
    wanted = np.isfinite(lat) & np.stack([canopy > 0.0, np.isfinite(canopy)])
    nearest = np.stack([np.array([scene.clearing_m for scene in scenes]), distance])
    seen = bare_of(elevation).skylines(
        lat=np.where(wanted, lat, np.nan),
        lon=np.where(wanted, lon, np.nan),
        azimuths_deg=np.stack([target, bearing]),
        eye_height_m=[scene.framing.eye_height_m for scene in scenes],
        max_distance_m=[scene.reach_m for scene in scenes],
        refraction_k=scenes[0].refraction_k,
        ground_m=np.stack([ground - canopy, ground]),
        min_distance_m=np.where(wanted, nearest, 0.0),
        to_the_last_bit=False,
    )
    if isinstance(elevation, MarkedElevation):
        # Marks are tops already; no trees are put on them, and the eye is not lowered.
        seen = elevation.with_marks_over(seen, raised_m=np.stack([canopy, 0.0 * canopy]).ravel())
    found[wanted] = seen.altitudes_deg.reshape(wanted.shape)[wanted]
    return found[0], found[1]


def _magnetic(scene: Scene, bearing_deg: float, time: dt.datetime) -> float:

    found = magnetic_declination(
        lat=scene.subject.lat, lon=scene.subject.lon, height_m=scene.subject_ground_m, when=time
    )
    return wrap_360_deg(float(bearing_deg - found.declination_deg))
