"""The desk's colours by role: read from its own style sheet, and seen by eyes of every kind.

Contrast is that of WCAG 2.2, success criteria 1.4.3 and 1.4.11 (text 4.5 to 1, marks 3 to 1). What
protanopic and deuteranopic eyes see follows F. Vienot, H. Brettel and J. D. Mollon, "Digital video
colourmaps for checking the legibility of displays by dichromats", Color Research and Application 24
(1999), 243-252: in linear RGB, so that red and green become one; its matrices here from memory.
"""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import pytest

from backbearing.desk.assets import style

PROTAN = np.array([[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]])
DEUTAN = np.array([[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]])
EYES = {"all cones": np.eye(3), "protan": PROTAN, "deutan": DEUTAN}


def roles(theme: str) -> dict[str, str]:
    """The custom properties of one theme, red ones on top of those of the day."""
    found: dict[str, str] = {}
    for selector in (r":root", r':root\[data-theme="red"\]')[: 1 if theme == "day" else 2]:
        block = re.search(rf"^{selector} \{{(.*?)^\}}", style(), re.DOTALL | re.MULTILINE)
        assert block is not None
        found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", block.group(1)))
    return found


def linear(colour: str, theme: str) -> np.ndarray:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * one for one in colour[1:])
    parts = np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)]) / 255.0
    if theme == "red":
        parts[1:] = 0.0  # the sheet over the page lets red alone through
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one: np.ndarray, other: np.ndarray) -> float:
    weights = np.array([0.2126, 0.7152, 0.0722])
    light, dark = sorted((float(weights @ one), float(weights @ other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("theme", "eye"), [*(("day", eye) for eye in sorted(EYES)), ("red", "all cones")]
)
def test_words_and_marks_stand_out_for_every_eye(theme: str, eye: str) -> None:
    found, sees = roles(theme), EYES[eye]

    def between(one: str, other: str) -> float:
        return contrast(
            np.clip(sees @ linear(found[one], theme), 0.0, 1.0),
            np.clip(sees @ linear(found[other], theme), 0.0, 1.0),
        )

    for ink in ("ink", "soft", "now", "cannot"):
        for ground in ("paper", "sheet"):
            assert between(ink, ground) >= 4.5, (ink, ground)
    for mark in ("now", "good", "target"):
        for ground in ("sheet", "night", "paper"):
            assert between(mark, ground) >= 3.0, (mark, ground)


@pytest.mark.parametrize("eye", sorted(EYES))
def test_this_minute_what_works_and_what_cannot_are_never_told_by_hue_alone(eye: str) -> None:
    found, sees = roles("day"), EYES[eye]
    seen = {
        role: np.clip(sees @ linear(found[role], "day"), 0.0, 1.0) ** (1.0 / 2.2)
        for role in ("now", "cannot", "target", "land", "night")
    }
    for one, other in combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) > 0.15, (one, other)


def test_the_suns_steps_darken_one_after_another() -> None:
    weights = np.array([0.2126, 0.7152, 0.0722])
    for theme, way in (("day", -1.0), ("red", 1.0)):
        found = roles(theme)
        names = ("day", "civil", "nautical", "astronomical", "night")
        light = [float(weights @ linear(found[name], theme)) for name in names]
        assert all(step * way > 0.0 for step in np.diff(light)), theme


def test_letters_have_three_sizes() -> None:
    sizes = set(re.findall(r"font(?:-size)?:[^;}]*?(\d+)px", style()))
    assert sizes <= {"14", "18", "28"}
