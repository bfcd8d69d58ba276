"""The subject against the skyline: its drawn shape in azimuth and altitude."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.outing.silhouettes import drawn_outline, shape_note
from backbearing.pictures.skyline_layout import SeenSubject

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.outing.subject import Subject

NEAREST_M = 1.0
"""From nearer than this there is nothing to stand in front of."""


def seen_subject(
    subject: Subject, *, bearing_deg: float, distance_m: float, base_up_m: float
) -> SeenSubject | None:
    """Project a subject's shape as an eye sees it; None from the subject itself.

    Parameters
    ----------
    subject : Subject
    bearing_deg, distance_m : float
        From the eye to the middle of its base.
    base_up_m : float
        Its visible base over the eye, metres.
    """
    if not (distance_m > NEAREST_M and np.isfinite(base_up_m)):
        return None
    rings = []
    for ring in _wound(subject):
        across, up = ring.T
        azimuth = bearing_deg + np.degrees(np.arctan2(across, distance_m))
        altitude = np.degrees(np.arctan2(base_up_m + up, np.hypot(distance_m, across)))
        rings.append(np.column_stack([azimuth, altitude]))
    note = shape_note(subject)
    return SeenSubject(tuple(rings), f"The subject's {note}." if note else "")


def _wound(subject: Subject) -> list[NDArray[np.float64]]:
    """Rings of the shape, holes wound against what they lie in: not every writer fills even-odd."""
    import shapely
    from shapely.geometry.polygon import orient

    whole: BaseGeometry = shapely.Polygon()
    for ring in drawn_outline(subject).rings:
        whole = whole.symmetric_difference(shapely.make_valid(shapely.Polygon(ring)))
    parts = [orient(part) for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
    lines = [line for part in parts for line in (part.exterior, *part.interiors)]
    return [shapely.get_coordinates(shapely.segmentize(line, 0.05 * subject.height_m))
            for line in lines]  # fmt: skip
