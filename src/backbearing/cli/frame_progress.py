"""How far a review is: a line that is written over on a terminal, seldom a line elsewhere."""

from __future__ import annotations

import sys
import time

import click

from backbearing.base.numbers import num
from backbearing.base.text import terminal_safe

SELDOM_S = 5.0
"""Where lines stay (a log), one is written no more often than this."""


class FrameProgress:
    """Called with each frame's name before it is read.

    Parameters
    ----------
    frames : int
        How many there are.
    """

    def __init__(self, frames: int) -> None:
        self._of, self._done = frames, 0
        self._began = self._said = time.monotonic()
        self._over = sys.stderr.isatty()

    def __call__(self, name: str) -> None:
        """Say which frame is read now, and how long the rest takes."""
        now = time.monotonic()
        said = f"Frame {self._done + 1} of {self._of}: {terminal_safe(name)}"
        if self._done:
            left = (now - self._began) / self._done * (self._of - self._done)
            long = left > 90.0
            said += f", about {num(left / 60.0 if long else left, 0)} {'min' if long else 's'} left"
        self._done += 1
        if self._over:
            click.echo(f"\r{said}\x1b[K", err=True, nl=False)
        elif now - self._said >= SELDOM_S:
            self._said = now
            click.echo(said, err=True)

    def close(self) -> None:
        """Clear the line that was written over."""
        if self._over and self._done:
            click.echo("\r\x1b[K", err=True, nl=False)
