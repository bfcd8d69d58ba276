"""One file over HTTP, taken up where it broke off, and in its place only when it is whole.

What came so far lies in ``.part`` with the version's mark beside it; the next try asks for the rest
of that very version (``Range`` with ``If-Range``, RFC 9110) and begins anew where the file changed.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import time
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeVar

from backbearing.base.files import process_is_alive
from backbearing.fetching.answer import Part, ServerError, Trouble, asked, small_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

_T = TypeVar("_T")

CHUNK_BYTES: Final = 256 * 1024
LEAST_RATE_BYTES_S: Final = 500.0
"""A server that gives less over a whole timeout holds the line only; it is hung up on."""

TRIES: Final = 4
PAUSES_S: Final = (0.0, 1.0, 4.0, 10.0)
STALE_LOCK_S: Final = 300.0
_ALGORITHMS: Final = {32: "md5", 40: "sha1", 64: "sha256", 128: "sha512"}


@dataclass(frozen=True, slots=True)
class Manner:
    """How servers are treated.

    Attributes
    ----------
    timeout_s : float
        Silence after which a connection is given up, seconds.
    tries : int
        How often one file is asked for.
    pause : callable
        Waits so many seconds.
    """

    timeout_s: float = 30.0
    tries: int = TRIES
    pause: Callable[[float], None] = time.sleep


def download(
    url: str,
    place: Path,
    *,
    most_bytes: int,
    check: Callable[[Path], None],
    told: Callable[[int, int | None], None],
    manner: Manner,
    checksum_url: str = "",
) -> None:
    """Bring a file to its place; nothing stands there before it is whole and checked.

    Parameters
    ----------
    url : str
        Its address.
    place : Path
        Where it goes; its folder exists.
    most_bytes : int
        More than these are not taken.
    check : callable
        Refuses a file that is not what it should be, by raising; it has the place's suffix.
    told : callable
        Is told what came so far and the whole, in bytes; None where that is not known.
    manner : Manner
        Timeouts, tries and pauses.
    checksum_url : str, optional
        Address of a text that begins with the file's MD5 or SHA sum.

    Raises
    ------
    ServerError
        When the last try failed too.
    BackbearingError
        From ``check``; what was fetched is thrown away.
    """
    part = place.with_name(f"{place.name}.part")
    try:
        tried(lambda: _bring(url, part, most_bytes, told, manner.timeout_s), manner)
    except ServerError:
        if not _known(part, url):
            _forget(part)
        raise
    # Drivers go by the suffix.
    whole = place.with_name(f".{os.getpid()}-{place.name}")
    part.replace(whole)
    _mark_of(part).unlink(missing_ok=True)
    try:
        if checksum_url:
            _check_sum(whole, checksum_url, manner.timeout_s)
        check(whole)
        whole.replace(place)
    finally:
        whole.unlink(missing_ok=True)


def tried(ask: Callable[[], _T], manner: Manner) -> _T:
    """Ask until there is an answer: again after a pause, where another try may help.

    Raises
    ------
    ServerError
        The last one.
    """
    number = 0
    while True:
        try:
            return ask()
        except ServerError as problem:
            number += 1
            if not problem.again or number >= manner.tries:
                raise
            manner.pause(max(problem.wait_s, PAUSES_S[min(number, len(PAUSES_S) - 1)]))


def _bring(
    url: str,
    part: Path,
    most_bytes: int,
    told: Callable[[int, int | None], None],
    timeout_s: float,
) -> None:
    """Fetch what is missing of a file into its ``.part``; forget it where that is spoilt."""
    try:
        _continued(url, part, most_bytes, told, timeout_s)
    except ServerError as problem:
        if problem.kind is Trouble.SPOILT:
            _forget(part)
        raise
    except OSError as problem:
        if problem.errno != errno.ENOSPC:
            raise
        _forget(part)
        raise ServerError("the disk is full; what was fetched of it was taken away") from problem


def _continued(
    url: str,
    part: Path,
    most_bytes: int,
    told: Callable[[int, int | None], None],
    timeout_s: float,
) -> None:
    known = _known(part, url)
    have = part.stat().st_size if known else 0
    with asked(url, Part(have, known), timeout_s) as answer:
        if have and answer.partial and answer.validator not in ("", known):
            said = "the file changed on the server meanwhile"
            raise ServerError(said, Trouble.SPOILT, again=True)
        if answer.total is not None and answer.total > most_bytes:
            said = f"the server gives {answer.total:,} bytes, more than such a tile has"
            raise ServerError(said, Trouble.SPOILT)
        # A whole file although a piece was asked for: another version, or a server without pieces.
        got = have if answer.partial else 0
        with part.open("ab" if got else "wb") as out:
            _mark_of(part).write_text(json.dumps({"url": url, "version": answer.validator}))
            for piece in _pieces(answer.read, timeout_s):
                got += len(piece)
                if got > most_bytes:
                    said = f"the server gives more than {most_bytes:,} bytes, more than such a tile"
                    raise ServerError(f"{said} has", Trouble.SPOILT)
                out.write(piece)
                told(got, answer.total)
            out.flush()
            os.fsync(out.fileno())
    if got == 0:
        raise ServerError("the server gave an empty file", Trouble.SPOILT)
    if answer.total is not None and got != answer.total:
        said = f"the connection broke after {got:,} of {answer.total:,} bytes"
        kind = Trouble.SPOILT if got > answer.total else Trouble.OTHER
        raise ServerError(said, kind, again=True)


def _pieces(read: Callable[[int], bytes], timeout_s: float) -> Iterator[bytes]:
    """Give the body piece by piece, unless it only trickles."""
    since, sum_bytes = time.monotonic(), 0
    while piece := read(CHUNK_BYTES):
        yield piece
        sum_bytes += len(piece)
        waited = time.monotonic() - since
        if waited > timeout_s:
            if sum_bytes < LEAST_RATE_BYTES_S * waited:
                raise ServerError("the server gives next to nothing", Trouble.SILENT, again=True)
            since, sum_bytes = time.monotonic(), 0


def _mark_of(part: Path) -> Path:
    return part.with_name(f"{part.name}.json")


def _known(part: Path, url: str) -> str:
    """Mark of the version that a part is of; empty where there is none to go on with."""
    try:
        found = json.loads(_mark_of(part).read_text("utf-8")[:5_000])
        usable = part.is_file() and found["url"] == url
        return str(found["version"]) if usable and part.stat().st_size else ""
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _forget(part: Path) -> None:
    part.unlink(missing_ok=True)
    _mark_of(part).unlink(missing_ok=True)


def _check_sum(file: Path, url: str, timeout_s: float) -> None:
    """Compare a file with its published sum."""
    try:
        said = small_text(url, 10_000, timeout_s)
    except ServerError as problem:
        # An absent sum says nothing about the tile, least of all that there is none.
        raise ServerError(
            f"its published checksum cannot be had ({problem.said})", again=problem.again
        ) from problem
    found = re.match(r"\s*\W*([0-9a-fA-F]{32,128})\b", said)
    name = _ALGORITHMS.get(len(found.group(1))) if found else None
    if found is None or name is None:
        raise ServerError("the published checksum cannot be read")
    with file.open("rb") as data:
        made = hashlib.file_digest(data, lambda: hashlib.new(name, usedforsecurity=False))
    if made.hexdigest() != found.group(1).lower():
        raise ServerError("the file differs from its published checksum; it was not kept")


@contextmanager
def held_alone(place: Path, pause: Callable[[float], None] = time.sleep) -> Iterator[None]:
    """Be the only run that fetches a file; another waits until this one has it.

    A lock whose process ended, or that nobody has touched for five minutes, no longer holds.
    """
    lock = place.with_name(f"{place.name}.lock")
    while not _locked(lock):
        pause(0.2)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def keep_held(place: Path) -> None:
    """Say that the run which holds a file is still at it."""
    lock = place.with_name(f"{place.name}.lock")
    try:
        os.utime(lock)
    except OSError:
        return


def _locked(lock: Path) -> bool:
    """Take a lock, or take away one that nobody holds any more; whether it is ours now."""
    try:
        handle = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644)
    except FileExistsError:
        try:
            owner = lock.read_text("ascii").strip()
            old = time.time() - lock.stat().st_mtime > STALE_LOCK_S
        except (OSError, ValueError):
            return False
        dead = owner.isdigit() and not process_is_alive(int(owner))
        if dead or old:
            lock.unlink(missing_ok=True)
        return False
    with os.fdopen(handle, "w", encoding="ascii") as out:
        out.write(str(os.getpid()))
    return True
