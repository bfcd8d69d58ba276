"""Whether the target stands behind the subject itself, and whether it was asked to.

Everything is looked at in the subject's upright plane, across the line of sight. A gap of an
outline counts as open where a disc fits into it whose radius is the framing's play: in less, a
target that may leave its place by that much does not stay in view.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.outline_edges import outline_area

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.stand.solve import StandPlaces
    from backbearing.outing.outline import Outline
    from backbearing.outing.subject import Framing, Subject

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

GAP_STEPS: Final = 8
"""The width of a gap is taken in so many steps to each doubling, rounded down."""


class SubjectPlane(NamedTuple):
    """Where sight lines to the target pierce the subject's plane, metres; NaN where none does.

    ``across_m`` is from its middle, to the right; ``up_m`` from its visible base.
    """

    across_m: Floats
    up_m: Floats


class SeenBox(NamedTuple):
    """Boxes as stands see them; shapes that broadcast."""

    width_m: Floats
    distance_m: Floats
    top_altitude_deg: Floats


def in_subject_plane(
    subject: Subject, places: StandPlaces, azimuth_deg: Floats, altitude_deg: Floats
) -> SubjectPlane:
    """Follow sight lines from stands ``(n,)`` to the subject's plane; directions ``(..., n)``.

    As seen: base and top stand where ``places`` sees them, refraction and curvature included.
    """
    turn = np.radians(azimuth_deg - places.bearing_deg)
    ahead = np.cos(turn)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, top = (
            np.tan(np.radians(v)) for v in (places.base_altitude_deg, places.top_altitude_deg)
        )
        across = np.where(ahead > 0.0, places.distance_m * np.tan(turn), np.nan)
        rise = np.tan(np.radians(altitude_deg)) / ahead - low
        up = np.where(ahead > 0.0, subject.height_m * rise / (top - low), np.nan)
    return SubjectPlane(across, up)


def hidden_by_subject(subject: Subject, plane: SubjectPlane, gap_m: Floats) -> Flags:
    """Whether the subject hides what stands there.

    Parameters
    ----------
    subject : Subject
        By its outline, or else a box; what lies below its base, between its sides, hides too.
    plane : SubjectPlane
    gap_m : ndarray
        Widths of the narrowest gap that counts as open, of a shape that broadcasts.

    Returns
    -------
    ndarray of bool
        False where a direction is unknown.
    """
    across, up, gap = np.broadcast_arrays(plane.across_m, plane.up_m, gap_m)
    if subject.outline is None:
        with np.errstate(invalid="ignore"):
            return np.asarray(
                (np.abs(across) < subject.shown_width_m / 2.0) & (up < subject.height_m)
            )
    return _behind_outline(subject.outline, across, up, gap)


def is_behind(
    subject: Subject,
    framing: Framing,
    places: StandPlaces,
    azimuth_deg: Floats,
    altitude_deg: Floats,
) -> Flags:
    """Whether the subject hides what stands in some directions, seen from stands, ``(..., n)``."""
    plane = in_subject_plane(subject, places, azimuth_deg, altitude_deg)
    return hidden_by_subject(subject, plane, gap_m(framing, places.distance_m))


def gap_m(framing: Framing, distance_m: Floats) -> Floats:
    """Width of the narrowest gap to aim through, metres at the subject: the play to both sides."""
    return np.asarray(distance_m * 2.0 * np.tan(np.radians(framing.play_deg)))


def asked_behind(framing: Framing, top_y: Floats) -> Flags:
    """Whether the framing itself asks for the target behind the subject.

    Said outright, by an altitude below its top, or by a box of the frame that ends no higher
    than the top. To ask for nothing, or for a place over it or beside it, is not to ask for
    that.

    Parameters
    ----------
    framing : Framing
    top_y : ndarray
        The subject's top, fraction of the frame from its bottom.
    """
    below = framing.above_top_deg is not None and framing.above_top_deg < 0.0
    if framing.behind_subject or below:
        return np.ones(np.shape(top_y), dtype=bool)
    if framing.target_box is None:
        return np.zeros(np.shape(top_y), dtype=bool)
    with np.errstate(invalid="ignore"):
        return np.asarray(framing.target_box[3] <= top_y)


def room_off_box_deg(framing: Framing, places: SeenBox, altitude_deg: Floats) -> Floats:
    """How far over or beside a box the target stands, degrees; below 0 the box hides it.

    Parameters
    ----------
    framing : Framing
        Whose ``offset_deg`` says how far beside the box's middle the target is.
    places : SeenBox
    altitude_deg : ndarray
        Of the target.
    """
    turn = abs(framing.offset_deg)
    ahead = np.cos(np.radians(turn))
    over = np.degrees(np.arctan(np.tan(np.radians(altitude_deg)) / ahead)) - places.top_altitude_deg
    beside = turn - np.degrees(np.arctan2(places.width_m / 2.0, places.distance_m))
    return np.asarray(np.maximum(over, beside))


def _behind_outline(outline: Outline, across: Floats, up: Floats, gap: Floats) -> Flags:
    import shapely

    left, _, right, _ = outline_area(outline).bounds
    with np.errstate(invalid="ignore"):
        hidden = np.asarray((up <= 0.0) & (across > left) & (across < right))
        near = (up > 0.0) & (up < outline.height_m) & (across > left) & (across < right)
    near &= gap > 0.0
    if not near.any():
        return hidden
    area = outline_area(outline)
    shapely.prepare(area)
    x, y = across[near], up[near]
    inside = np.asarray(shapely.contains_xy(area, x, y))
    # Only what the outline itself leaves open may lie in a gap that is too narrow.
    open_ = np.flatnonzero(~inside)
    steps = np.floor(GAP_STEPS * np.log2(gap[near][open_])).astype(np.int64)
    for step in np.unique(steps):
        rows = open_[steps == step]
        inside[rows] = shapely.contains_xy(_closed(outline, int(step)), x[rows], y[rows])
    hidden[near] = inside
    return hidden


@lru_cache(maxsize=64)
def _closed(outline: Outline, step: int) -> BaseGeometry:
    """The outline with the gaps filled into which no disc so wide fits."""
    import shapely

    radius = 2.0 ** (step / GAP_STEPS) / 2.0
    filled: BaseGeometry = outline_area(outline).buffer(radius).buffer(-radius)
    shapely.prepare(filled)
    return filled
