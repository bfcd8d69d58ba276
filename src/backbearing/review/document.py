"""A review as JSON: versioned, with unknown numbers as null (``docs/review.md``)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.grouped import flat_values

if TYPE_CHECKING:
    from backbearing.review.exif import FrameExif
    from backbearing.review.report import FrameReview, Review

FORMAT: Final = "backbearing-review"
VERSION: Final = 1


def review_document(review: Review) -> dict[str, Any]:
    """Give a review as dictionaries and lists; `exports.plan_json.plain` makes it JSON."""
    own = flat_values(review)
    own["frames"] = [_frame(frame) for frame in review.frames]
    return {"format": FORMAT, "version": VERSION, "review": own}


def _frame(frame: FrameReview) -> dict[str, Any]:
    own = flat_values(frame)
    own["exif"] = _exif(frame.exif)
    return own


def _exif(exif: FrameExif) -> dict[str, Any]:
    """EXIF without its path; the camera's clock stays text, since it names no zone."""
    own = flat_values(exif)
    del own["path"], own["utc_offset"]
    wall, offset = exif.wall_time, exif.utc_offset
    own["wall_time"] = None if wall is None else wall.isoformat(timespec="seconds")
    own["utc_offset_minutes"] = None if offset is None else offset.total_seconds() / 60.0
    return own
