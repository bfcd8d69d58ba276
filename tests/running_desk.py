"""A desk in a process of its own, as somebody starts it from a terminal."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


class Running:
    """A desk in a process of its own."""

    def __init__(self, outing: Path) -> None:
        start = "from backbearing.cli import main; main()"
        command = [sys.executable, "-c", start, "desk", str(outing), "--no-browser"]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        self.address = ""
        while not self.address:
            line = self.process.stdout.readline()
            assert line, self.process.communicate()[1][-2000:]
            found = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", line)
            self.address = found.group() if found else ""

    def interrupt(self) -> int:
        """Press Ctrl-C and wait for the end."""
        self.process.send_signal(signal.SIGINT)
        self.process.communicate(timeout=60)
        return self.process.returncode

    def end(self) -> None:
        """Kill what still runs, and close its pipes."""
        self.process.kill()
        self.process.communicate()
