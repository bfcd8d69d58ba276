"""What the terminal can show, and what to do when it can take no more."""

from __future__ import annotations

import codecs
import os
import sys
from typing import Final

PLAIN: Final = {
    "°": " deg", "±": "+/-", "×": "x", "·": ".", "–": "-", "—": "-", "…": "...", "−": "-",
    "≈": "~", "≤": "<=", "≥": ">=", "′": "'", "″": '"', "‘": "'", "’": "'", "“": '"', "”": '"',
    "→": "->", "←": "<-", "↑": "up", "↓": "down", "•": "*", "²": "2", "³": "3", "µ": "u",
    "\u00a0": " ",
}  # fmt: skip
"""What stands for a sign on a terminal that knows only ASCII; anything else becomes ``?``."""

_BOXES: Final = {**dict.fromkeys("─━═╌┄", "-"), **dict.fromkeys("│┃║", "|")}
_HANDLER: Final = "backbearing-plain"


def steady_streams() -> None:
    """Let signs that the terminal's encoding lacks become plain ones, not an error."""
    codecs.register_error(_HANDLER, _plainly)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=_HANDLER)


def flushed() -> str:
    """Send what waits to be printed; say why it could not be, or nothing.

    A reader that went away (a closed pager) is no fault and says nothing.
    """
    said = ""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except BrokenPipeError:
            _silence()
        except (OSError, ValueError) as problem:
            _silence()
            said = said or (getattr(problem, "strerror", None) or str(problem))
    return said


def _plainly(problem: UnicodeError) -> tuple[str, int]:
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    signs = problem.object[problem.start : problem.end]
    return "".join(map(_plain_sign, signs)), problem.end


def plain_for(text: str, encoding: str) -> str:
    """Give a text with plain signs for those that an encoding lacks, before it is laid out."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return "".join(sign if _knows(encoding, sign) else _plain_sign(sign) for sign in text)
    return text


def _knows(encoding: str, sign: str) -> bool:
    try:
        sign.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def _plain_sign(sign: str) -> str:
    return PLAIN.get(sign) or _BOXES.get(sign) or "?"


def _silence() -> None:
    """Keep the interpreter from trying once more, and from saying so, as it ends."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, sys.stdout.fileno())
    except (OSError, ValueError):
        return
    finally:
        os.close(nowhere)
