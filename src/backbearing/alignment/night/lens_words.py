"""What a night gives a lens, or what takes it away, in one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.night.lens_arc import Judged
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.stand import Limit, Span


def sentence_of(
    lens: Lens,
    judged: Judged,
    usable: Sequence[Span],
    framed: Sequence[Span],
    clock: str | None,
    spoilt: Sequence[Limit],
    zone: str,
) -> str:
    """Say in words what the night gives this lens, or what takes it away."""
    good = _clock_list(usable, zone)
    if clock and spoilt:
        rest = f" Nothing spoils {good}." if good else ""
        return f"At {clock} it is spoilt by {_listed(spoilt)}.{rest}"
    if usable:
        held = (
            ""
            if judged.framed.all()
            else f" The frame holds both only {_clock_list(framed, zone)}."
        )
        return f"Works {good}.{held}"
    if not judged.limits["twilight"].size:
        return "The target is never above the horizontal while the Sun is down."
    if judged.limits["no stand"].all():
        return "No stand: no distance along the back bearing gives the asked share on this ground."
    if not framed:
        return (
            "Never holds subject and target at once this night: at the asked share and margin the "
            "target stays out of its place in the frame."
        )
    cause = _listed([limit for limit in judged.limits if judged.limits[limit][judged.framed].any()])
    return f"The frame holds both {_clock_list(framed, zone)}, but then it is spoilt by {cause}."


_SPOILERS: dict[Limit, str] = {
    "twilight": "twilight",
    "moon": "the Moon",
    "ridge": "the ridge",
    "frame": "the frame (the target falls outside its place in it)",
    "unknown ground": "unknown ground towards the target",
    "no stand": "the ground (no stand gives the framing)",
}


def _listed(limits: Sequence[Limit]) -> str:
    words = [_SPOILERS[limit] for limit in limits]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _clock_list(spans: Sequence[Span], zone: str) -> str:
    from zoneinfo import ZoneInfo

    local = ZoneInfo(zone)
    said = [
        f"{span.start.astimezone(local):%H:%M} to {span.end.astimezone(local):%H:%M}"
        for span in spans
    ]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + f" and {said[-1]}" if said else ""
