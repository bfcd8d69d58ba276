"""What every address of the desk shares: reading a request, and answering in one sentence."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response

from backbearing.base.errors import BackbearingError, OutingError
from backbearing.base.plain import plain

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request

    Changes = dict[str, dict[str, Any]]

NOT_KEPT: Final = {"cache-control": "no-store"}


def text_of(read: Callable[[], str], kind: str) -> Callable[[Request], Any]:
    """Make an endpoint that gives a text of the package."""

    async def endpoint(request: Request) -> Response:
        return Response(read(), media_type=kind)

    return endpoint


def sentence(status: int, said: str) -> Response:
    """Say what is wrong, without the folders of this computer."""
    return JSONResponse({"error": without_folders(said)}, status_code=status)


def without_folders(said: str) -> str:
    """Name files by their own names alone: no answer shows where they lie."""
    return _FOLDERS.sub("", said)


_FOLDERS: Final = re.compile(r"(?<![\w.)>:/])(?:[A-Za-z]:)?[\\/](?:[^\\/\n,;<>\"]+[\\/])+")


async def answered(find: Callable[[], Any]) -> Response:
    """Work something out beside the server's own loop, and answer it as JSON."""
    return JSONResponse(plain(await run_in_threadpool(find)), headers=NOT_KEPT)


def number_of(request: Request, name: str) -> float:
    """Read a number of the request.

    Raises
    ------
    OutingError
        Where there is none, or no finite one.
    """
    try:
        value = float(request.query_params[name])
    except (KeyError, ValueError):
        value = float("nan")
    if not abs(value) < 1e12:
        raise OutingError(f"The request's {name} is no number", hint="load the page again")
    return value


def held_of(request: Request) -> dict[int, float]:
    """Read lenses by number, each with the time at which its turn is held.

    Raises
    ------
    OutingError
        Where they are none.
    """
    try:
        asked = json.loads(request.query_params.get("fixed", "{}"))
        found = {int(number): float(time_s) for number, time_s in asked.items()}
    except (ValueError, TypeError, AttributeError, RecursionError, OverflowError):
        found = {0: float("nan")}
    if not all(abs(time_s) < 1e11 for time_s in found.values()):
        raise OutingError("The request's held turns are no times", hint="load the page again")
    return found


def changes_of(request: Request) -> Changes:
    """Read the draft of a request."""
    try:
        asked = json.loads(request.query_params.get("changes", "{}"))
    except (ValueError, RecursionError):
        asked = None
    return checked_changes(asked)


def checked_changes(asked: Any) -> Changes:
    """Hold a draft to be sections of keys.

    Raises
    ------
    OutingError
        Where it is none.
    """
    if not isinstance(asked, dict) or not all(isinstance(keys, dict) for keys in asked.values()):
        raise OutingError("The request's changes are not sections of keys", hint="load the page")
    try:
        json.dumps(asked, ensure_ascii=False).encode()
    except (UnicodeEncodeError, RecursionError) as problem:
        # JSON can escape half a letter, which no file and no answer holds.
        raise OutingError(
            "The request's changes hold a text that cannot be written", hint="type it again"
        ) from problem
    return asked


async def body_of(request: Request) -> dict[str, Any]:
    """Read a body of JSON.

    Raises
    ------
    BackbearingError
        Where it is none, or no object.
    """
    if not request.headers.get("content-type", "").startswith("application/json"):
        raise BackbearingError("The request is not JSON", hint="load the page again")
    try:
        asked = json.loads(await request.body())
    except (ValueError, RecursionError):
        asked = None
    if not isinstance(asked, dict):
        raise BackbearingError("The request is not JSON", hint="load the page again")
    return asked


def text_in(asked: dict[str, Any], key: str, longest: int = 300) -> str:
    """Take a text of a body; nothing where it is left out.

    Raises
    ------
    OutingError
        For what is no text, or an endless one.
    """
    value = asked.get(key)
    if value is None:
        return ""
    if not isinstance(value, str) or len(value) > longest:
        raise OutingError(f"{key} is no text of at most {longest} letters", hint="write less")
    return value
