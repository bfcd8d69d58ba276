"""Writing to disk without losing what is there: write beside, then rename."""

from __future__ import annotations

import glob
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.base.errors import WriteRefusedError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def write_file(path: str | Path, content: str | bytes, *, overwrite: bool = False) -> Path:
    r"""Write a whole file at once, or leave everything as it was.

    Parameters
    ----------
    path : str or Path
        Where to write; its folder must exist.
    content : str or bytes
        Text is written as UTF-8 with ``\n`` line ends.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    WriteRefusedError
        When a file is in the way, the folder is missing, or the disk refuses.
    """
    return write_files({Path(path): content}, overwrite=overwrite)[0]


def write_files(
    contents: Mapping[Path, str | bytes], *, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write several files, all of them or none.

    Each is written beside its place first; only when the disk has taken them all do they take
    their places.

    Parameters
    ----------
    contents : mapping of Path to str or bytes
        As for :func:`write_file`.
    overwrite : bool
        Whether files that are already there may be replaced.

    Returns
    -------
    tuple of Path
        The paths written, in order.

    Raises
    ------
    WriteRefusedError
        When a file is in the way, a folder is missing, or the disk refuses.
    """
    targets = tuple(contents)
    check_all_free(targets, overwrite=overwrite)
    drafts: dict[Path, Path] = {}
    placed: list[Path] = []
    target = targets[0] if targets else Path()
    try:
        for target, content in contents.items():
            _draft(target, content, drafts)
        for target, draft in drafts.items():
            if overwrite:
                draft.replace(target)
            else:
                # A link fails where a rename would silently replace what came meanwhile.
                os.link(draft, target)
                placed.append(target)
    except OSError as problem:
        for made in placed:
            made.unlink(missing_ok=True)
        raise _refused(target, problem) from problem
    finally:
        for draft in drafts.values():
            draft.unlink(missing_ok=True)
    return targets


def _draft(target: Path, content: str | bytes, drafts: dict[Path, Path]) -> None:
    """Write what a file will hold beside its place, down to the disk."""
    data = content.encode("utf-8") if isinstance(content, str) else content
    # The name is cut, for it may be as long as the file system allows.
    start = f".{target.name[:40]}."
    _clear_drafts(target.parent, start)
    handle, draft = tempfile.mkstemp(dir=target.parent, prefix=f"{start}{os.getpid()}-")
    drafts[target] = Path(draft)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    drafts[target].chmod(_usual_mode())


def _clear_drafts(folder: Path, start: str) -> None:
    """Remove what a process that was killed while it wrote the same file left behind."""
    if os.name != "posix":
        return
    for draft in folder.glob(f"{glob.escape(start)}*-*"):
        process = draft.name.removeprefix(start).split("-")[0]
        if process.isascii() and process.isdigit() and not process_is_alive(int(process)):
            draft.unlink(missing_ok=True)


def process_is_alive(process: int) -> bool:
    """Whether a process of that number runs on this machine.

    Taken for alive off POSIX systems, where the same question would end it.
    """
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def check_free(target: Path, *, overwrite: bool) -> None:
    """Refuse early when a file is in the way or there is no folder to write to.

    Raises
    ------
    WriteRefusedError
        With the path and what to do.
    """
    if target.is_dir():
        raise WriteRefusedError(
            f"{target} is a folder", hint="name a file to write", path=str(target)
        )
    if target.exists() and not overwrite:
        raise WriteRefusedError(
            f"{target} is already there and was left as it is",
            hint="choose another name or allow --overwrite",
            path=str(target),
        )
    if not target.parent.is_dir():
        raise WriteRefusedError(
            f"There is no folder {target.parent} to write {target.name} to",
            hint="make it first",
            path=str(target),
        )


def check_all_free(targets: Sequence[Path], *, overwrite: bool) -> None:
    """Refuse early what :func:`check_free` refuses, and a path that is given twice.

    Raises
    ------
    WriteRefusedError
        With the path and what to do.
    """
    for place, target in enumerate(targets):
        if target.resolve() in [other.resolve() for other in targets[:place]]:
            raise WriteRefusedError(
                f"{target} is asked for twice",
                hint="give each file a name of its own",
                path=str(target),
            )
        check_free(target, overwrite=overwrite)


def made_folder(folder: str | Path) -> Path:
    """Make a folder when it is missing, and those above it.

    Raises
    ------
    WriteRefusedError
        When it cannot be made.
    """
    made = Path(folder)
    try:
        made.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise WriteRefusedError(
            f"The folder {made} cannot be made ({problem.strerror}).", path=str(made)
        ) from problem
    return made


def _usual_mode() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _refused(target: Path, problem: OSError) -> WriteRefusedError:
    return WriteRefusedError(
        f"{target} could not be written ({problem.strerror or problem})",
        hint="what was there is as it was",
        path=str(target),
    )
