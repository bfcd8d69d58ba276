"""A review as text on the terminal: a table of all frames, then each in words."""

from __future__ import annotations

from math import isfinite, nan
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.numbers import counted, num
from backbearing.base.text import night_label
from backbearing.base.wall_clock import hm
from backbearing.cli.screen import SCREEN_LINES
from backbearing.review.where_stood import stood_sentence

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.cli.screen import Screen
    from backbearing.review.report import FrameReview, Review
    from backbearing.workflows.learn_from_frames import Learning

MOST_FRAMES = 12
"""Rows of the short answer."""

_COLUMNS = ("frame", "taken", "turn", "lens", "shutter", "expected", "trail", "width")


def print_review(
    out: Screen,
    review: Review,
    *,
    everything: bool = True,
    then: str = "",
    learning: Learning | None = None,
) -> None:
    """Print a review: the table, the frames in words, what failed, and the limits.

    Unless everything is asked: the table, what failed or differs, and what comes ``then``. What
    was learned, or would be, goes with it.
    """
    out.title(f"{review.name}, night of {night_label(review.evening)}, as taken")
    out.say(f"Times in {review.zone}; trails and widths of stars in pixels.")
    frames = review.frames if everything else review.frames[:MOST_FRAMES]
    if frames:
        _table(out, review, frames)
    failed = [f"! {one.why}" for one in review.unread]
    if not everything:
        _brief(out, review, frames, failed, learning)
        out.say(f"Next: {then}", hang=2)
        return
    for frame in frames:
        _print_frame(out, frame, review.accepted_trail_px)
    for why in failed:
        out.say(why, hang=2)
    night = _of_the_night(review)
    if night:
        out.title("By the stars in the frames")
    for line in night:
        out.say(line, indent=2, hang=2)
    if learning is not None:
        _print_learning(out, learning)
    if review.ticked:
        out.title("As ticked in the field")
    for line in review.ticked:
        out.say(line, indent=2, hang=2)
    out.title("How far to trust this")
    for note in review.notes:
        out.say(note, indent=2, hang=2)


def _print_learning(out: Screen, learning: Learning) -> None:
    """What was written into the outing, or what would be."""
    if learning.kept_as is None:
        out.title("What --learn would write")
    else:
        out.title("Learned")
    for line in (*learning.said, *([learning.why_not] if learning.why_not else [])):
        out.say(line, indent=2, hang=2)
    if learning.kept_as is not None:
        out.say(f"The outing as it was: {learning.kept_as.name}.", indent=2, hang=2)


def _of_the_night(review: Review) -> list[str]:
    """The subject's size, the clock and the compass, by all frames."""
    compass = "" if review.compass is None else review.compass.sentence
    return [one for one in (review.subject_sentence, review.clock_sentence, compass) if one]


def _brief(
    out: Screen,
    review: Review,
    frames: Sequence[FrameReview],
    failed: list[str],
    learning: Learning | None,
) -> None:
    """What the stars tell, what was ticked, what failed or differs."""
    more = len(review.frames) - len(frames)
    if more:
        out.say(f"and {more} more: --all", indent=2)
    for frame in frames:
        failed += [f"{frame.name}: {one}" for one in _exposure(frame) if "As planned" not in one]
    told = _by_the_stars(review, frames)
    if told:
        out.title("By the stars in the frames")
        out.some(told, 6 if learning else 8)
    if learning is not None:
        _print_learning(out, learning)
    if review.ticked:
        out.title("As ticked in the field")
        out.some(list(review.ticked), 6)
    if failed:
        out.title("What differs")
        out.some(failed, max(SCREEN_LINES - 3 - len(out.lines), 3))
    out.say("Care: how far to trust this, and each frame in words: --all.")


def _by_the_stars(review: Review, frames: Sequence[FrameReview]) -> list[str]:
    """Where each frame was taken from, in brief, and how high the subject is."""
    said = _of_the_night(review)
    for frame in frames:
        if frame.stars is not None:
            stood = frame.stars.stood
            said.append(
                f"{frame.name}: {frame.stars.sentence if stood is None else stood_sentence(stood)}"
            )
    return said


def _table(out: Screen, review: Review, frames: Sequence[FrameReview]) -> None:
    out.listing(
        _COLUMNS,
        [_row(frame, ZoneInfo(review.zone)) for frame in frames],
        words={"frame", "lens"},
    )


def _row(frame: FrameReview, zone: dt.tzinfo) -> tuple[str, ...]:
    planned, measured, exif = frame.planned, frame.measured, frame.exif
    taken = "unknown"
    if frame.time is not None:
        taken = hm(frame.time, zone, seconds=True)
    return (
        frame.name,
        taken,
        "" if planned is None or planned.turn is None else f"{planned.turn}.",
        "not planned" if planned is None else planned.lens,
        f"{num(exif.shutter_s)} s" if isfinite(exif.shutter_s) else "unknown",
        _pixels(_expected_px(frame)),
        "" if measured is None else _pixels(measured.whole.length_px),
        "" if measured is None else _pixels(measured.whole.width_px),
    )


def _expected_px(frame: FrameReview) -> float:
    """What to expect where the measured stars are, else in the centre."""
    if frame.measured is not None and frame.measured.whole.measured:
        return frame.measured.whole.predicted_length_px
    return nan if frame.expected is None else frame.expected.centre_px


def _pixels(value: float) -> str:
    return f"{num(value, 1)}" if isfinite(value) else "unknown"


def _print_frame(out: Screen, frame: FrameReview, accepted_px: float) -> None:

    out.title(frame.name)
    lines = [frame.time_sentence]
    if frame.planned is not None:
        lines.insert(0, frame.planned.sentence)
    lines += _exposure(frame)
    if frame.stars is not None:
        told = frame.stars
        lines.append(told.sentence)
        lines += [one.sentence for one in (told.skyline, told.compass) if one is not None]
    if frame.ticked:
        lines.append(frame.ticked)
    if frame.place is not None:
        lines.append(frame.place.sentence)
    if frame.expected is not None:
        lines.append(_to_expect(frame, accepted_px))
    for line in (*lines, *frame.sentences):
        out.say(f"{line}", indent=2)
    if frame.measured is not None and frame.measured.whole.measured:
        out.say(f"By region: {_regions(frame)}.", indent=2)


def _exposure(frame: FrameReview) -> list[str]:
    """What differs from the plan, one line each, after one line for all that does not."""
    same = [one.what for one in frame.beside if one.as_planned]
    lines = [f"As planned: {', '.join(same)}."] if same else []
    differing = (one.sentence for one in frame.beside if not one.as_planned)
    return lines + [said[0].upper() + said[1:] for said in differing]


def _to_expect(frame: FrameReview, accepted_px: float) -> str:
    expected = frame.expected
    assert expected is not None  # noqa: S101  # asked only of frames that have it
    target = ""
    if isfinite(expected.target_px):
        verb = "within" if expected.target_px <= accepted_px else "beyond"
        target = f", {num(expected.target_px, 1)} px at the target ({verb} your {num(accepted_px)})"
    return (
        f"Trails to expect at that shutter: {num(expected.centre_px, 1)} px in the centre, "
        f"{num(expected.worst_corner_px, 1)} px in the worst corner{target}."
    )


def _regions(frame: FrameReview) -> str:
    measured = frame.measured
    if measured is None:
        return ""
    parts = []
    for region in measured.regions:
        if not region.measured:
            parts.append(f"{region.where} too few stars")
            continue
        expected = region.predicted_length_px
        beside = f" for {num(expected, 1)}" if isfinite(expected) else ""
        stars = counted(region.stars, "stars")
        parts.append(f"{region.where} {num(region.length_px, 1)}{beside} px ({stars})")
    return "; ".join(parts)
