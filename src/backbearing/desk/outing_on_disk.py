"""The outing that the desk works on: a file on disk, its revision, and the way back.

What the page turns stays a draft until it is kept. Keeping goes through the one writer of keys, so
that comments and order stay and a broken outing is never written. A revision is a digest of the
file's bytes: whoever changed the file, another window or an editor, it is noticed.
"""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.files import write_file
from backbearing.base.input_files import read_text
from backbearing.desk.draft_text import drafted
from backbearing.outing.load import outing_of
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.outing.write_keys import replaced_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.outing.request import Outing

    Changes = dict[str, dict[str, Any]]

STEPS_KEPT: Final = 50


class ConflictError(Exception):
    """The file is not what the page last saw."""


@dataclass
class OutingOnDisk:
    """One outing file, as several windows may change it.

    Parameters
    ----------
    file : Path
    """

    file: Path
    _before: list[tuple[str, bytes]] = field(default_factory=list)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    @property
    def revision(self) -> str:
        """A digest of the file as it lies on disk."""
        return self._digest(self.file.read_bytes())

    @property
    def can_undo(self) -> bool:
        """Whether the file is still what the desk last wrote, so that a step back is safe."""
        return bool(self._before) and self._before[-1][0] == self.revision

    def draft(self, changes: Changes) -> Outing:
        """Build the outing with changes, none of them written.

        Raises
        ------
        OutingError
            For a key that the page may not change, or an outing that does not hold together.
        """
        text = read_text(self.file, "an outing", largest_bytes=LARGEST_BYTES)
        made = drafted(text, changes, self.file) if changes else text
        return outing_of(parse_outing_text(made, self.file), self.file)

    def keep(self, changes: Changes, revision: str) -> str:
        """Write changes into the file and return its new revision.

        Raises
        ------
        ConflictError
            When the file has changed since `revision`; nothing is written.
        OutingError
            As `draft`.
        """
        return self.rewrite(lambda text: drafted(text, changes, self.file), revision)

    def rewrite(self, make: Callable[[str], str], revision: str) -> str:
        """Write what is made of the file's text, and return the new revision.

        Raises
        ------
        ConflictError
            When the file has changed since `revision`; nothing is written.
        OutingError
            Where what is made does not hold together, and whatever `make` raises.
        """
        with self._lock:
            before = self.file.read_bytes()
            if self._digest(before) != revision:
                raise ConflictError
            text = read_text(self.file, "an outing", largest_bytes=LARGEST_BYTES)
            made = make(text)
            outing_of(parse_outing_text(made, self.file), self.file)
            if made != text:
                replaced_text(self.file, made)
            after = self.revision
            self._before = [*self._before, (after, before)][-STEPS_KEPT:]
            return after

    def undo(self, revision: str) -> str:
        """Put back what the last kept change replaced, and return the revision.

        Raises
        ------
        ConflictError
            When the file has changed since, so that a step back would lose that.
        """
        with self._lock:
            if not self.can_undo or self.revision != revision:
                raise ConflictError
            _, before = self._before.pop()
            write_file(self.file, before, overwrite=True)
            return self.revision

    def _digest(self, content: bytes) -> str:
        """Name a content; another outing with the same words in it is another one."""
        whole = str(self.file).encode("utf-8", "surrogateescape") + b"\0" + content
        return hashlib.sha256(whole).hexdigest()[:20]
