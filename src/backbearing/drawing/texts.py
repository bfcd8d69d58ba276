"""Text from the user's files on its way into a page: numbered, never part of the HTML."""

from __future__ import annotations

import json
from typing import Any

from markupsafe import Markup

_ESCAPED = "<>&\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""What could end a script element or a line of it, or turn its writing direction."""


class Texts:
    """The page's table of foreign text.

    The HTML holds only an element with a number; the page's script puts the text in
    through ``textContent``, so that nothing in it can be markup, script or template.
    """

    def __init__(self) -> None:
        self.all: list[str] = []
        self._known: dict[str, int] = {}

    def add(self, text: str) -> int:
        """Give the number of a text, the same one for the same text."""
        if text not in self._known:
            self._known[text] = len(self.all)
            self.all.append(text)
        return self._known[text]

    def element(self, text: str) -> Markup:
        """An element that the script fills with the text, its direction kept to itself."""
        return Markup('<bdi data-text="{}"></bdi>').format(self.add(text))


def json_block(data: Any) -> Markup:
    """JSON that is safe inside a script element, whatever its strings hold.

    Raises
    ------
    ValueError
        For NaN or infinity, which JSON cannot hold.
    """
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in _ESCAPED:
        text = text.replace(character, f"\\u{ord(character):04x}")
    # A lone surrogate cannot be written as UTF-8.
    text = text.encode("utf-8", "backslashreplace").decode("utf-8")
    return Markup(text)  # noqa: S704 -- every character that could end the element is escaped
