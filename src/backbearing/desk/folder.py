"""The one folder that the desk was opened on: what lies in it, and what is put into it.

The page names files only by names that were listed here, so that no path of a request is ever
followed. What comes in is written aside, looked at, and then takes a name that is free.
"""

from __future__ import annotations

import os
import re
import secrets
import tomllib
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import BackbearingError, OutingError, WriteRefusedError
from backbearing.base.files import process_is_alive
from backbearing.base.input_files import MB
from backbearing.base.limits import shown
from backbearing.desk.answering import without_folders
from backbearing.outing.load import load_outing
from backbearing.outing.toml_text import LARGEST_BYTES
from backbearing.workflows.first_outing import RASTERS

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Iterator

    from starlette.requests import Request

MOST_LISTED: Final = 100
"""Files of a kind that the page is shown."""

MOST_LOOKED_AT: Final = 2_000
"""Entries of a folder that are looked at."""

_PART: Final = ".desk-coming-"
_PLAIN: Final = re.compile(r"[^\w .()+-]+")
_SECTIONS: Final = ("ground", "subject", "night", "lens")
"""What tells an outing from another TOML file."""


@dataclass(frozen=True, slots=True)
class OutingFound:
    """An outing of the folder: its name there, what it calls itself, and what is wrong with it."""

    name: str
    title: str
    problem: str


def outings_in(folder: Path) -> list[OutingFound]:
    """List the outings of a folder and of the folders in it."""
    return [_outing(folder, file) for file in _outing_files(folder)]


def _outing_files(folder: Path) -> list[Path]:
    near = [*_files(folder, (".toml",))]
    for inner in sorted(one for one in _entries(folder) if one.is_dir()):
        near += _files(inner, (".toml",))
    found = (one for one in near if one.resolve().is_relative_to(folder) and _is_outing(one))
    return [file for file, _ in zip(found, range(MOST_LISTED), strict=False)]


def outing_named(folder: Path, name: str) -> Path:
    """Find an outing by its name in the list.

    Raises
    ------
    OutingError
        When the list has none of that name.
    """
    for file in _outing_files(folder):
        if file.relative_to(folder).as_posix() == name:
            return file
    raise OutingError(f"There is no outing {shown(name)} in the folder", hint="load the page again")


def files_in(folder: Path, suffixes: tuple[str, ...]) -> list[Path]:
    """List files of the folder itself by their suffixes; none that a link leads out of it."""
    found = (one for one in _files(folder, suffixes) if one.resolve().is_relative_to(folder))
    return [file for file, _ in zip(found, range(MOST_LISTED), strict=False)]


def file_named(folder: Path, name: str, suffixes: tuple[str, ...]) -> Path:
    """Find a file of the folder by its name in the list.

    Raises
    ------
    OutingError
        When the list has none of that name.
    """
    for file in files_in(folder, suffixes):
        if file.name == name:
            return file
    raise OutingError(f"There is no file {shown(name)} in the folder", hint="load the page again")


def rasters_in(folder: Path) -> list[Path]:
    """List the rasters of the folder."""
    return files_in(folder, RASTERS)


def free_place(folder: Path, name: str) -> Path:
    """Give a path that nothing lies at: the name, or the name with a number."""
    wanted = Path(name)
    for number in range(1, 10_000):
        place = folder / (name if number == 1 else f"{wanted.stem}-{number}{wanted.suffix}")
        if not (place.exists() or place.is_symlink()):
            return place
    raise WriteRefusedError(f"{shown(name)} has too many namesakes", hint="tidy the folder")


def plain_name(named: str, suffixes: tuple[str, ...]) -> str:
    """Make a file name of what a browser calls a file.

    Raises
    ------
    OutingError
        For another kind of file.
    """
    last = re.split(r"[/\\]", named)[-1]
    stem, dot, suffix = last.rpartition(".")
    kind = f"{dot}{suffix}".lower()
    if kind not in suffixes:
        raise OutingError(
            f"{shown(last)} is no file of the kind asked for",
            hint=f"choose one that ends in {' or '.join(suffixes)}",
        )
    plain = _PLAIN.sub("_", stem).strip(" ._-")[:80]
    return f"{plain or 'file'}{kind}"


@asynccontextmanager
async def coming(
    request: Request, folder: Path, suffix: str, largest_bytes: int
) -> AsyncIterator[Path]:
    """Stream a request's body into a file aside; it is gone afterwards unless it was placed.

    Raises
    ------
    OutingError
        For an empty body, or one above the limit.
    WriteRefusedError
        When the disk refuses.
    """
    clear_parts(folder)
    part = (
        folder / f"{_PART}{os.getpid()}-{secrets.token_hex(6)}{suffix}"
    )  # drivers go by the suffix
    size = 0
    try:
        with part.open("xb") as out:
            async for piece in request.stream():
                size += len(piece)
                if size > largest_bytes:
                    raise OutingError(
                        f"The file is larger than {largest_bytes // MB:,} MB",
                        hint="put it into the folder by hand, and load the page again",
                    )
                out.write(piece)
            out.flush()
            os.fsync(out.fileno())
        if not size:
            raise OutingError("The file is empty", hint="choose another")
        yield part
    except OSError as problem:
        raise WriteRefusedError(
            f"The file could not be written ({problem.strerror or 'the disk refused'})",
            hint="is the disk full?",
        ) from problem
    finally:
        part.unlink(missing_ok=True)


def placed(part: Path, folder: Path, name: str) -> Path:
    """Give a file that came its name, over no other file."""
    place = free_place(folder, name)
    os.link(part, place)  # fails where a rename would replace what came meanwhile
    return place


def clear_parts(folder: Path) -> None:
    """Remove what a desk that was killed left half received."""
    for left in folder.glob(f"{_PART}*"):
        process = left.name.removeprefix(_PART).split("-")[0]
        if process.isdigit() and int(process) != os.getpid() and not process_is_alive(int(process)):
            left.unlink(missing_ok=True)


def _entries(folder: Path) -> list[Path]:
    found: Iterator[Path] = (one for one in folder.iterdir() if not one.name.startswith("."))
    try:
        return [one for one, _ in zip(found, range(MOST_LOOKED_AT), strict=False)]
    except OSError:
        return []


def _files(folder: Path, suffixes: tuple[str, ...]) -> list[Path]:
    return sorted(
        one for one in _entries(folder) if one.suffix.lower() in suffixes and one.is_file()
    )


def _is_outing(file: Path) -> bool:
    try:
        if file.stat().st_size > LARGEST_BYTES:
            return False
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, ValueError):
        return False
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError):
        # A slip in an outing must not hide it: its author is told what is wrong.
        return all(re.search(rf"^\s*\[+\s*{one}\s*\]", text, re.M) for one in _SECTIONS)
    return all(section in raw for section in _SECTIONS)


def _outing(folder: Path, file: Path) -> OutingFound:
    name = file.relative_to(folder).as_posix()
    try:
        outing = load_outing(file)
    except BackbearingError as problem:
        return OutingFound(name, "", without_folders(str(problem)))
    return OutingFound(name, outing.name or outing.subject.name, "")
