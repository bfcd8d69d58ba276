"""What can go wrong, in a handful of kinds that carry their data.

Every message is one sentence for the person on the other side: what is wrong, where it stands
(file, section, key), and what to write instead. The three are kept apart, and worded together
only when the error is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Self


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a file, as its reader would name it.

    Parameters
    ----------
    file : str
        Its name, such as ``outing.toml``.
    section : str, optional
        As it stands there: ``[camera]``, or ``[[lens]] number 2`` for one of several.
    key : str, optional
        Within the section.
    """

    file: str
    section: str = ""
    key: str = ""

    def said_of(self, what: str) -> str:
        """Put the place before what is said of it; a key that it begins with is not repeated."""
        place = f"{self.file}:" + (f" {self.section}" if self.section else "")
        if not self.key:
            return f"{place} {what}"
        numbered = "," if self.section.startswith("[[") else ""
        told = what if what.startswith(f"{self.key} ") else f"{self.key}: {what}"
        return f"{place}{numbered} {told}"


@dataclass(frozen=True, slots=True)
class Setting:
    """A setting to make: passed in Python, written in an outing file.

    Parameters
    ----------
    key : str
    *values : str
        One to choose; texts are quoted as either language does. None means a value that the
        reader knows, said in ``stands_for``.
    stands_for : str, optional
        Such as ``[that number]``.
    """

    key: str
    values: tuple[str, ...] = ()
    stands_for: str = ""

    def worded(self, *, in_file: bool) -> str:
        """Say what to do: ``pass unit='foot'``, or in a file ``write unit = "foot"``."""
        quote, equals = ('"', " = ") if in_file else ("'", "=")
        quoted = [f"{quote}{value}{quote}" for value in self.values]
        *before, last = quoted or [self.stands_for]
        value = f"{', '.join(before)} or {last}" if before else last
        return f"{'write' if in_file else 'pass'} {self.key}{equals}{value}"


Hint = str | tuple[str | Setting, ...]
"""What to do, with the settings to make kept apart."""


class BackbearingError(Exception):
    """Anything this package refuses to do, with the facts behind the refusal.

    Parameters
    ----------
    what : str
        What is wrong: a sentence, whose full stop may be left out.
    hint : str or tuple of str and Setting, optional
        What to do about it, to stand after a semicolon.
    where : Where, optional
        The place in a file that it speaks of.
    **facts
        The values the sentence speaks of, kept as ``.facts`` for scripts.

    Examples
    --------
    >>> problem = OutingError("width_px is 'wide'", hint="write a whole number")
    >>> print(problem.at(Where("outing.toml", "[camera]", "width_px")))
    outing.toml: [camera] width_px is 'wide'; write a whole number.
    """

    exit_code = 1

    def __init__(
        self,
        what: str,
        *,
        hint: Hint = (),
        where: Where | None = None,
        **facts: Any,
    ) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.facts: dict[str, Any] = facts
        self.hint_parts = hint if isinstance(hint, tuple) else (hint,) if hint else ()

    @property
    def hint(self) -> str:
        """What to do about it, as said in Python or, with a place, in a file; or empty."""
        in_file = self.where is not None
        return "".join(
            part.worded(in_file=in_file) if isinstance(part, Setting) else part
            for part in self.hint_parts
        )

    def __str__(self) -> str:
        said = f"{self.what}; {self.hint}" if self.hint_parts else self.what
        ended = said if said.endswith((".", "?", "!", ".)")) else f"{said}."
        return ended if self.where is None else self.where.said_of(ended)

    def at(self, where: Where) -> Self:
        """Say where it stands, as only the caller knows who read the file; returns itself.

        An error that has its place already keeps it within the sentence.
        """
        if self.where is not None:
            self.what, self.hint_parts = str(self), ()
        self.where = where
        return self


class OutingError(BackbearingError):
    """The outing file, or a file that it names, cannot be used as written."""


class PlaceError(BackbearingError):
    """A place that is written in no notation, in two at once, or where no place is."""


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


class MeasureError(BackbearingError):
    """Readings from which nothing follows, or nothing that is worth its name."""


class WriteRefusedError(BackbearingError):
    """A file is in the way, or cannot be written; nothing on disk was changed."""


class FetchError(BackbearingError):
    """Ground cannot be brought or taken as asked: a place, a source, a server's answer, a file."""


class SelfCheckError(BackbearingError):
    """A result contradicts itself: a fault of this package, found before it was given out."""

    exit_code = 4


class NothingFoundError(BackbearingError):
    """The question was understood and the answer is none; the message says why."""

    exit_code = 3
