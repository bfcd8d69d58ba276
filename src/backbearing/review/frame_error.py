"""The error of a picture that cannot be read or measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.errors import BackbearingError

if TYPE_CHECKING:
    from pathlib import Path


class FrameError(BackbearingError):
    """A picture that cannot be read or measured, with its name.

    Examples
    --------
    >>> from backbearing.review import FrameError, read_exif
    >>> try:
    ...     read_exif("no_such_frame.jpg")
    ... except FrameError as problem:
    ...     print(problem)
    There is no frame no_such_frame.jpg in .; check the name.
    """


def damaged(path: Path, problem: Exception | str) -> FrameError:
    """Build the error for a picture that breaks off or is damaged."""
    why = problem if isinstance(problem, str) else type(problem).__name__
    return FrameError(
        f"{path.name} is damaged or breaks off ({why}); copy it from the card "
        "again, or export it again.",
        file=str(path),
    )
