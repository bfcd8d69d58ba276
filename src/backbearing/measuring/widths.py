"""Widths across the line of sight: by two bearings, or from a picture."""

from __future__ import annotations

import math

from backbearing.base.angles import wrap_180_deg
from backbearing.base.errors import MeasureError
from backbearing.base.numbers import num
from backbearing.measuring.pictures import LEVEL_SIGMA_DEG, PictureScale, Spot, check_inside
from backbearing.measuring.readings import Measured, Reading, a_length, propagated


def width_by_bearings(distance_m: Reading, left_deg: Reading, right_deg: Reading) -> Measured:
    """Width from a distance and the bearings of the left and the right edge.

    ``W = 2 D tan((right - left) / 2)``, both edges in the plane across the line to their middle.
    True or magnetic bearings do alike, as only their difference counts.

    Parameters
    ----------
    distance_m : Reading
        Level distance to the subject's middle, metres.
    left_deg, right_deg : Reading
        Degrees clockwise.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        For edges that are swapped, or a doubt of a third and more: a hand compass is too coarse
        for what is seen under less than some ten degrees.

    Examples
    --------
    >>> from backbearing.measuring import Reading, taped, width_by_bearings
    >>> found = width_by_bearings(taped(15.0), Reading(352.0, 0.5), Reading(18.0, 0.5))
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '6.9 m, give or take 0.2 m'
    """
    _check_distance(distance_m)
    apart = wrap_180_deg(right_deg.value - left_deg.value)
    if not 0.0 < apart < 150.0:
        raise MeasureError(
            f"the right edge is {num(apart, 1)}° to the right of the left one",
            hint="look whether the two are swapped",
        )

    def width(distance_m: float, left_deg: float, right_deg: float) -> float:
        angle = math.radians(wrap_180_deg(right_deg - left_deg))
        return 2.0 * distance_m * math.tan(angle / 2.0)

    readings = {"distance_m": distance_m, "left_deg": left_deg, "right_deg": right_deg}
    return a_length(propagated(width, readings, "a distance and two bearings"), "width")


def width_by_picture(scale: PictureScale, distance_m: Reading, left: Spot, right: Spot) -> Measured:
    """Width across the line of sight from a picture taken at a known level distance.

    Both edges lie in the upright plane across the line to their middle:
    ``W = 2 D tan(angle / 2)``, with the level angle between the edges.

    Parameters
    ----------
    scale : PictureScale
    distance_m : Reading
        Level distance to the subject's middle, metres.
    left, right : Spot
        Pixels.

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
    >>> from backbearing.measuring import PictureScale, Spot, taped, width_by_picture
    >>> scale = PictureScale.of_lens(50.0, sensor_width_mm=36.0, width_px=6000, height_px=4000)
    >>> found = width_by_picture(scale, taped(40.0), Spot(2000, 2000), Spot(3500, 2000))
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '7.2 m, give or take 0.2 m'
    """
    check_inside(scale, {"left": left, "right": right})
    pitch, notes = _level_or(scale)
    readings = {
        "distance_m": distance_m,
        "left_px": Reading(left.column_px, scale.spot_sigma_px),
        "right_px": Reading(right.column_px, scale.spot_sigma_px),
        "focal_px": scale.focal_px,
        "pitch_deg": pitch,
    }

    def width(
        distance_m: float, left_px: float, right_px: float, focal_px: float, pitch_deg: float
    ) -> float:
        spots = left._replace(column_px=left_px), right._replace(column_px=right_px)
        (one, _), (other, _) = scale.tangents(spots, focal_px=focal_px, pitch_deg=pitch_deg)
        return 2.0 * distance_m * math.tan((other - one) / 2.0) if distance_m > 0.0 else math.nan

    found = propagated(width, readings, "a picture and a distance", notes=notes)
    return a_length(found, "width")


def width_by_staff(
    scale: PictureScale,
    staff_m: Reading,
    subject: tuple[Spot, Spot],
    staff: tuple[Spot, Spot],
    *,
    distances_m: tuple[Reading, Reading] | None = None,
) -> Measured:
    """Width from an upright person or staff of known height in the picture.

    ``W = 2 S (D / d) tan(angle / 2) / (tan staff top - tan staff base)``; at one distance, with the
    staff beside the subject, D / d is 1.

    Parameters
    ----------
    scale : PictureScale
        A rough focal length will do.
    staff_m : Reading
        Height of the person or the staff, metres.
    subject : tuple of Spot
        Left and right edge, pixels.
    staff : tuple of Spot
        Top and base, pixels.
    distances_m : tuple of Reading, optional
        Level distances to the subject and to the staff, metres, where they differ.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        As `width_by_picture`.

    Examples
    --------
    >>> from backbearing.measuring import PictureScale, Reading, Spot, width_by_staff
    >>> scale = PictureScale.of_lens(35.0, sensor_width_mm=36.0, width_px=6000, height_px=4000)
    >>> edges, person = (Spot(2000, 1500), Spot(3700, 1500)), (Spot(3900, 2240), Spot(3900, 2600))
    >>> found = width_by_staff(scale, Reading(1.75, 0.02), edges, person)
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '8.4 m, give or take 0.2 m'
    """
    left, right = subject
    top, base = staff
    spots = {"left": left, "right": right, "staff top": top, "staff base": base}
    check_inside(scale, spots)
    far, near = distances_m or (Reading(1.0), Reading(1.0))
    for one in (far, near):
        _check_distance(one)
    pitch, notes = _level_or(scale)
    sigma = scale.spot_sigma_px
    readings = {
        "staff_m": staff_m,
        "left_px": Reading(left.column_px, sigma),
        "right_px": Reading(right.column_px, sigma),
        "staff_top_px": Reading(top.row_px, sigma),
        "staff_base_px": Reading(base.row_px, sigma),
        "focal_px": scale.focal_px,
        "pitch_deg": pitch,
        "distance_m": far,
        "staff_distance_m": near,
    }

    def width(focal_px: float, pitch_deg: float, **read: float) -> float:
        seen = scale.tangents(
            (
                left._replace(column_px=read["left_px"]),
                right._replace(column_px=read["right_px"]),
                top._replace(row_px=read["staff_top_px"]),
                base._replace(row_px=read["staff_base_px"]),
            ),
            focal_px=focal_px,
            pitch_deg=pitch_deg,
        )
        known = (seen[2][1] - seen[3][1]) * read["staff_distance_m"]
        across = 2.0 * math.tan((seen[1][0] - seen[0][0]) / 2.0) * read["distance_m"]
        return read["staff_m"] * across / known if known > 0.0 else math.nan

    found = propagated(width, readings, "a person or staff in the picture", notes=notes)
    return a_length(found, "width")


def _level_or(scale: PictureScale) -> tuple[Reading, tuple[str, ...]]:
    """The pitch as given, or level within some degrees, and what to say of it."""
    if scale.pitch_deg is not None:
        return scale.pitch_deg, ()
    said = f"the camera was taken as level within {num(LEVEL_SIGMA_DEG)}°"
    return Reading(0.0, LEVEL_SIGMA_DEG), (said,)


def _check_distance(distance_m: Reading) -> None:
    if not distance_m.value > 0.0:
        raise MeasureError(
            f"distance_m is {num(distance_m.value)}",
            hint="write a length above 0, in metres",
            key="distance_m",
        )
