"""Bringing ground at the desk: said first, brought on a press, stopped on a press.

The means are those of ``backbearing ground``; here they only run beside the page.
"""

from __future__ import annotations

import math
import sys
import threading
import traceback
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from backbearing.base.errors import BackbearingError, FetchError
from backbearing.base.numbers import counted, num
from backbearing.base.units import METRIC
from backbearing.desk.answering import without_folders
from backbearing.fetching.fetch import TileState
from backbearing.workflows.ground import GroundAsked, GroundFolders, GroundWork, do, survey

if TYPE_CHECKING:
    from backbearing.fetching.fetch import Progress
    from backbearing.fetching.report import GroundReport
    from backbearing.workflows.ground import GroundDone

MB: Final = 1e6


class StoppedError(Exception):
    """Somebody pressed stop; what came so far is kept."""


@dataclass(frozen=True, slots=True)
class Told:
    """How a fetching stands, for the page.

    Attributes
    ----------
    state : {"idle", "running", "done", "failed", "stopped"}
    says : str
        One sentence.
    done, of : int
        Tiles.
    megabytes : float
    """

    state: str = "idle"
    says: str = ""
    done: int = 0
    of: int = 0
    megabytes: float = 0.0


class GroundFetch:
    """One fetching at a time, in a thread of its own."""

    def __init__(self) -> None:
        self.told = Told()
        self._stop = threading.Event()
        self._lock = threading.Lock()

    def start(self, at: str, within_m: float | None) -> Told:
        """Begin to bring the ground about a place.

        Raises
        ------
        FetchError
            While another one runs.
        BackbearingError
            For a place that is none.
        """
        asked = GroundAsked(at=at, within_m=within_m)
        survey(asked, GroundFolders())  # what is wrong is said before anything is asked
        with self._lock:
            if self.told.state == "running":
                raise FetchError("Ground is being brought already", hint="wait, or stop that first")
            self._stop.clear()
            self.told = Told("running", "Asking for the first tiles ...")
        threading.Thread(target=self._run, args=(asked,), daemon=True).start()
        return self.told

    def stop(self) -> Told:
        """Stop with the next piece that comes."""
        if self.told.state == "running":
            self._stop.set()
            self.told = replace(self.told, says="Stopping ...")
        return self.told

    def _run(self, asked: GroundAsked) -> None:
        def told(now: Progress) -> None:
            if self._stop.is_set():
                raise StoppedError
            got, size = now.got_bytes / MB, now.expected_bytes / MB
            of = f" of about {num(size, 0)}" if size else ""
            said = f"{now.done} of {counted(now.of, 'tiles')}; {num(got, 1)}{of} MB"
            self.told = Told("running", said, now.done, now.of, round(got, 1))

        try:
            self.told = ended(do(asked, GroundWork(fetch=True), GroundFolders(), told=told))
        except StoppedError:
            self.told = Told("stopped", "Stopped. What came is kept; press again to go on.")
        except BackbearingError as problem:
            self.told = Told("failed", without_folders(str(problem)))
        except Exception:  # a thread's end is seen by nobody unless it is told
            print(traceback.format_exc(), file=sys.stderr)
            self.told = Told("failed", "Something went wrong; the terminal says more.")


def ended(done: GroundDone) -> Told:
    """Say what came of it."""
    report = done.report
    here = len(report.files)
    silent = report.of(TileState.NO_SERVER)
    if silent:
        return Told("failed", f"No ground came: {silent[0].said}. What is here already stays.")
    wrong = report.of(TileState.FAILED, TileState.MISSING)
    if wrong:
        said = f"{here} of {counted(len(report.tiles), 'tiles')} are here. {wrong[0].said}."
        return Told("done" if here else "failed", said, here, len(report.tiles))
    said = f"All {counted(here, 'tiles')} are here, of {report.source.title}."
    return Told("done", said, here, len(report.tiles))


def said_before(at: str, within_m: float | None) -> dict[str, Any]:
    """Say what would be asked of whom, and how many megabytes that is; asks nobody.

    Raises
    ------
    BackbearingError
        For a place that is none, or more ground than is brought at once.
    """
    report = survey(GroundAsked(at=at, within_m=within_m), GroundFolders())
    wanted = report.of(TileState.TO_FETCH)
    return {
        "to_fetch": len(wanted),
        "here": len(report.files),
        "within_km": report.within_m / 1000.0,
        "megabytes": report.expected_bytes / MB,
        "says": _words(report),
    }


def _words(report: GroundReport) -> str:
    wanted, source = report.of(TileState.TO_FETCH), report.source
    within = METRIC.length(report.within_m)
    if not wanted:
        return f"All tiles within {within} are on this computer already."
    hosts = sorted({urlsplit(url).hostname or "" for _, url in report.by_hand})
    if not any(hosts):
        return f"{source.title} has no address to ask; its tiles are only taken by hand."
    size = report.expected_bytes / MB
    if math.isnan(size):
        much = "how many MB is not known before"
    elif report.size_known:
        much = f"about {num(size, 0)} MB, by those that are here"
    else:
        much = f"at most {num(size, 0)} MB, an estimate"
    return (
        f"A press asks {', '.join(hosts)} for {counted(len(wanted), 'tiles')} of {source.title} "
        f"within {within}: {much}. That server learns which tiles, and nothing else is asked. "
        f"Licence: {source.licence or 'not stated'}."
    )
