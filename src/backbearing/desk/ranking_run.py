"""One run of ranking: begun, told of, stopped and taken up again."""

from __future__ import annotations

import contextlib
import json
import os
import threading
import time
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import BackbearingError, OutingError, WriteRefusedError
from backbearing.base.files import write_file
from backbearing.base.plain import plain
from backbearing.desk.answering import without_folders
from backbearing.desk.outing_on_disk import OutingOnDisk
from backbearing.desk.work import GoneError, Worker
from backbearing.exports.ranking_files import ranking_document
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.run.run import scout

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.desk.outing_on_disk import Changes
    from backbearing.desk.work import Tell

KEPT_IN: Final = "scouted"
ASKED: Final = "desk.json"
LARGEST_ASKED: Final = 20_000

MOST_ROWS: Final = 5_000
"""Rows of the ranking, and of what was left out, that the page can turn to."""

ROW_KEYS: Final = (
    *("rank", "name", "kind", "lat", "lon", "height_m", "width_m", "height_is_guess", "score"),
    *("best_night", "night_label", "best_time", "best_lens_mm", "distance_m", "total_minutes"),
    *("good_nights", "walk_m", "access", "reasons", "cautions", "failure"),
)
"""What a row of the page holds of a candidate; see docs/scouting.md."""


def rank(
    outing_file: Path, changes: Changes, candidates: Path, keep: Path, tell: Tell
) -> dict[str, Any]:
    """Rank a file of candidates for a draft, in a process of its own.

    One core is left for the desk.
    """
    outing = OutingOnDisk(outing_file).draft(changes)
    found = read_candidates(candidates)
    ranking = scout(
        outing,
        found,
        processes=max(1, (os.cpu_count() or 2) - 1),
        keep=keep,
        progress=lambda done, total: tell((done, total)),
    )
    document = ranking_document(ranking)
    rows = [
        {"row": one.get("id", ""), **{key: one.get(key) for key in ROW_KEYS}}
        for one in document["candidates"][:MOST_ROWS]
    ]
    return {
        "ranked": plain(rows),
        "left_out": plain(document["rejected"][:MOST_ROWS]),
        "facts": {
            "source": found.source,
            "zone": document["zone"],
            "first_night": document["first_night"],
            "nights": document["nights"],
            "ranked": ranking.ranked,
            "failed": len(ranking) - ranking.ranked,
            "left_out": len(document["rejected"]),
            "notes": list(document["notes"]),
        },
    }


class RankingRun:
    """The run of one outing.

    Parameters
    ----------
    outing_file : Path
    """

    def __init__(self, outing_file: Path) -> None:
        self._file = outing_file
        self._lock = threading.RLock()
        self._worker: Worker | None = None
        self._thread: threading.Thread | None = None
        self._found: dict[str, Any] | None = None
        self._began_s = 0.0
        self._first_done: int | None = None
        self._closed = False
        self._state: dict[str, Any] = {
            "version": 0, "state": "none", "file": "", "done": 0, "total": 0, "error": "",
        }  # fmt: skip
        asked = self._asked()
        if asked is not None:
            self._state |= {"state": "stopped", "file": asked["file"]}

    @property
    def keep(self) -> Path:
        """The folder of finished parts."""
        return self._file.parent / KEPT_IN

    def snapshot(self) -> dict[str, Any]:
        """How far the run is, with seconds so far and to come; None where that is unknown."""
        with self._lock:
            state = dict(self._state)
            running = state["state"] == "running"
            spent = time.monotonic() - self._began_s if running else None
            fresh = state["done"] - (self._first_done or 0)
            left = None
            if spent is not None and fresh > 0:
                left = round(spent * (state["total"] - state["done"]) / fresh)
            return {**state, "left_seconds": left, "has_ranking": self._found is not None}

    def rows(self, what: str) -> list[dict[str, Any]]:
        """The rows of the ranking, or what was left out; empty where there is none."""
        with self._lock:
            return [] if self._found is None else self._found[what]

    def facts(self) -> dict[str, Any]:
        """What is to be said of the ranking as a whole."""
        with self._lock:
            return {"facts": None if self._found is None else self._found["facts"]}

    def start(self, file: Path, name: str, changes: Changes) -> dict[str, Any]:
        """Begin, in the place of what may be under way.

        Raises
        ------
        WriteRefusedError
            When the folder of finished parts cannot be made.
        """
        self.stop()
        self._note(name, changes)
        with self._lock:
            self._found, self._first_done, self._began_s = None, None, time.monotonic()
            self._told(state="running", file=name, done=0, total=0, error="")
            worker = self._worker = self._worker if self._alive() else Worker()
            args = (self._file, changes, file, self.keep)
            self._thread = threading.Thread(target=self._run, args=(worker, args), daemon=True)
            self._thread.start()
        return self.snapshot()

    def resume(self, files: Mapping[str, Path]) -> dict[str, Any]:
        """Go on with what was asked last.

        Raises
        ------
        OutingError
            When nothing was, or its file is gone.
        """
        asked = self._asked()
        if asked is None or asked["file"] not in files:
            raise OutingError("There is no run to go on with", hint="choose a file and rank it")
        return self.start(files[asked["file"]], asked["file"], asked["changes"])

    def stop(self) -> dict[str, Any]:
        """Stop; parts that are finished stay on disk."""
        with self._lock:
            worker, thread = self._worker, self._thread
            running = self._state["state"] == "running"
            if running:
                self._told(state="stopped")
        if running and worker is not None and thread is not None:
            worker.end()
            thread.join()
        return self.snapshot()

    def close(self) -> None:
        """End the process."""
        self._closed = True
        self.stop()
        if self._worker is not None:
            self._worker.end()

    def _alive(self) -> bool:
        return self._worker is not None and self._worker.alive

    def _run(self, worker: Worker, args: tuple[Any, ...]) -> None:
        try:
            found = worker.do(rank, *args, tell=self._progress)
        except GoneError:
            self._ended(state="stopped", error="")
        except BackbearingError as problem:
            self._ended(state="failed", error=without_folders(str(problem)))
        except RuntimeError:
            self._ended(state="failed", error="Something went wrong; the terminal says more.")
        else:
            with self._lock:
                if self._state["state"] == "running":
                    self._found = found
                    self._told(state="done")

    def _ended(self, *, state: str, error: str) -> None:
        with self._lock:
            if self._state["state"] == "running":
                self._told(state=state, error=error)

    def _progress(self, told: tuple[int, int]) -> None:
        with self._lock:
            done, total = told
            if self._first_done is None:
                self._first_done, self._began_s = done, time.monotonic()
            if self._state["state"] == "running":
                self._told(done=done, total=total)

    def _told(self, **what: Any) -> None:
        self._state = {**self._state, **what, "version": self._state["version"] + 1}

    def _note(self, name: str, changes: Changes) -> None:
        """Write down what is asked, for a desk that is started later."""
        try:
            self.keep.mkdir(exist_ok=True)
        except OSError as problem:
            raise WriteRefusedError(
                f"The folder {KEPT_IN} cannot be made beside the outing",
                hint="make room for it, or make the folder one that you may write to",
            ) from problem
        text = json.dumps({"file": name, "changes": changes}, ensure_ascii=False, indent=1)
        write_file(self.keep / ASKED, text + "\n", overwrite=True)

    def _asked(self) -> dict[str, Any] | None:
        """What was asked last, as far as it can be read."""
        with contextlib.suppress(OSError, ValueError, RecursionError):
            text = (self.keep / ASKED).read_bytes()[:LARGEST_ASKED]
            asked = json.loads(text)
            changes = asked["changes"] if isinstance(asked, dict) else None
            if isinstance(asked.get("file"), str) and isinstance(changes, dict):
                return asked  # type: ignore[no-any-return]
        return None
