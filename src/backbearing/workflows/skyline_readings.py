"""Skyline marks from what was read in the field, or off the pixels of a daytime frame."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.marks.marked_ground import OutingMarks
from backbearing.alignment.marks.marks_told import plan_marks
from backbearing.alignment.night.from_outing import scene_of
from backbearing.base.errors import CameraError
from backbearing.base.limits import Limit
from backbearing.base.numbers import num
from backbearing.camera.bodies_and_lenses import Lens
from backbearing.camera.frame_attitude import FrameOptics, attitude_of
from backbearing.outing.marks_request import (
    MARK_LIMITS,
    MOST_MARKS,
    SUBJECT,
    MarkRequest,
    MarksRequest,
)
from backbearing.outing.number_table import NumberTable
from backbearing.review.exif import read_exif

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.camera.frame_attitude import Attitude, KnownPoint
    from backbearing.outing.marks_request import ReadFrom
    from backbearing.outing.request import Outing
    from backbearing.plan.marks import PlanMarks

FILM_DIAGONAL_MM: Final = math.hypot(36.0, 24.0)
"""Of the frame that equivalent focal lengths are stated for [CIPA-DC-008]_."""

PIXEL_SIGMA_PX: Final = 2.0
"""How well a skyline is pointed at in a picture (common practice, no source)."""

HELD_SIGMA_DEG: Final = 0.3
"""How well a camera's tilt and azimuth are known where nothing else is said: a phone's level, a
direction taken off a map (common practice, no source)."""

POINTS_TABLE: Final = NumberTable(
    "points of a frame",
    {
        "column_px": Limit(-0.5, 200_000.0, "pixels from the left"),
        "row_px": Limit(-0.5, 200_000.0, "pixels from the top"),
        "distance_m": MARK_LIMITS["distance_m"],
    },
    "column_px,row_px",
    MOST_MARKS,
)


class FrameSize(NamedTuple):
    """What is told of a frame beside its photo, or instead of one; None is not told."""

    focal_length_mm: float | None = None
    sensor_width_mm: float | None = None
    width_px: int | None = None
    height_px: int | None = None
    fisheye: bool = False


@dataclass(frozen=True, slots=True)
class HeldFrame:
    """How a frame was taken.

    Attributes
    ----------
    optics : FrameOptics
    attitude : Attitude
    sigma_deg : float
        One standard deviation of its directions, without the pointing.
    """

    optics: FrameOptics
    attitude: Attitude
    sigma_deg: float


def optics_of(photo: Path | None, told: FrameSize) -> FrameOptics:
    """Put together what a photo says of itself and what is told; what is told wins.

    Without a sensor's width its size is that which makes the focal length the equivalent one
    that the photo states.

    Raises
    ------
    FrameError
        For a photo that cannot be read.
    CameraError
        When the focal length, the sensor's width or the size in pixels is not known.
    """
    focal, equivalent = told.focal_length_mm, math.nan
    width, height = told.width_px, told.height_px
    if photo is not None:
        exif = read_exif(photo)
        width, height = width or exif.width_px, height or exif.height_px
        equivalent = exif.focal_length_135_mm
        if focal is None and math.isfinite(exif.focal_length_mm):
            focal = exif.focal_length_mm
        elif focal is None and math.isfinite(equivalent):
            focal = equivalent
    if focal is None:
        raise CameraError("The focal length is not known", hint="write --focal MM")
    if not width or not height:
        raise CameraError(
            "The frame's size is not known", hint="write --width-px and --height-px, or --photo"
        )
    lens = Lens(focal_length_mm=focal, projection="equisolid" if told.fisheye else "rectilinear")
    if told.sensor_width_mm is not None:
        # The sensor's longer side lies along the frame's longer one.
        return FrameOptics(lens, width, height, told.sensor_width_mm / max(width, height))
    if not math.isfinite(equivalent):
        raise CameraError(
            "The size of the sensor is not known",
            hint="write --sensor-width MM, of its longer side",
        )
    diagonal = FILM_DIAGONAL_MM * focal / equivalent
    return FrameOptics(lens, width, height, diagonal / math.hypot(width, height))


def held_frame(
    optics: FrameOptics,
    known: Sequence[KnownPoint],
    *,
    tilt_deg: float | None,
    roll_deg: float,
    sigma_deg: float = HELD_SIGMA_DEG,
) -> HeldFrame:
    """Find how a frame was held, with what its known points leave doubtful.

    Raises
    ------
    CameraError
        When too little is known, or a point lies outside the frame.
    """
    for name, angle, most in (("tilt", tilt_deg, 90.0), ("roll", roll_deg, 180.0)):
        if angle is not None and not abs(angle) <= most:
            raise CameraError(
                f"The {name} is {num(angle)}",
                hint=f"write degrees from -{num(most)} to {num(most)}",
            )
    for one in known:
        _check_inside(optics, one.column_px, one.row_px)
    attitude = attitude_of(optics, known, pitch_deg=tilt_deg, roll_deg=roll_deg)
    return HeldFrame(optics, attitude, math.hypot(sigma_deg, attitude.misfit_deg))


def _check_inside(optics: FrameOptics, column_px: float, row_px: float) -> None:
    if not (-0.5 <= column_px <= optics.width_px - 0.5
            and -0.5 <= row_px <= optics.height_px - 0.5):  # fmt: skip
        raise CameraError(
            f"Column {num(column_px)}, row {num(row_px)} lies outside the frame of "
            f"{optics.width_px} x {optics.height_px} pixels",
            hint="count them from 0 at the top left",
        )


def marks_of_points(table: Path, frame: HeldFrame) -> tuple[MarkRequest, ...]:
    """Turn a table of pixels into marks.

    Raises
    ------
    OutingError, CameraError
        One sentence: what, and in which line.
    """
    rows = POINTS_TABLE.read(table)
    for line, row in rows:
        if "column_px" not in row or "row_px" not in row:
            raise POINTS_TABLE.wrong(
                table, f"has half a point in line {line}", "write column_px and row_px"
            )
        _check_inside(frame.optics, row["column_px"], row["row_px"])
    if not rows:
        return ()
    column, high = (np.array([row[name] for _, row in rows]) for name in ("column_px", "row_px"))
    azimuth, altitude = frame.attitude.directions(frame.optics, column, high)
    pointing = PIXEL_SIGMA_PX * frame.optics.pixel_deg
    sigma = math.hypot(pointing, frame.sigma_deg)
    limit = MARK_LIMITS["altitude_deg"]
    marks = []
    for (line, row), a, h in zip(rows, azimuth.tolist(), altitude.tolist(), strict=True):
        if not limit.holds(h):
            raise POINTS_TABLE.wrong(
                table, f"looks at an altitude of {num(h, 1)} degrees in line {line}",
                "leave that point out, or check how the frame was held",
            )  # fmt: skip
        marks.append(
            MarkRequest(
                altitude_deg=h, azimuth_deg=a, sigma_deg=sigma, azimuth_sigma_deg=sigma,
                distance_m=row.get("distance_m"),
            )
        )  # fmt: skip
    return tuple(marks)


def placed(
    marks: Sequence[MarkRequest], place: ReadFrom, distance_m: float | None
) -> tuple[MarkRequest, ...]:
    """Say of marks where they were read and how far away things are, where they do not say it."""
    return tuple(
        replace(
            one,
            read_from=place if one.read_from == SUBJECT else one.read_from,
            distance_m=distance_m if one.distance_m is None else one.distance_m,
        )
        for one in marks
    )


def beside_raster(outing: Outing, marks: Sequence[MarkRequest]) -> PlanMarks:
    """Lay readings beside an outing's bare raster, whatever marks it has already.

    Raises
    ------
    OutingError, TerrainError
        As for an outing with these marks.
    """
    asked = replace(outing, ground=replace(outing.ground, marks=MarksRequest(tuple(marks))))
    elevation = scene_of(asked, asked.ground.open())
    assert isinstance(elevation.elevation, OutingMarks)  # noqa: S101  # there are marks
    return plan_marks(elevation.elevation, elevation, ())
