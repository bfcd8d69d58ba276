"""Who may ask the desk: this computer's own page, opened with this run's key, and nobody else.

A server on the loopback address can be reached by every page that is open in the same browser, and
through a name that a stranger's resolver points at 127.0.0.1. So a request must name the desk's own
address as its host, must not come from another site, and must carry the cookie that only the opened
address hands out [Barth2008]_.
"""

from __future__ import annotations

import asyncio
import json
import secrets
import sys
import traceback
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY_BYTES: Final = 40_000_000
"""A zip of an outing or a photograph; a larger body is refused before it is read."""

LARGEST_UPLOAD_BYTES: Final = 2_100_000_000
"""Of a file that is streamed to disk, under `UPLOADS`; who takes it sets a closer limit."""

UPLOADS: Final = "/upload/"
LONGEST_UPLOAD_SECONDS: Final = 1_200.0

LONGEST_SECONDS: Final = 120.0
"""An answer that is not a stream takes no longer."""

POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "font-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Nothing inline, nothing from elsewhere, and in nobody's frame."""


def policy_with(host: str) -> str:
    """The policy that lets pictures in from one host too, over https."""
    return POLICY.replace("img-src 'self'", f"img-src 'self' https://{host}") if host else POLICY


HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)


@dataclass(frozen=True, slots=True)
class Door:
    """The address that a run of the desk listens at, and the key that opens it.

    Attributes
    ----------
    port : int
    key : str
        Random, new for every run; 32 bytes as text.
    """

    port: int
    key: str

    @classmethod
    def at(cls, port: int) -> Door:
        """Make a door with a new key."""
        return cls(port, secrets.token_urlsafe(32))

    @property
    def address(self) -> str:
        """What to open; holds the key, so it is shown to the user and to nobody else."""
        return f"http://127.0.0.1:{self.port}/?key={self.key}"

    @property
    def hosts(self) -> frozenset[str]:
        """How a request may name this computer."""
        return frozenset({f"127.0.0.1:{self.port}", f"localhost:{self.port}"})

    @property
    def cookie(self) -> str:
        """The cookie's name; browsers share cookies between ports, so it holds the port."""
        return f"desk-{self.port}"

    def opens(self, key: str) -> bool:
        """Whether a key is this door's, compared in constant time."""
        return secrets.compare_digest(key.encode(), self.key.encode())


class Guard:
    """An ASGI layer that lets through only what the desk's own page asks.

    Parameters
    ----------
    app : ASGI application
    door : Door
    longest_s, largest_bytes
        Limits on an answer's time and on a request's body.
    pictures_from : str
        A host that the page may show pictures of, besides its own; none as a rule.
    """

    def __init__(
        self,
        app: ASGIApp,
        door: Door,
        *,
        longest_s: float = LONGEST_SECONDS,
        largest_bytes: int = LARGEST_BODY_BYTES,
        pictures_from: str = "",
    ) -> None:
        self.app, self.door = app, door
        self.longest_s, self.largest_bytes = longest_s, largest_bytes
        policy = policy_with(pictures_from).encode()
        self._headers = ((HEADERS[0][0], policy), *HEADERS[1:])

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = {
            name.decode("latin-1").lower(): value.decode("latin-1")
            for name, value in scope["headers"]
        }
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await _say(send, *refusal)
        elif scope["path"] == "/" and b"key=" in scope["query_string"]:
            await self._let_in(scope, send)
        elif not self.door.opens(_cookie(headers.get("cookie", ""), self.door.cookie)):
            await _say(send, 403, "Open the desk by the address that the terminal shows.")
        else:
            await self._answer(scope, receive, send)

    def _refusal(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        """Why a request is not this page's own; None where it may be."""
        if headers.get("host", "").lower() not in self.door.hosts:
            return 421, "The desk answers at its own address only."
        site = headers.get("sec-fetch-site", "")
        origin = headers.get("origin", "")
        if scope["method"] not in ("GET", "HEAD"):
            own = {f"http://{host}" for host in self.door.hosts}
            if origin.lower() not in own and not (origin == "" and site == "same-origin"):
                return 403, "The desk takes changes from its own page only."
        if site in ("cross-site", "same-site") and scope["path"] != "/":
            return 403, "The desk answers its own page only."
        try:
            length = int(headers.get("content-length", "0"))
        except ValueError:
            return 400, "The request's length is no number."
        most = self._most_bytes(scope["path"])
        if length > most:
            return 413, f"The desk takes at most {most // 1_000_000:,} MB at once."
        return None

    def _most_bytes(self, path: str) -> int:
        return LARGEST_UPLOAD_BYTES if path.startswith(UPLOADS) else self.largest_bytes

    async def _let_in(self, scope: Scope, send: Send) -> None:
        """Give the cookie for the right key, and take the key out of the address."""
        given = parse_qs(scope["query_string"].decode("latin-1"), max_num_fields=4)
        if not self.door.opens(given.get("key", [""])[0]):
            await _say(send, 403, "Open the desk by the address that the terminal shows.")
            return
        kept = f"{self.door.cookie}={self.door.key}; HttpOnly; SameSite=Strict; Path=/"
        sent = [
            (b"location", b"/"),
            (b"set-cookie", kept.encode()),
            (b"cache-control", b"no-store"),
        ]
        await send({"type": "http.response.start", "status": 303, "headers": [*sent, *HEADERS]})
        await send({"type": "http.response.body", "body": b""})

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        started, taken, most = False, 0, self._most_bytes(scope["path"])

        async def counted_receive() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > most:
                raise TooLargeError(f"More than {most / 1e6:g} MB at once.")
            return message

        async def sent(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message["headers"] = [*message.get("headers", ()), *self._headers]
            await send(message)

        longest = None if scope["path"].startswith("/stream/") else self.longest_s
        if scope["path"].startswith(UPLOADS):
            longest = LONGEST_UPLOAD_SECONDS
        try:
            async with asyncio.timeout(longest):
                await self.app(scope, counted_receive, sent)
        except TimeoutError:
            if not started:
                await _say(send, 504, "That took too long; ask for fewer nights or lenses.")
        except Exception:  # whatever fails, nothing of the inside is told
            print(traceback.format_exc(), file=sys.stderr)
            if not started:
                await _say(send, 500, "Something went wrong; the terminal says more.")


class TooLargeError(Exception):
    """A body that grew past the limit; its text may be told."""


def _cookie(header: str, name: str) -> str:
    for part in header.split(";"):
        key, _, value = part.strip().partition("=")
        if key == name:
            return value
    return ""


async def _say(send: Send, status: int, sentence: str) -> None:
    """Answer with one sentence, as JSON."""
    body = json.dumps({"error": sentence}).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        *HEADERS,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
