"""The lamp and the blue hour as lines of text, each said once with the lenses it is of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backbearing.plan.lamp import PlanLamp


def lamp_lines(lamp: PlanLamp, zone: str) -> list[str]:
    """Everything that is said of light, for where there is room."""
    said = [lamp.line]
    said += _each_once((turn.lens, turn.sentence) for turn in lamp.turns)
    said += _each_once((turn.lens, spot.sentence) for turn in lamp.turns for spot in turn.spots)
    said += [lamp.shutters] if lamp.shutters else []
    blue = lamp.blue_hour
    if blue is not None:
        said.append(blue.sentence)
        said += _each_once(
            (one.lens, f"A frame of the ground at {hm(one.time, zone)}: {one.sentence}")
            for one in blue.frames
        )
    return [*said, *lamp.care, *lamp.notes]


def short_lamp_lines(lamp: PlanLamp) -> list[str]:
    """What is used in the dark: the answer, the places of the first turn, the first care."""
    said = [lamp.line]
    said += [spot.sentence for turn in lamp.turns[:1] for spot in turn.spots]
    if lamp.blue_hour is not None:
        said.append(lamp.blue_hour.sentence)
    return [*said, lamp.care[0]]


def _each_once(pairs: Iterable[tuple[str, str]]) -> list[str]:
    whose: dict[str, list[str]] = {}
    for label, sentence in pairs:
        if label not in whose.setdefault(sentence, []):
            whose[sentence].append(label)
    return [f"{', '.join(labels)}: {sentence}" for sentence, labels in whose.items()]
