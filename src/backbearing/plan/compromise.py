"""What to give up where a framing cannot be met."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    import numpy as np
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]


Given = Literal["minute", "share", "base_margin", "tilt", "orientation", "lens", "placement"]


@dataclass(frozen=True, slots=True)
class Compromise:
    """One thing to give up, and the nearest framing that is then reachable.

    Attributes
    ----------
    give_up : str
        ``"minute"``, ``"share"``, ``"base_margin"``, ``"tilt"``, ``"orientation"``,
        ``"lens"`` or ``"placement"``.
    value : float
        The nearest reachable value: a fraction for share and margin, millimetres for the
        lens, degrees for a placement; NaN where the sentence alone says it.
    time : datetime
        A moment at which it is reached, UTC.
    sentence : str
        The same for people, with its numbers.
    """

    give_up: Given
    value: float
    time: dt.datetime
    sentence: str
