"""What can go wrong, in a handful of kinds that carry their data.

Every message is one sentence for the person on the other side: what is wrong,
where it stands (file, key, row), and what to write instead.
"""

from __future__ import annotations

from typing import Any


class BackbearingError(Exception):
    """Anything this package refuses to do, with the facts behind the refusal.

    Parameters
    ----------
    message : str
        One sentence for the user.
    **facts
        The values the sentence speaks of, kept as ``.facts`` for scripts.
    """

    exit_code = 1

    def __init__(self, message: str, **facts: Any) -> None:
        super().__init__(message)
        self.facts: dict[str, Any] = facts


class OutingError(BackbearingError):
    """The outing file, or a file that it names, cannot be used as written."""


class TerrainError(BackbearingError):
    """The elevation raster cannot answer: unreadable, unreferenced, void or too small."""


class OutsideRasterError(TerrainError):
    """The place lies off the elevation raster, or on its outermost half cell."""


class VoidGroundError(TerrainError):
    """The raster holds no height at the place: a void, a missing tile or open water."""


class SkyError(BackbearingError):
    """The sky cannot be computed as asked: a date outside the ephemeris, a naive time."""


class CameraError(BackbearingError):
    """A camera, lens or framing that cannot exist or cannot be met."""


class WriteRefusedError(BackbearingError):
    """A file is in the way, or cannot be written; nothing on disk was changed."""


class SelfCheckError(BackbearingError):
    """A result contradicts itself: a fault of this package, found before it was given out."""

    exit_code = 4


class NothingFoundError(BackbearingError):
    """The question was understood and the answer is none; the message says why."""

    exit_code = 3
