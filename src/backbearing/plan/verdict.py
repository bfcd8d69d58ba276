"""What a clearance is worth against its doubt, as a type."""

from __future__ import annotations

from typing import Literal

Verdict = Literal["clears", "too close to call", "hidden", "unknown"]
