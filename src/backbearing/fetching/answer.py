"""One request to a server, under rules: no other host, no endless body, no waiting for ever."""

from __future__ import annotations

import errno
import http.client
import re
import socket
import ssl
import urllib.error
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urljoin, urlsplit

from backbearing.base.version import __version__

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_WAIT_S: Final = 120.0
"""Longest that a server's ``Retry-After`` is waited for, seconds."""

_NO_WAY: Final = (errno.ENETUNREACH, errno.EHOSTUNREACH, errno.ENETDOWN, errno.EHOSTDOWN)

MOST_REDIRECTS: Final = 3

GOOD_TYPES: Final = (
    *("image/tiff", "image/geotiff", "application/geotiff", "application/x-geotiff"),
    *("application/octet-stream", "binary/octet-stream", "application/x-hgt"),
)
"""Content types under which servers give rasters; where none is said the file itself tells."""


class Trouble(Enum):
    """What kind of answer it was, where somebody acts upon it."""

    OTHER = 0
    UNREACHABLE = 1
    """No server was reached at all."""
    SILENT = 2
    """A server was reached and said nothing in time."""
    ABSENT = 3
    """The server says that it has no such file."""
    SPOILT = 4
    """What came so far is of no use: it is to be forgotten."""


class ServerError(Exception):
    """A server's answer that is of no use; ``again`` says whether another try may help.

    Parameters
    ----------
    said : str
        What happened, for a sentence.
    kind : Trouble
        What somebody acts upon.
    again : bool
        Whether to try once more.
    wait_s : float
        After so many seconds.
    """

    def __init__(
        self,
        said: str,
        kind: Trouble = Trouble.OTHER,
        *,
        again: bool = False,
        wait_s: float = 0.0,
    ) -> None:
        super().__init__(said)
        self.said = said
        self.kind = kind
        self.again = again
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True)
class Part:
    """Which piece of a file is asked for: from a byte on, if it is still the version known.

    Attributes
    ----------
    start : int
        First byte; 0 asks for the whole file.
    validator : str
        The version's ``ETag`` or ``Last-Modified``.
    stop : int, optional
        Last byte, for a look at the beginning only.
    """

    start: int = 0
    validator: str = ""
    stop: int | None = None

    def headers(self) -> dict[str, str]:
        """What is said in the request."""
        if not self.start and self.stop is None:
            return {}
        span = f"bytes={self.start}-{'' if self.stop is None else self.stop}"
        return {"Range": span, **({"If-Range": self.validator} if self.validator else {})}


class Answer:
    """A body to read, and what the server says of it.

    Attributes
    ----------
    start : int
        The file's byte at which the body begins.
    total : int or None
        Bytes of the whole file, where the server says.
    validator : str
        ``ETag`` (a strong one) or ``Last-Modified`` of this version, or empty.
    partial : bool
        Whether the server gave a piece, as asked.
    """

    def __init__(self, response: Any, part: Part) -> None:
        self._response = response
        headers = response.headers
        self.partial = response.status == http.HTTPStatus.PARTIAL_CONTENT
        self.validator = _validator(headers)
        self.start, self.total = 0, _length(headers)
        if self.partial:
            self.start, self.total = _span(headers.get("Content-Range", ""))
            if self.start != part.start:
                raise ServerError(
                    "the server gave another piece of the file than was asked for",
                    Trouble.SPOILT,
                    again=True,
                )
        coded = headers.get("Content-Encoding", "identity").strip().lower()
        if coded not in ("", "identity"):
            raise ServerError(f"the server packs the file anew ({coded}), which was not asked for")
        kind = headers.get("Content-Type", "").partition(";")[0].strip().lower()
        if kind and kind not in GOOD_TYPES:
            raise ServerError(f"the server gives {kind}, which is no raster")

    def read(self, count: int) -> bytes:
        """Read up to so many bytes; empty at the end.

        Raises
        ------
        ServerError
            When the connection breaks or stands still.
        """
        with _worded():
            got: bytes = self._response.read1(count)
        return got


@contextmanager
def asked(url: str, part: Part, timeout_s: float) -> Iterator[Answer]:
    """Ask a server for a file, or a piece of it.

    A redirect is followed on the same host only, and not from https to http.

    Raises
    ------
    ServerError
        For every answer without the file.
    """
    headers = {
        "User-Agent": f"backbearing/{__version__}",
        "Accept-Encoding": "identity",
        **part.headers(),
    }
    request = urllib.request.Request(url, headers=headers)  # noqa: S310
    if urlsplit(url).scheme not in ("http", "https"):
        raise ServerError("the address begins with neither https:// nor http://")
    opener = urllib.request.build_opener(_SameHost())
    with _worded(url):
        response = opener.open(request, timeout=timeout_s)
    with response:
        yield Answer(response, part)


def small_text(url: str, most_bytes: int, timeout_s: float) -> str:
    """Read a small text, such as a published checksum.

    Raises
    ------
    ServerError
        When there is none, or more of it than so many bytes.
    """
    request = urllib.request.Request(url, headers={"User-Agent": f"backbearing/{__version__}"})  # noqa: S310
    with _worded(url):
        response = urllib.request.build_opener(_SameHost()).open(request, timeout=timeout_s)
    with response, _worded():
        got: bytes = response.read(most_bytes + 1)
    if len(got) > most_bytes:
        raise ServerError(f"the answer has more than {most_bytes:,} bytes")
    return got.decode("utf-8", "replace")


class _SameHost(urllib.request.HTTPRedirectHandler):
    """Follow a redirect on the same host only; anything else is not what the address stood for."""

    max_redirections = MOST_REDIRECTS

    def redirect_request(
        self, req: urllib.request.Request, fp: Any, code: int, msg: str, headers: Any, newurl: str
    ) -> urllib.request.Request | None:
        old, new = urlsplit(req.full_url), urlsplit(urljoin(req.full_url, newurl))
        if (new.scheme, new.netloc) != (old.scheme, old.netloc):
            fp.close()
            raise ServerError(
                f"the server sends on to another one ({new.scheme}://{new.netloc[:80]}), which is "
                "not followed; if you trust that address write it as the source's template"
            )
        return super().redirect_request(req, fp, code, msg, headers, newurl)


@contextmanager
def _worded(url: str = "") -> Iterator[None]:
    """Turn every way in which a request fails into words."""
    try:
        yield
    except urllib.error.HTTPError as problem:
        with problem:
            raise _refused(problem) from problem
    except urllib.error.URLError as problem:
        raise _unconnected(problem.reason, url) from problem
    except TimeoutError as problem:
        host = urlsplit(url).hostname
        said = f"the server {host} did not answer in time" if host else "the server stopped sending"
        raise ServerError(said, Trouble.SILENT, again=True) from problem
    except (OSError, http.client.HTTPException) as problem:
        raise ServerError("the connection broke", again=True) from problem
    except ValueError as problem:
        raise ServerError(f"the server's answer makes no sense ({problem})") from problem


def _unconnected(reason: object, url: str) -> ServerError:
    """Word why no connection came about."""
    host = urlsplit(url).hostname
    if isinstance(reason, TimeoutError):
        said = f"the server {host} did not answer in time"
        return ServerError(said, Trouble.SILENT, again=True)
    if isinstance(reason, ssl.SSLError):
        return ServerError(f"the server {host} cannot prove that it is {host} ({reason.reason})")
    nowhere = isinstance(reason, socket.gaierror | ConnectionRefusedError)
    if nowhere or getattr(reason, "errno", None) in _NO_WAY:
        why = getattr(reason, "strerror", None) or reason
        return ServerError(f"the server {host} cannot be reached ({why})", Trouble.UNREACHABLE)
    return ServerError("the connection broke", again=True)


def _refused(problem: urllib.error.HTTPError) -> ServerError:
    """Word a status that is no success."""
    code = problem.code
    if code in (http.HTTPStatus.NOT_FOUND, http.HTTPStatus.GONE):
        return ServerError("the server has no such tile", Trouble.ABSENT)
    busy = code in (http.HTTPStatus.TOO_MANY_REQUESTS, http.HTTPStatus.SERVICE_UNAVAILABLE)
    if busy:
        wait_s = _seconds(problem.headers.get("Retry-After", ""))
        if wait_s > MOST_WAIT_S:
            return ServerError(f"the server asks to be left alone for {round(wait_s):,} seconds")
        return ServerError(f"the server is busy ({code})", again=True, wait_s=wait_s)
    if code == http.HTTPStatus.REQUESTED_RANGE_NOT_SATISFIABLE:
        return ServerError("the server has no such piece", Trouble.SPOILT, again=True)
    if code >= http.HTTPStatus.INTERNAL_SERVER_ERROR:
        return ServerError(f"the server has trouble ({code})", again=True)
    return ServerError(f"the server refuses ({code})")


def _seconds(retry_after: str) -> float:
    """``Retry-After`` in seconds, as a number or a date; 2 where it says nothing of use."""
    import datetime as dt
    from email.utils import parsedate_to_datetime

    if re.fullmatch(r"\d{1,9}", retry_after.strip(), re.ASCII):
        return float(retry_after)
    try:
        until = parsedate_to_datetime(retry_after)
    except (TypeError, ValueError):
        return 2.0
    if until.tzinfo is None:
        until = until.replace(tzinfo=dt.UTC)
    return max(0.0, (until - dt.datetime.now(dt.UTC)).total_seconds())


def _validator(headers: Any) -> str:
    """A mark of the version that ``If-Range`` takes: no weak one (RFC 9110, 13.1.5)."""
    tag = str(headers.get("ETag", "")).strip()
    if tag and not tag.startswith("W/"):
        return tag[:500]
    return str(headers.get("Last-Modified", "")).strip()[:500]


def _length(headers: Any) -> int | None:
    said = str(headers.get("Content-Length", "")).strip()
    return int(said) if re.fullmatch(r"\d{1,15}", said, re.ASCII) else None


def _span(content_range: str) -> tuple[int, int | None]:
    """First byte and whole length, as ``Content-Range`` says."""
    found = re.fullmatch(
        r"bytes (\d{1,15})-(\d{1,15})/(\d{1,15}|\*)", content_range.strip(), re.ASCII
    )
    if found is None:
        raise ServerError("the server does not say which piece of the file it gives")
    whole = found.group(3)
    return int(found.group(1)), None if whole == "*" else int(whole)
