"""Heights and widths from a picture by day: pixels, the lens, and one length that is known.

The lens is taken as rectilinear and held without roll (`camera.projection`). Columns run from the
left edge and rows from the top edge of the whole picture, in pixels; the lens's axis meets its
middle. An upright thing at level distance D that is seen at altitudes a and b is
``D (tan a - tan b)`` high, whatever the camera's pitch; the pitch is needed for the altitudes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.errors import MeasureError
from backbearing.base.numbers import num
from backbearing.base.reading_errors import FOCAL_SIGMA, ROW_SIGMA_PX
from backbearing.camera.bodies_and_lenses import Lens
from backbearing.camera.projection import directions_of_rays, rays_of_sensor
from backbearing.measuring.readings import Measured, Reading, a_length, propagated, spread

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

LEVEL_SIGMA_DEG: Final = 3.0
"""Of the slope between camera and subject where nothing is known of it (our own choice)."""

EYE_M: Final = 1.6
EYE_SIGMA_M: Final = 0.2
"""Height of a camera held at the eye, and how it varies (common practice, no source)."""

DIAGONAL_135_MM: Final = math.hypot(36.0, 24.0)
"""Of a frame of 135 film, 36 x 24 mm (ISO 1007)."""

FOCAL_135_SIGMA: Final = 0.03
"""Of a focal length told as its equivalent on 135 film, rounded and for the diagonal (common
practice, no source)."""


class Spot(NamedTuple):
    """A place in a picture: columns from its left edge, rows from its top edge, pixels.

    Examples
    --------
    >>> from backbearing.measuring import Spot
    >>> Spot(3000, 700).row_px
    700
    """

    column_px: float
    row_px: float


@dataclass(frozen=True)
class PictureScale:
    """How a picture turns pixels into angles.

    Parameters
    ----------
    width_px, height_px : int
        Of the whole picture, as one looks at it.
    focal_px : Reading
        Focal length in pixels: millimetres times pixels over the sensor's width.
    pitch_deg : Reading, optional
        Tilt of the axis, upward positive; found from the base and the eye's height when left out.
    spot_sigma_px : float
        How well a spot is pointed at.

    Raises
    ------
    MeasureError
        For a size or a focal length that is none.

    Examples
    --------
    >>> from backbearing.measuring import PictureScale, Reading
    >>> scale = PictureScale.of_lens(50.0, sensor_width_mm=36.0, width_px=6000, height_px=4000)
    >>> f"{scale.focal_px.value:.0f} pixels"
    '8333 pixels'
    """

    width_px: int
    height_px: int
    focal_px: Reading
    pitch_deg: Reading | None = None
    spot_sigma_px: float = ROW_SIGMA_PX

    def __post_init__(self) -> None:
        for key in ("width_px", "height_px"):
            if not 8 <= getattr(self, key) <= 200_000:
                raise MeasureError(
                    f"{key} is {num(getattr(self, key))}",
                    hint="write the picture's size in pixels, from 8 to 200000",
                    key=key,
                )
        if not 0.05 * self.width_px <= self.focal_px.value <= 1000.0 * self.width_px:
            raise MeasureError(
                f"the focal length comes out as {num(self.focal_px.value, 0)} pixels on a picture "
                f"{num(self.width_px)} wide",
                hint="look at the focal length and at the sensor's width, both in millimetres",
            )
        if self.pitch_deg is not None and not abs(self.pitch_deg.value) < 80.0:
            raise MeasureError(
                f"pitch_deg is {num(self.pitch_deg.value)}",
                hint="write degrees from the level, between -80 and 80",
                key="pitch_deg",
            )

    @classmethod
    def of_lens(
        cls,
        focal_length_mm: float,
        *,
        sensor_width_mm: float,
        width_px: int,
        height_px: int,
        pitch_deg: Reading | None = None,
    ) -> PictureScale:
        """Take the focal length written on the lens, within 2 per cent.

        ``sensor_width_mm`` is what ``width_px`` pixels cover: of the sensor's short side where the
        picture stands upright.
        """
        per_mm = width_px / sensor_width_mm if sensor_width_mm > 0.0 else math.nan
        return cls._of(focal_length_mm * per_mm, FOCAL_SIGMA, width_px, height_px, pitch_deg)

    @classmethod
    def of_equivalent(
        cls,
        focal_length_135_mm: float,
        *,
        width_px: int,
        height_px: int,
        pitch_deg: Reading | None = None,
    ) -> PictureScale:
        """Take the focal length told as if on 135 film, by the diagonal [CIPA-DC-008]_."""
        focal = focal_length_135_mm * math.hypot(width_px, height_px) / DIAGONAL_135_MM
        return cls._of(focal, FOCAL_135_SIGMA, width_px, height_px, pitch_deg)

    @classmethod
    def _of(
        cls, focal: float, share: float, width_px: int, height_px: int, pitch: Reading | None
    ) -> PictureScale:
        if not math.isfinite(focal):
            raise MeasureError("there is no focal length in pixels", hint="give the sensor's width")
        return cls(width_px, height_px, Reading(focal, share * focal), pitch)

    @cached_property
    def _lens(self) -> Lens:
        """A lens of one millimetre: sensor places are shares of the focal length."""
        return Lens(focal_length_mm=1.0)

    def tangents(
        self, spots: Sequence[Spot], *, focal_px: float, pitch_deg: float
    ) -> list[tuple[float, float]]:
        """Azimuth from the axis, radians, and tangent of the altitude of spots; NaN from behind."""
        x = np.array([one.column_px - self.width_px / 2.0 for one in spots]) / focal_px
        y = np.array([self.height_px / 2.0 - one.row_px for one in spots]) / focal_px
        azimuth, altitude = directions_of_rays(
            *rays_of_sensor(self._lens, x, y),
            axis_azimuth_deg=np.zeros_like(x),
            pitch_deg=np.full_like(x, pitch_deg),
        )
        turn = (azimuth + 180.0) % 360.0 - 180.0
        seen = np.where(np.abs(turn) < 90.0, np.tan(np.radians(altitude)), np.nan)
        return list(zip(np.radians(turn).tolist(), seen.tolist(), strict=True))


def height_by_picture(
    scale: PictureScale, distance_m: Reading, top: Spot, base: Spot, *, eye_m: Reading | None = None
) -> Measured:
    """Height from a picture taken at a known level distance.

    Where the camera's pitch is not known it is the one at which the base lies as far below the
    lens as the eye stands over level ground, within 3 degrees.

    Parameters
    ----------
    scale : PictureScale
    distance_m : Reading
        Level distance to the subject, metres.
    top, base : Spot
        Pixels.
    eye_m : Reading, optional
        The lens's height over the ground, metres.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        For spots off the picture, a top below the base, or a doubt of a third and more.

    Examples
    --------
    >>> from backbearing.measuring import PictureScale, Reading, Spot, height_by_picture, taped
    >>> scale = PictureScale.of_lens(50.0, sensor_width_mm=36.0, width_px=6000, height_px=4000)
    >>> found = height_by_picture(scale, taped(40.0), Spot(3000, 700), Spot(3000, 3100))
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '11.6 m, give or take 0.3 m'
    """
    check_inside(scale, {"top": top, "base": base})
    pitch, notes = _pitch(scale, base, distance_m.value, eye_m)
    readings = {
        "distance_m": distance_m,
        "top_px": Reading(top.row_px, scale.spot_sigma_px),
        "base_px": Reading(base.row_px, scale.spot_sigma_px),
        "focal_px": scale.focal_px,
        "pitch_deg": pitch,
    }

    def height(
        distance_m: float, top_px: float, base_px: float, focal_px: float, pitch_deg: float
    ) -> float:
        spots = top._replace(row_px=top_px), base._replace(row_px=base_px)
        (_, high), (_, low) = scale.tangents(spots, focal_px=focal_px, pitch_deg=pitch_deg)
        return distance_m * (high - low) if distance_m > 0.0 else math.nan

    found = propagated(height, readings, "a picture and a distance", notes=notes)
    return a_length(found, "height")


def height_by_staff(
    scale: PictureScale,
    staff_m: Reading,
    subject: tuple[Spot, Spot],
    staff: tuple[Spot, Spot],
    *,
    distances_m: tuple[Reading, Reading] | None = None,
) -> Measured:
    """Height from a person or a staff of known height in the picture.

    ``H = S (D / d) (tan top - tan base) / (tan staff top - tan staff base)``; at one distance, so
    with the staff beside the subject, D / d is 1 and nothing is taped. The focal length enters
    only by the camera's pitch.

    Parameters
    ----------
    scale : PictureScale
        A rough focal length will do.
    staff_m : Reading
        Height of the person or the staff, metres.
    subject, staff : tuple of Spot
        Top and base of each, pixels.
    distances_m : tuple of Reading, optional
        Level distances to the subject and to the staff, metres, where they differ.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        As `height_by_picture`.

    Examples
    --------
    >>> from backbearing.measuring import PictureScale, Reading, Spot, height_by_staff
    >>> scale = PictureScale.of_lens(35.0, sensor_width_mm=36.0, width_px=6000, height_px=4000)
    >>> tree, person = (Spot(2900, 600), Spot(2900, 3000)), (Spot(3300, 2640), Spot(3300, 3000))
    >>> found = height_by_staff(scale, Reading(1.75, 0.02), tree, person)
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '12.2 m, give or take 0.3 m'
    """
    check_inside(scale, {"top": subject[0], "base": subject[1], "staff top": staff[0],
                    "staff base": staff[1]})  # fmt: skip
    far, near = distances_m or (Reading(1.0), Reading(1.0))
    pitch, notes = _pitch(scale, subject[1], far.value if distances_m else None, None)
    rows = (*subject, *staff)
    names = ("top_px", "base_px", "staff_top_px", "staff_base_px")
    readings = {name: Reading(spot.row_px, scale.spot_sigma_px) for name, spot in
                zip(names, rows, strict=True)}  # fmt: skip
    readings |= {"staff_m": staff_m, "focal_px": scale.focal_px, "pitch_deg": pitch}
    if distances_m:
        readings |= {"distance_m": far, "staff_distance_m": near}

    def height(
        staff_m: float,
        focal_px: float,
        pitch_deg: float,
        distance_m: float = 1.0,
        staff_distance_m: float = 1.0,
        **rows_px: float,
    ) -> float:
        spots = [s._replace(row_px=rows_px[n]) for n, s in zip(names, rows, strict=True)]
        seen = scale.tangents(spots, focal_px=focal_px, pitch_deg=pitch_deg)
        top, base, staff_top, staff_base = (altitude for _, altitude in seen)
        known = (staff_top - staff_base) * staff_distance_m
        return staff_m * distance_m * (top - base) / known if known > 0.0 else math.nan

    found = propagated(height, readings, "a person or staff in the picture", notes=notes)
    return a_length(found, "height")


def pitch_of_horizon(scale: PictureScale, row_px: Reading) -> Reading:
    """Pitch of the camera from the row of a level horizon (the sea) in the middle column.

    ``pitch = -atan(rows above the middle / focal length)``; the dip of the sea, 0.03 degree at a
    person's height, is left out.

    Examples
    --------
    >>> from backbearing.measuring import PictureScale, Reading, pitch_of_horizon
    >>> scale = PictureScale.of_lens(50.0, sensor_width_mm=36.0, width_px=6000, height_px=4000)
    >>> f"{pitch_of_horizon(scale, Reading(2500.0, 3.0)).value:.1f} degrees up"
    '3.4 degrees up'
    """

    def pitch(row_px: float, focal_px: float) -> float:
        return math.degrees(math.atan((row_px - scale.height_px / 2.0) / focal_px))

    found = spread(pitch, {"row_px": row_px, "focal_px": scale.focal_px})
    return Reading(found.value, found.sigma)


def _pitch(
    scale: PictureScale, base: Spot, distance_m: float | None, eye_m: Reading | None
) -> tuple[Reading, tuple[str, ...]]:
    """The pitch as given, or the one that level ground asks for, and what to say of it."""
    if scale.pitch_deg is not None:
        return scale.pitch_deg, ()
    below = math.degrees(math.atan((base.row_px - scale.height_px / 2.0) / scale.focal_px.value))
    eye = eye_m or Reading(EYE_M, EYE_SIGMA_M)
    if distance_m is None:
        # At no known distance the base of what fills a picture lies some degrees below the eye.
        dip, sigma = 3.0, LEVEL_SIGMA_DEG
    else:
        dip = math.degrees(math.atan2(eye.value, distance_m))
        sigma = math.hypot(LEVEL_SIGMA_DEG, math.degrees(eye.sigma / max(distance_m, 1.0)))
    said = f"the camera's pitch was taken as {num(below - dip, 0)}° within {num(sigma, 0)}°, as "
    said += "over level ground"
    return Reading(below - dip, sigma), (said,)


def check_inside(scale: PictureScale, spots: Mapping[str, Spot]) -> None:
    """Refuse spots off the picture.

    Raises
    ------
    MeasureError
        With the spot's name.
    """
    for name, spot in spots.items():
        across = 0.0 <= spot.column_px <= scale.width_px
        if not (across and 0.0 <= spot.row_px <= scale.height_px):
            raise MeasureError(
                f"the {name} at column {num(spot.column_px)}, row {num(spot.row_px)} lies off the "
                f"picture of {scale.width_px} x {scale.height_px} pixels",
                hint="count columns from the left edge and rows from the top edge",
            )
