"""Work in a process of its own, held to memory and time: for libraries that a file can break.

A library written in C may stop its whole process over a damaged or hostile file, or never end.
The child answers with a line of JSON, then bytes; whatever becomes of it, its parent goes on.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any


class ApartError(Exception):
    """The child did not answer; the text says why, for a sentence of the caller's own."""


def asked_apart(module: str, question: Any, *, most_seconds: float) -> tuple[dict[str, Any], bytes]:
    """Run one of our modules as a program, and return its answer's head and body.

    Parameters
    ----------
    module : str
        Its full name.
    question : object
        Its one argument, as JSON.
    most_seconds : float
        How long it may take.

    Raises
    ------
    ApartError
        When it is not done by then, or stops without an answer.
    """
    paths = os.pathsep.join(one for one in sys.path if one)
    try:
        done = subprocess.run(  # noqa: S603  # our own module in our own Python
            [sys.executable, "-m", module, json.dumps(question)],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
            timeout=most_seconds,
            env=os.environ | {"PYTHONPATH": paths},
        )
    except subprocess.TimeoutExpired:
        raise ApartError(f"was not done after {most_seconds:.0f} s") from None
    head, _, body = done.stdout.partition(b"\n")
    if done.returncode != 0 or not head.startswith(b"{"):
        raise ApartError("stopped")
    return json.loads(head), body


def answer_apart(head: dict[str, Any], body: bytes = b"") -> None:
    """In the child: give the answer."""
    out = sys.stdout.buffer
    out.write(json.dumps(head).encode() + b"\n")
    out.write(body)
    out.flush()


def hold_memory(most_bytes: int) -> None:
    """In the child: hold it to so much memory, where the system has such a bound."""
    try:
        import resource
    except ImportError:
        return
    _, most = resource.getrlimit(resource.RLIMIT_AS)
    bound = most_bytes if most == resource.RLIM_INFINITY else min(most_bytes, most)
    resource.setrlimit(resource.RLIMIT_AS, (bound, most))
