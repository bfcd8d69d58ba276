"""Online tiles that the map may show: of one server that the user named, and on request."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from backbearing.base.errors import BackbearingError


@dataclass(frozen=True, slots=True)
class OnlineTiles:
    """Tiles of a server that the user named; nothing is asked of it until the page's press.

    Attributes
    ----------
    template : str
        An https address with ``{z}``, ``{x}`` and ``{y}``.
    credit : str
        Whom to name; the server's own name when left out.
    """

    template: str
    credit: str = ""

    def __post_init__(self) -> None:
        whole = re.fullmatch(r"[!-~]+", self.template) is not None
        for key in ("{z}", "{x}", "{y}"):
            whole = whole and self.template.count(key) == 1
        try:
            parts = urlsplit(self.template)
            host, port = parts.hostname or "", parts.port
        except ValueError:
            host, port, whole = "", None, False
        named = re.fullmatch(r"[a-z0-9.-]+", host) is not None and "." in host
        plain = "@" not in parts.netloc and port in (None, 443) if whole else False
        if not (whole and plain and named and parts.scheme == "https"):
            raise BackbearingError(
                "The address of online tiles cannot be used",
                hint="write it as https://HOST/.../{z}/{x}/{y}.png, with one host",
            )

    @property
    def host(self) -> str:
        """The one host that the page may show pictures of."""
        return urlsplit(self.template).hostname or ""

    def shown(self) -> dict[str, str]:
        """What the page is told."""
        return {"template": self.template, "credit": self.credit or f"Tiles: {self.host}"}
