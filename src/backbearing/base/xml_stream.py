"""Reading XML [XML2008]_ as a stream of elements, with no document types and no entities."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from xml.parsers import expat  # document types, and entities with them, are refused

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from typing import BinaryIO

    Start = Callable[[str, dict[str, str]], None]
    End = Callable[[str, str], None]

DEEPEST: Final = 200
LONGEST_TEXT: Final = 100_000
"""Letters of one element that are kept; the rest of a longer text is dropped."""

PIECE_BYTES: Final = 65_536
LONGEST_MARKUP_BYTES: Final = 1_000_000
"""Bytes of one tag, comment or instruction; the parser holds each whole, and reads it again with
every piece that comes."""


class XmlStream:
    """Calls ``start(name, attributes)`` and ``end(name, text)``, names without namespace.

    The text of an element is what stands directly in it, before and after its children.
    """

    def __init__(self, file: Path, root: str, start: Start, end: End) -> None:
        self.file = file
        self._root, self._start, self._end = root, start, end
        self._texts: list[list[str]] = []
        self._lengths: list[int] = []
        self._parser = expat.ParserCreate(namespace_separator="}")
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._on_start
        self._parser.EndElementHandler = self._on_end
        self._parser.CharacterDataHandler = self._on_text
        self._parser.StartDoctypeDeclHandler = self._on_doctype

    def read(self) -> None:
        """Read the whole file.

        Raises
        ------
        OutingError
            For what is not well formed, has a document type, or another root element.
        """
        try:
            with self.file.open("rb") as data:
                self._feed(data)
        except expat.ExpatError as problem:
            raise self._refuse(f"is not well-formed XML ({problem})") from problem
        except (LookupError, ValueError) as problem:
            raise self._refuse("is in an encoding that cannot be read; save it as UTF-8") from (
                problem
            )

    def _feed(self, data: BinaryIO) -> None:
        done = 0
        while piece := data.read(PIECE_BYTES):
            self._parser.Parse(piece, False)
            done += len(piece)
            # Where the last event began: what comes after is one piece of markup, still open.
            if done - self._parser.CurrentByteIndex > LONGEST_MARKUP_BYTES:
                limit = LONGEST_MARKUP_BYTES // 1_000_000
                raise self._refuse(f"has a tag or a comment of more than {limit} MB")
        self._parser.Parse(b"", True)

    @property
    def line(self) -> int:
        """The line at which reading stands."""
        return int(self._parser.CurrentLineNumber)

    def _on_start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rsplit("}", 1)[-1]
        if not self._texts and local != self._root:
            raise self._refuse(f"has <{local[:40]}> for its root, not <{self._root}>")
        if len(self._texts) >= DEEPEST:
            raise self._refuse(f"has elements more than {DEEPEST} deep")
        self._texts.append([])
        self._lengths.append(0)
        self._start(local, {key.rsplit("}", 1)[-1]: value for key, value in attributes.items()})

    def _on_end(self, name: str) -> None:
        text = "".join(self._texts.pop()).strip()
        self._lengths.pop()
        self._end(name.rsplit("}", 1)[-1], text)

    def _on_text(self, text: str) -> None:
        if self._texts and self._lengths[-1] < LONGEST_TEXT:
            self._texts[-1].append(text)
            self._lengths[-1] += len(text)

    def _on_doctype(self, *_: object) -> None:
        raise self._refuse("has a document type, which can pull in other files; take it out")

    def _refuse(self, what: str) -> OutingError:
        return OutingError(f"{self.file.name} {what}.", file=str(self.file))
