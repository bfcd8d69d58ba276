"""Why a night has no window, as a type."""

from __future__ import annotations

from typing import Literal

Outcome = Literal[
    "no darkness",
    "never so high",
    "skyline unknown",
    "below the skyline",
    "moon",
    "moon while clear",
]
"""Why a night has no window: the Sun, the target's own path, the ground, or the Moon."""
