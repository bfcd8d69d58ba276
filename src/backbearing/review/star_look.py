"""Look at a frame by its stars while it is decoded, and keep what is small of it."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.view.frame_stars import moved_vectors, star_table
from backbearing.alignment.view.sky_rotation import SkyTurn
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.errors import BackbearingError
from backbearing.camera.frame_attitude import FrameOptics
from backbearing.camera.framing import Frame
from backbearing.review.compare import (
    candidates,
    find_candidate,
    focal_length_mm,
    frame_camera,
    used_lens,
)
from backbearing.review.frame_skyline import Around, FrameEdge, read_edge
from backbearing.review.plate_solution import PlateSolution, Seed, Sky, solve_plate
from backbearing.review.seen_subject import Box, SeenSubject, find_subject
from backbearing.review.star_list import list_stars
from backbearing.review.where_stood import PEG_M, PEG_SHARE, Fix, Sighting

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.review.picture import Picture
    from backbearing.review.report import FrameReview

    Floats = NDArray[np.float64]

UNSOLVED = (
    "Its stars could not be matched to the catalogue: cloud, trails, a wrong clock or place, or "
    "fewer than eight stars brighter than magnitude 6."
)


@dataclass(frozen=True, slots=True)
class Looked:
    """What is kept of one frame: its pointing, the subject and the land's edge in it.

    ``why`` says what failed where there is no pointing; ``edge`` and ``sighting`` are by the time
    that was given.
    """

    stand: Stand
    solved: PlateSolution | None
    why: str = ""
    seen: SeenSubject | None = None
    sighting: Sighting | None = None
    edge: FrameEdge | None = None


@dataclass(slots=True)
class StarLook:
    """Matches the stars of frames to the catalogue, one frame after another.

    Parameters
    ----------
    outing : Outing
    plan : Plan
    focal_mm : float
        Focal length for frames whose EXIF has none, millimetres.
    within_m : float, optional
        How well the stands are known on the ground; None takes what steps and tape are worth.
    """

    outing: Outing
    plan: Plan
    focal_mm: float = math.nan
    within_m: float | None = None
    kept: dict[Path, Looked] = field(default_factory=dict)

    def look(self, frame: FrameReview, picture: Picture) -> None:
        """Look at one frame; what cannot be told of it is kept as a sentence."""
        one = find_candidate(
            candidates(self.plan),
            focal_length_mm(frame.exif, self.focal_mm, self.plan.camera),
            frame.time,
        )
        stand = None if one is None else one.lens_plan.stand
        camera, _ = frame_camera(self.plan.camera, picture.width_px, picture.height_px)
        if one is None or stand is None or camera is None or frame.time is None:
            return
        lens = used_lens(
            one, frame.exif, focal_length_mm(frame.exif, self.focal_mm, self.plan.camera)
        )
        optics = FrameOptics(
            lens, camera.frame_width_px, camera.frame_height_px,
            camera.frame_width_mm / camera.frame_width_px,
        )  # fmt: skip
        try:
            solved = self._solved(frame, picture, optics, stand)
        except BackbearingError as problem:
            self.kept[frame.exif.path] = Looked(stand, None, str(problem))
            return
        if solved is None:
            self.kept[frame.exif.path] = Looked(stand, None, UNSOLVED)
            return
        self.kept[frame.exif.path] = self._seen(frame, picture, solved, one.lens_plan)

    def _solved(
        self, frame: FrameReview, picture: Picture, optics: FrameOptics, stand: Stand
    ) -> PlateSolution | None:
        if frame.time is None or frame.planned is None:
            return None
        shutter = frame.exif.shutter_s
        half = shutter / 2.0 if math.isfinite(shutter) else 0.0
        height = stand.ground_m if math.isfinite(stand.ground_m) else self.plan.subject_ground_m
        sky = sky_over(
            lat=stand.lat, lon=stand.lon, height_m=height,
            time=frame.time + dt.timedelta(seconds=half),
        )  # fmt: skip
        seed = Seed(frame.planned.azimuth_deg, frame.planned.pitch_deg)
        return solve_plate(list_stars(picture), sky, optics, seed)

    def _seen(
        self, frame: FrameReview, picture: Picture, solved: PlateSolution, lens: LensPlan
    ) -> Looked:
        """The subject and the land's edge in a frame whose pointing is known."""
        stand = lens.stand
        assert stand is not None  # noqa: S101  # asked only of lenses with a stand
        aimed = Frame(self.plan.camera, lens.lens, stand.pitch_deg, stand.bearing_deg)
        box, eye_m = planned_box(self.plan, stand, camera_frame=aimed, solved=solved)
        # With a clock that is far off the subject stands where it was framed, not where the
        # stars would have it.
        seen = find_subject(picture, box) or find_subject(
            picture, framed_box(self.plan, lens, picture)
        )
        sighting, around = None, Around(stand.bearing_deg, _half_deg(self.plan, stand))
        if seen is not None:
            sighting = self._sighting(solved, seen, stand, frame, eye_m=eye_m)
            half = _half_deg(self.plan, stand)
            if math.isfinite(sighting.width_deg):
                half = sighting.width_deg / 2.0
            around = Around(sighting.azimuth_deg, half)
        edge = read_edge(picture, solved, expected_deg=self._raster, subject=around)
        return Looked(stand, solved, "", seen, sighting, edge)

    def _raster(self, azimuth_deg: Floats) -> Floats:
        """The plan's own skyline, about which the frame's is looked for."""
        known = [p for p in self.plan.skyline if math.isfinite(p.altitude_deg)]
        if not known:
            return np.zeros(len(azimuth_deg))
        return np.interp(
            azimuth_deg,
            [p.azimuth_deg for p in known],
            [p.altitude_deg for p in known],
            period=360.0,
        )

    def _sighting(
        self,
        solved: PlateSolution,
        seen: SeenSubject,
        stand: Stand,
        frame: FrameReview,
        *,
        eye_m: float,
    ) -> Sighting:
        azimuth, altitude = solved.directions(
            np.array([seen.top_column, seen.left, seen.right]),
            np.array([seen.top_row, seen.left_row, seen.right_row]),
        )
        pixel = solved.optics.pixel_deg
        sigma = math.hypot(seen.sigma_px * pixel, solved.sigma_deg)
        wide = float(wrap_180_deg(float(azimuth[2] - azimuth[1])))
        near = math.hypot(PEG_M, PEG_SHARE * stand.distance_m)
        return Sighting(
            azimuth_deg=float(wrap_360_deg(float(azimuth[1]) + wide / 2.0)),
            top_deg=float(altitude[0]),
            top_sigma_deg=sigma,
            width_deg=wide if wide > 0.0 else math.nan,
            width_sigma_deg=1.5 * seen.sigma_px * pixel,
            planned_azimuth_deg=stand.bearing_deg,
            planned_distance_m=stand.distance_m,
            eye_m=eye_m,
            distance_sigma_m=near if self.within_m is None else self.within_m,
            lat=stand.lat,
            aside_sigma_m=math.inf if self.within_m is None else self.within_m,
            fix=self._fix(frame),
            side_deg=float(altitude[1:].mean()),
            azimuth_sigma_deg=math.hypot(
                seen.side_sigma_px * pixel / math.sqrt(2.0), solved.sigma_deg
            ),
        )

    def _fix(self, frame: FrameReview) -> Fix:
        """Where the receiver put the camera, with the doubt of the subject's own place."""
        place = frame.place
        if place is None:
            return Fix()
        doubt = math.hypot(place.receiver_sigma_m, self.outing.subject.position_sigma_m)
        return Fix(place.back_m, place.left_m, max(doubt, 0.01))


def _half_deg(plan: Plan, stand: Stand) -> float:
    return math.degrees(math.atan2(plan.subject.shown_width_m / 2.0, stand.distance_m))


def sky_over(*, lat: float, lon: float, height_m: float, time: dt.datetime) -> Sky:
    """The catalogue's stars over a place at a moment."""
    year = time.year + time.timetuple().tm_yday / 365.25
    turn = SkyTurn.at(lat=lat, lon=lon, height_m=height_m, time=time)
    azimuth, altitude = turn.horizontal(moved_vectors(year))
    return Sky(azimuth, altitude, star_table()[2])


def planned_box(
    plan: Plan, stand: Stand, *, camera_frame: Frame, solved: PlateSolution
) -> tuple[Box, float]:
    """Where the planned subject falls in a solved frame, and the lens's height over its base."""
    azimuth, altitude = _corners(plan, stand, camera_frame)
    box = _box(*solved.place(azimuth, altitude))
    return box, -stand.distance_m * math.tan(math.radians(float(altitude[0])))


def framed_box(plan: Plan, lens: LensPlan, picture: Picture) -> Box:
    """Where the subject falls in a picture that was framed as planned."""
    stand = lens.stand
    assert stand is not None  # noqa: S101  # asked only of lenses with a stand
    aimed = Frame(plan.camera, lens.lens, stand.pitch_deg, stand.bearing_deg)
    x, y = aimed.place(*_corners(plan, stand, aimed))
    return _box(
        np.asarray(x) * picture.width_px - 0.5, (1.0 - np.asarray(y)) * picture.height_px - 0.5
    )


def _corners(plan: Plan, stand: Stand, aimed: Frame) -> tuple[Floats, Floats]:
    """Directions of the planned subject's base and of its outline's corners."""
    base_deg = float(aimed.direction(0.5, stand.base_margin)[1])
    base_up = stand.distance_m * math.tan(math.radians(base_deg))
    across, up = np.array([(0.0, 0.0), *plan.subject.shape.hull()]).T
    azimuth = stand.bearing_deg + np.degrees(np.arctan2(across, stand.distance_m))
    return azimuth, np.degrees(np.arctan2(base_up + up, stand.distance_m))


def _box(column: Floats, row: Floats) -> Box:
    """About some places in a frame, the base's first."""
    left, right = float(column.min()), float(column.max())
    return Box((left + right) / 2.0, float(row.min()), float(row[0]), right - left)
