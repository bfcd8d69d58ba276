"""How well a person reads a tape, a needle, a picture: one standard deviation each."""

from __future__ import annotations

from typing import Final

TAPE_SIGMA: Final = 0.01
"""Of a distance taken with a tape over rough ground, as a share of it (common practice, no
source)."""

MIDDLE_SIGMA_M: Final = 0.1
"""How well the middle of a subject's base is found by eye, metres (common practice, no source)."""

COMPASS_SIGMA_DEG: Final = 2.0
"""Of a bearing by a hand compass (common practice, no source)."""

CLINOMETER_SIGMA_DEG: Final = 0.5
"""Of an angle by a hand clinometer or a phone, degrees (common practice, no source)."""

ROW_SIGMA_PX: Final = 3.0
"""Of an edge pointed at in a picture, pixels (common practice, no source)."""

FOCAL_SIGMA: Final = 0.02
"""Share by which the focal length written on a lens may differ from its true one (common
practice, no source)."""
