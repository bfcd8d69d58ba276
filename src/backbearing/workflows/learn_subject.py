"""Let an outing learn its subject's size from the frames of the night."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import NothingFoundError
from backbearing.base.numbers import per_cent
from backbearing.outing.write_keys import set_keys

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.review.report import Review

LEAST_TOLD: Final = 0.25
"""Frames that take away less of the height's doubt than this teach nothing worth writing."""


def learn_subject(file: Path, outing: Outing, review: Review) -> dict[str, Any]:
    """Write the height that the frames tell, and its doubt, into the outing.

    The width too where the frames show it and the subject has no outline of its own.

    Parameters
    ----------
    file : Path
        The outing's file.
    outing : Outing
        As loaded from it.
    review : Review
        With what the stars tell.

    Returns
    -------
    dict
        The keys of ``[subject]`` that were written.

    Raises
    ------
    NothingFoundError
        When the frames tell nothing of it, or too little.
    OutingError, WriteRefusedError
        As `set_keys`.
    """
    found = review.subject
    if found is None:
        raise NothingFoundError(
            "No frame shows the subject between stars that could be matched; nothing was learned."
        )
    if found.told_by_frames < LEAST_TOLD:
        raise NothingFoundError(
            f"The frames take {per_cent(found.told_by_frames)} of the height's doubt away: too "
            "little to learn from",
            hint="measure a stand's distance by tape, or the height with backbearing measure",
        )
    keys: dict[str, Any] = {
        "height_m": round(found.height_m, 2),
        "height_sigma_m": max(round(found.height_sigma_m, 2), 0.01),
    }
    if outing.subject.outline is None and outing.subject.width_m is not None:
        keys["width_m"] = round(found.width_m, 2)
        keys["width_sigma_m"] = max(round(found.width_sigma_m, 2), 0.01)
    set_keys(file, {"subject": keys})
    return keys
