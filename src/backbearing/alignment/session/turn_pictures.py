"""What each start of a turn shows, and what it costs against what is wanted, as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.session.turn_skies import Towards, skies_of
from backbearing.alignment.stand.settled_stands import eye_ground_m
from backbearing.alignment.stand.target_place import PlaceInFrame
from backbearing.alignment.stand.uncertainty import CLEARS_SIGMAS, errors_of
from backbearing.camera.framing import frame_direction

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from backbearing.alignment.session.turn_skies import TurnSkies
    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.session_request import PictureRequest
    from backbearing.plan.stand import Stand
    from backbearing.terrain.skylines import Skylines

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]


class Shortfalls(NamedTuple):
    """By how many degrees pictures miss what is wanted; NaN where that is unknown."""

    above_top_deg: Floats
    ridge_deg: Floats
    skyline_break_deg: Floats

    def costs_m(self, wishes: PictureRequest) -> tuple[Floats, Floats, Floats]:
        """What each counts, metres; what is unknown counts nothing."""
        weights = (
            wishes.above_top_costs_m_per_deg,
            wishes.ridge_costs_m_per_deg,
            wishes.skyline_break_costs_m_per_deg,
        )
        above, ridge, behind = (
            weight * np.nan_to_num(short) for weight, short in zip(weights, self, strict=True)
        )
        return above, ridge, behind


@dataclass(frozen=True, slots=True)
class TurnPictures:
    """Pictures of one lens at some starts, arrays of one shape; NaN where not known.

    Attributes
    ----------
    above_top_deg, wanted_deg : ndarray
        The target over the subject's top in the middle of the frames, and as wanted.
    least_clearance_deg : ndarray
        Over the skyline while the frames run.
    doubt_deg : ndarray
        What the skyline's doubt may take from it.
    break_deg : ndarray
        The subject's top over the land behind it.
    sky : TurnSkies or None
        Air, brightness and cloud behind the target, where they count.
    """

    above_top_deg: Floats
    wanted_deg: Floats
    least_clearance_deg: Floats
    doubt_deg: Floats
    break_deg: Floats
    sky: TurnSkies | None = None

    def rows(self, some: NDArray[np.intp]) -> TurnPictures:
        """Some of them."""
        return TurnPictures(
            self.above_top_deg[some],
            self.wanted_deg[some],
            self.least_clearance_deg[some],
            self.doubt_deg[some],
            self.break_deg[some],
            None if self.sky is None else self.sky.rows(some),
        )

    def shortfalls(self, wishes: PictureRequest, clear_by_deg: float) -> Shortfalls:
        """By how much each misses what is wanted, degrees."""
        left = self.least_clearance_deg - self.doubt_deg
        return Shortfalls(
            np.abs(self.above_top_deg - self.wanted_deg),
            np.maximum(clear_by_deg - left, 0.0),
            np.maximum(wishes.skyline_break_wanted_deg - self.break_deg, 0.0),
        )

    def cost_m(self, wishes: PictureRequest, clear_by_deg: float) -> Floats:
        """What they count together, metres."""
        above, ridge, behind = self.shortfalls(wishes, clear_by_deg).costs_m(wishes)
        own = above + ridge + behind
        return own if self.sky is None else own + self.sky.cost_m(wishes)


def doubt_deg(sigma_deg: ArrayLike, bias_deg: ArrayLike) -> Floats:
    """What the doubt of a skyline may take from a clearance before it no longer clears."""
    bias = np.asarray(bias_deg, dtype=np.float64)
    return np.asarray(bias + CLEARS_SIGMAS * np.asarray(sigma_deg, dtype=np.float64))


class Seen(NamedTuple):
    """One lens at t stands: settled with the target as the middle of its frames has it.

    ``least_clearance_deg`` is the least over the skyline while they run, shape (t,), and
    ``middles`` are the moments of those middles; without them no sky is looked at.
    """

    scene: Scene
    lens: Lens
    settled: Settled
    least_clearance_deg: Floats
    middles: Sequence[dt.datetime] = ()


def pictures_of(
    seen: Sequence[Seen], wanted: Sequence[Flags], wishes: PictureRequest
) -> list[TurnPictures]:
    """Look at the wanted stands of all lenses at once; NaN at the others.

    Parameters
    ----------
    seen : sequence of Seen
        One for each lens; the scenes share subject, target and ground.
    wanted : sequence of ndarray of bool, shape (t,)
    wishes : PictureRequest
        What costs nothing is not looked for, and stays NaN.
    """
    doubt, behind = _rays([one.settled for one in seen], wanted, seen[0].scene, wishes)
    found = []
    for one, rows, *rays in zip(seen, wanted, doubt, behind, strict=True):
        top = one.settled.places.top_altitude_deg
        columns = (
            one.settled.target_altitude_deg - top,
            wanted_above_top_deg(one.scene, one.lens, subject_in_frame(one.settled), wishes),
            one.least_clearance_deg,
            rays[0],
            top - rays[1],
        )
        above, wanted_deg, least, doubtful, low = (
            np.where(rows, column, np.nan) for column in columns
        )
        sky = _sky(one, rows, wishes)
        found.append(TurnPictures(above, wanted_deg, least, doubtful, low, sky))
    return found


def _sky(one: Seen, wanted: Flags, wishes: PictureRequest) -> TurnSkies | None:
    if not one.middles:
        return None
    at = one.settled
    towards = Towards(
        np.asarray(at.places.lat),
        np.asarray(at.places.lon),
        np.asarray(at.target_azimuth_deg),
        np.asarray(at.target_altitude_deg),
        one.middles,
    )
    return skies_of(one.scene, towards, wanted, wishes)


class SubjectInFrame(NamedTuple):
    """Where the camera points, and where the subject's top stands: altitude and place."""

    bearing_deg: Floats
    pitch_deg: Floats
    top_y: Floats
    top_altitude_deg: Floats


def subject_in_frame(at: Settled) -> SubjectInFrame:
    """Where the camera points at each stand, and the subject's top there."""
    top_y = at.base_margin + at.share
    return SubjectInFrame(at.places.bearing_deg, at.pitch_deg, top_y, at.places.top_altitude_deg)


def wanted_above_top_deg(
    scene: Scene, lens: Lens, frame: SubjectInFrame, wishes: PictureRequest
) -> Floats:
    """How far over the subject's top the target should stand, degrees.

    As wished for, else as the framing asks, else midway in the frame between the subject's
    top and the upper limit of the place that the framing leaves to the target.
    """
    framing, shape = scene.framing, frame.pitch_deg.shape
    for asked in (wishes.above_top_wanted_deg, framing.above_top_deg):
        if asked is not None:
            return np.full(shape, asked)
    place = PlaceInFrame.asked_by(framing)
    lowest = np.minimum(np.maximum(frame.top_y, place.bottom), place.top)
    wanted = np.full(shape, np.nan)
    known = np.isfinite(lowest) & np.isfinite(frame.bearing_deg)
    _, wanted[known] = frame_direction(
        scene.camera,
        lens,
        axis_azimuth_deg=frame.bearing_deg[known],
        pitch_deg=frame.pitch_deg[known],
        x=0.5,
        y=(lowest[known] + place.top) / 2.0,
    )
    return wanted - frame.top_altitude_deg


def _rays(
    settled: Sequence[Settled], wanted: Sequence[Flags], scene: Scene, wishes: PictureRequest
) -> tuple[list[Floats], list[Floats]]:
    """The skyline's doubt below the target, and the land behind the subject, degrees."""
    doubt, behind = ([np.full(rows.shape, np.nan) for rows in wanted] for _ in range(2))
    elevation = scene.elevation
    if elevation is None or not any(rows.any() for rows in wanted):
        return doubt, behind
    eyes = [
        np.stack(
            [
                one.places.lat, one.places.lon, one.target_azimuth_deg, one.places.bearing_deg,
                one.places.distance_m, eye_ground_m(elevation, one.places),
            ]
        )[:, rows]
        for one, rows in zip(settled, wanted, strict=True)
    ]  # fmt: skip
    lat, lon, azimuth, bearing, distance, ground = np.concatenate(eyes, axis=1)

    def seen(azimuth_deg: Floats, beyond_m: Floats | float) -> Skylines:
        return elevation.skylines(
            lat=lat,
            lon=lon,
            azimuths_deg=azimuth_deg,
            eye_height_m=scene.framing.eye_height_m,
            min_distance_m=beyond_m,
            max_distance_m=scene.reach_m,
            refraction_k=scene.refraction_k,
            ground_m=ground,
            to_the_last_bit=False,
        )

    if wishes.ridge_costs_m_per_deg > 0.0:
        found = elevation.skyline_doubt(seen(azimuth, 0.0), errors_of(scene, elevation))
        _deal(doubt, wanted, doubt_deg(found.sigma_deg, found.rise_deg))
    if wishes.skyline_break_costs_m_per_deg > 0.0:
        _deal(behind, wanted, np.asarray(seen(bearing, distance).altitudes_deg))
    return doubt, behind


def _deal(columns: list[Floats], wanted: Sequence[Flags], values: Floats) -> None:
    """Give each lens its part of what was found for all."""
    ends = np.cumsum([rows.sum() for rows in wanted])[:-1]
    for column, rows, part in zip(columns, wanted, np.split(values, ends), strict=True):
        column[rows] = part


def picture_of_stand(
    scene: Scene,
    stand: Stand,
    least_clearance_deg: float,
    ridge_doubt_deg: float,
    wishes: PictureRequest,
) -> TurnPictures:
    """The picture of one settled stand, arrays of shape (1,)."""
    frame = SubjectInFrame(
        *(
            np.array([value])
            for value in (
                stand.bearing_deg,
                stand.pitch_deg,
                stand.base_margin + stand.share,
                stand.target_altitude_deg - stand.above_top_deg,
            )
        )
    )
    return TurnPictures(
        np.array([stand.above_top_deg]),
        wanted_above_top_deg(scene, stand.lens, frame, wishes),
        np.array([least_clearance_deg]),
        np.array([ridge_doubt_deg]),
        np.array([stand.skyline_break_deg]),
    )
