"""[scouting] of an outing file: weights, limits, and the files that scouting reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.outing.scouting_request import PARTS, ScoutRequest, Weights

if TYPE_CHECKING:
    from pathlib import Path

FILES: Final = ("candidates", "ways", "towns", "sky_brightness")


def scouting_of(folder: Path, shape: Any) -> ScoutRequest:
    """Make the request, with paths resolved against the outing's folder.

    Raises
    ------
    OutingError
        When all weights are zero.
    """
    asked = shape.model_dump()
    weights = Weights(**{part: asked.pop(part) for part in PARTS})
    for name in FILES:
        if asked[name] is not None:
            asked[name] = (folder / asked[name]).resolve()
    return ScoutRequest(weights=weights, **asked)
