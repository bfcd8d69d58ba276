"""A review as text on the terminal: a table of all frames, then each in words."""

from __future__ import annotations

from math import isfinite, nan
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.numbers import counted, num
from backbearing.base.text import night_label, terminal_safe
from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    import datetime as dt

    from rich.console import Console
    from rich.table import Table

    from backbearing.review.report import FrameReview, Review

_COLUMNS = ("frame", "taken", "turn", "lens", "shutter", "expected", "trail", "width")


def print_review(out: Console, review: Review) -> None:
    """Print a review: the table, the frames in words, what failed, and the limits."""
    from rich.text import Text

    title = f"{review.name}, night of {night_label(review.evening)}, as taken"
    out.print(Text(terminal_safe(title), style="bold"))
    out.print(Text(f"Times in {review.zone}; trails and widths of stars in pixels."))
    if review.frames:
        out.print(_table(review))
    for frame in review.frames:
        _print_frame(out, frame, review.accepted_trail_px)
    for failed in review.unread:
        out.print(Text(terminal_safe(f"! {failed.why}")))
    out.print(Text("How far to trust this", style="bold"))
    for note in review.notes:
        out.print(Text(f"  {note}"))


def _table(review: Review) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in _COLUMNS:
        table.add_column(name, justify="left" if name == "frame" else "right", overflow="fold")
    for frame in review.frames:
        row = _row(frame, ZoneInfo(review.zone))
        table.add_row(*(Text(terminal_safe(cell)) for cell in row))
    return table


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


def _print_frame(out: Console, frame: FrameReview, accepted_px: float) -> None:
    from rich.text import Text

    out.print(Text(terminal_safe(frame.name), style="bold"))
    lines = [frame.time_sentence]
    if frame.planned is not None:
        lines.insert(0, frame.planned.sentence)
    lines += _exposure(frame)
    if frame.place is not None:
        lines.append(frame.place.sentence)
    if frame.expected is not None:
        lines.append(_to_expect(frame, accepted_px))
    for line in (*lines, *frame.sentences):
        out.print(Text(terminal_safe(f"  {line}")))
    if frame.measured is not None and frame.measured.whole.measured:
        out.print(Text(terminal_safe(f"  By region: {_regions(frame)}.")))


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
