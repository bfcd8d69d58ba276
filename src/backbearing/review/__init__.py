"""After the night: frames set beside the plan, and the star trails in them measured.

Names load on first use, so importing this package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.review.exif import FrameExif, read_exif
    from backbearing.review.night import review_frames
    from backbearing.review.picture import FrameError, Picture
    from backbearing.review.prediction import Pointing
    from backbearing.review.region import RegionTrails
    from backbearing.review.report import FrameReview, Review
    from backbearing.review.trails import MeasuredTrails, measure_trails

_HOMES = {
    "FrameError": "picture",
    "FrameExif": "exif",
    "FrameReview": "report",
    "MeasuredTrails": "trails",
    "Picture": "picture",
    "Pointing": "prediction",
    "RegionTrails": "region",
    "Review": "report",
    "measure_trails": "trails",
    "read_exif": "exif",
    "review_frames": "night",
}

__all__ = [
    "FrameError",
    "FrameExif",
    "FrameReview",
    "MeasuredTrails",
    "Picture",
    "Pointing",
    "RegionTrails",
    "Review",
    "measure_trails",
    "read_exif",
    "review_frames",
]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
