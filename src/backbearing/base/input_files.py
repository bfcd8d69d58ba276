"""The one door through which files come in: regular files only, of a size that was stated.

A pipe, a device or a file without an end would hang whoever reads it, so that nothing is
opened before it is known to be a plain file no larger than its reader takes. Paths that files
name are resolved here too, and kept inside a folder where the file comes from a stranger.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import BackbearingError, OutingError
from backbearing.base.limits import LONGEST_PATH, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

MB: Final = 1_000_000

LONGEST_PART_BYTES: Final = 255
"""Of the name of one file or folder, which is what usual file systems hold."""


def check_readable(
    file: Path,
    what: str,
    *,
    largest_bytes: int,
    error: type[BackbearingError] = OutingError,
    **facts: Any,
) -> int:
    """Refuse what is missing, no regular file, empty, closed to us or too large; give its size.

    Parameters
    ----------
    file : Path
        Links are followed.
    what : str
        What it should hold, as in "there is no file of {what} at ...".
    largest_bytes : int
        The most that its reader takes.
    error : type, optional
        The kind of error raised.
    **facts
        Kept with the error.

    Raises
    ------
    BackbearingError
        Of the kind asked for; names the path.
    """
    facts = {"file": str(file), **facts}
    try:
        found = file.stat()
    except FileNotFoundError:
        raise error(f"There is no file of {what} at {shown_path(file)}.", **facts) from None
    except (OSError, ValueError, RuntimeError) as problem:
        raise error(
            f"{shown_path(file)} cannot be read ({_reason(problem)})",
            hint="name another file",
            **facts,
        ) from problem
    if stat.S_ISDIR(found.st_mode):
        raise error(f"{shown_path(file)} is a folder", hint=f"name a file of {what} in it", **facts)
    if not stat.S_ISREG(found.st_mode):
        raise error(
            f"{shown_path(file)} is no regular file but a device, a pipe or a socket",
            hint=f"name a file of {what}",
            **facts,
        )
    if found.st_size == 0:
        raise error(
            f"{shown_path(Path(file.name))} is empty", hint=f"write {what} into it", **facts
        )
    if found.st_size > largest_bytes:
        raise error(
            f"{shown_path(Path(file.name))} is larger than {_size(largest_bytes)}, the most that "
            f"is read as {what}",
            hint="cut out the part that is needed",
            **facts,
        )
    if not os.access(file, os.R_OK):
        raise error(
            f"{shown_path(file)} may not be read by you",
            hint="change its permissions",
            **facts,
        )
    return found.st_size


def is_missing(file: Path) -> bool:
    """Whether nothing lies at a path; what cannot be looked at is not missing."""
    try:
        file.stat()
    except FileNotFoundError:
        return not file.is_symlink()
    except (OSError, ValueError, RuntimeError):
        return False
    return False


def read_bytes(
    file: Path,
    what: str,
    *,
    largest_bytes: int,
    error: type[BackbearingError] = OutingError,
    **facts: Any,
) -> bytes:
    """Read a whole file that :func:`check_readable` lets through.

    Raises
    ------
    BackbearingError
        Of the kind asked for.
    """
    check_readable(file, what, largest_bytes=largest_bytes, error=error, **facts)
    try:
        with file.open("rb") as data:
            # One byte more than allowed, in case it grows while it is read.
            held = data.read(largest_bytes + 1)
    except OSError as problem:
        raise error(
            f"{shown_path(file)} cannot be read ({_reason(problem)}).", file=str(file), **facts
        ) from problem
    return held[:largest_bytes]


def read_text(
    file: Path,
    what: str,
    *,
    largest_bytes: int,
    error: type[BackbearingError] = OutingError,
    **facts: Any,
) -> str:
    """Read a whole file of UTF-8 text, without a byte order mark.

    Raises
    ------
    BackbearingError
        Of the kind asked for, also for what is not UTF-8.
    """
    held = read_bytes(file, what, largest_bytes=largest_bytes, error=error, **facts)
    try:
        return held.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise error(
            f"{shown_path(Path(file.name))} is not UTF-8 text (byte {problem.start})",
            hint="save it as UTF-8",
            file=str(file),
            **facts,
        ) from problem


def resolved(folder: Path, named: str, *, inside: bool = False) -> Path:
    """Make a path that a file names absolute, against the folder of that file.

    Parameters
    ----------
    folder : Path
        Where the naming file lies.
    named : str
        As it stands there.
    inside : bool, optional
        Whether the path must stay in the folder, whatever links it goes through: for files
        from a stranger.

    Raises
    ------
    OutingError
        For what is no path, and for one that leaves the folder where it must not.
    """
    wrong = path_trouble(named)
    if wrong:
        raise OutingError(f"{shown(named)} is no path ({wrong}).")
    if inside and (Path(named).is_absolute() or ".." in Path(named).parts or "://" in named):
        raise OutingError(
            f"{shown(named)} leads out of the outing's own folder",
            hint="put the file beside the outing and write its name",
        )
    try:
        found = (folder / named).resolve()
        home = folder.resolve()
    except (OSError, RuntimeError, ValueError) as problem:
        raise OutingError(
            f"{shown(named)} cannot be followed ({_reason(problem)})",
            hint="name the file itself",
        ) from problem
    if inside and not all(one.is_relative_to(home) for one in _ends(found)):
        raise OutingError(
            f"{shown(named)} is or holds a link that leads out of the outing's own folder",
            hint="put the file itself beside the outing",
        )
    return found


def checked_path(
    named: str | os.PathLike[str], error: type[BackbearingError] = OutingError
) -> Path:
    """Take what a caller passes for a path.

    Raises
    ------
    BackbearingError
        Of the kind asked for, where it is none.
    """
    try:
        text = os.fspath(named)
    except TypeError as problem:
        raise error(f"{shown(named)} is no path", hint="pass text or a Path") from problem
    if not isinstance(text, str):
        raise error(f"{shown(text)} is no path", hint="pass text or a Path")
    # On a disk a name may hold any control character but nought; in a file nobody writes one.
    trouble = path_trouble("".join(c for c in text if c == "\0" or c >= " ") if text else text)
    if trouble:
        raise error(f"{shown(text)} is no path ({trouble}).")
    return Path(text)


def path_trouble(named: str) -> str:
    """Say in a few words why a text cannot be a path, or nothing."""
    if not named.strip():
        return "it is empty"
    if len(named) > LONGEST_PATH:
        return f"it has more than {LONGEST_PATH} letters"
    if any(ord(letter) < 32 or ord(letter) == 127 for letter in named):
        return "it holds a control character"
    parts = named.replace("\\", "/").split("/")
    if any(len(part.encode("utf-8", "surrogatepass")) > LONGEST_PART_BYTES for part in parts):
        return f"a name in it has more than {LONGEST_PART_BYTES} bytes"
    return ""


def shown_path(path: Path) -> str:
    """Write a path for people: control characters escaped, cut where it is endless."""
    text = "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in str(path)[:400])
    return text if len(text) <= 200 else f"{text[:100]}...{text[-97:]}"


def _ends(found: Path) -> Iterator[Path]:
    """Where a path ends, and where everything in it ends when it is a folder."""
    yield found
    if found.is_dir():
        for one in found.iterdir():
            try:
                yield one.resolve()
            except (OSError, RuntimeError):
                yield Path(one.anchor)


def _reason(problem: Exception) -> str:
    if isinstance(problem, OSError) and problem.strerror:
        return problem.strerror.lower()
    return "a loop of links" if isinstance(problem, RuntimeError) else "it is no path"


def _size(count: int) -> str:
    return f"{count // MB:,} MB" if count >= MB else f"{count // 1000:,} kB"
