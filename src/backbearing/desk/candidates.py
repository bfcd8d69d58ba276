"""Many subjects on the desk: a file of candidates ranked beside it, stopped, taken up again, shown.

A run is `scout`'s own, in a process of its own, with its finished parts kept in the folder
``scouted`` beside the outing. What was asked stands there too, so that a desk that was ended
midway goes on where it was; ``backbearing scout --keep scouted`` goes on from the same parts.
"""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from backbearing.base.errors import OutingError
from backbearing.base.input_files import read_text
from backbearing.base.plain import plain
from backbearing.desk.answering import NOT_KEPT, answered, body_of, checked_changes, number_of
from backbearing.desk.draft_text import checked
from backbearing.desk.ranking_run import RankingRun
from backbearing.outing.load import load_outing
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from pathlib import Path

    from starlette.requests import Request

    from backbearing.desk.parts import DeskParts

SUFFIXES: Final = (".csv", ".geojson", ".json", ".gpkg", ".gpx", ".kml", ".osm.pbf")
MOST_FILES: Final = 200
ROWS_A_PAGE: Final = 50
MOST_MARKS: Final = 200
"""Ranks on the map at the most."""

LOOK_EVERY_S: Final = 0.15
BEAT_EVERY_S: Final = 10.0


class CandidateDesk:
    """What the desk answers of candidates.

    Parameters
    ----------
    desk : DeskParts
    """

    def __init__(self, desk: DeskParts) -> None:
        self._desk = desk
        self._runs: dict[Path, RankingRun] = {}

    @property
    def run(self) -> RankingRun:
        """The run of the outing that is open."""
        file = self._desk.outing.file
        if file not in self._runs:
            self._runs[file] = RankingRun(file)
            self._desk.at_close.append(self._runs[file].close)
        return self._runs[file]

    async def state(self, request: Request) -> Response:
        """The files that could be ranked, and how far the run is."""
        del request
        return await answered(
            lambda: {
                "files": list(candidate_files(self._desk.outing.file)),
                "run": self.run.snapshot(),
                "left_of_the_old": left_of_the_old(self._desk.outing.file),
            }
        )

    async def start(self, request: Request) -> Response:
        """Begin a run, or go on with the one that was stopped."""
        asked = await body_of(request)
        changes = _of_the_run(checked(checked_changes(asked.get("changes", {}))))
        name = asked.get("file")
        files = candidate_files(self._desk.outing.file)
        if not isinstance(name, str) or name not in files:
            raise OutingError(
                "That file of candidates is not in the desk's folder", hint="choose one of the list"
            )
        self._desk.outing.draft(changes)  # what is wrong with it is said here
        return await answered(lambda: self.run.start(files[name], name, changes))

    async def resume(self, request: Request) -> Response:
        """Go on with what was asked last, now or before the desk was started."""
        await body_of(request)
        files = candidate_files(self._desk.outing.file)
        return await answered(lambda: self.run.resume(files))

    async def stop(self, request: Request) -> Response:
        """Stop the run; what is finished stays."""
        await body_of(request)
        return await answered(self.run.stop)

    async def page(self, request: Request) -> Response:
        """Fifty rows of the ranking, or of what was left out of the file."""
        page = number_of(request, "page")
        what = request.query_params.get("what", "ranked")
        if what not in ("ranked", "left_out") or not 0 <= page < 1e6:
            raise OutingError("There is no such page of the ranking", hint="load the page again")
        return await answered(lambda: _page(self.run.rows(what), round(page), self.run.facts()))

    async def marks(self, request: Request) -> Response:
        """The first ranks with their places, for the map."""
        del request
        keys = ("rank", "name", "lat", "lon", "row")
        return await answered(
            lambda: {
                "marks": [
                    {key: row[key] for key in keys}
                    for row in self.run.rows("ranked")[:MOST_MARKS]
                    if row["rank"] is not None
                ]
            }
        )

    async def stream(self, request: Request) -> Response:
        """The run's progress as server-sent events [HTMLLS]_, until it ends."""
        run = self.run

        async def events() -> AsyncIterator[str]:
            seen, quiet_s = -1, 0.0
            while not await request.is_disconnected():
                state = run.snapshot()
                if state["version"] != seen:
                    seen, quiet_s = state["version"], 0.0
                    yield f"data: {json.dumps(plain(state))}\n\n"
                elif quiet_s >= BEAT_EVERY_S:
                    quiet_s = 0.0
                    yield ": still here\n\n"
                if state["state"] != "running":
                    return
                await asyncio.sleep(LOOK_EVERY_S)
                quiet_s += LOOK_EVERY_S

        return StreamingResponse(events(), media_type="text/event-stream", headers=NOT_KEPT)


def routes(desk: DeskParts) -> list[Route]:
    """Every address of the candidates."""
    many = CandidateDesk(desk)
    return [
        Route("/api/candidates", many.state),
        Route("/api/candidates/start", many.start, methods=["POST"]),
        Route("/api/candidates/resume", many.resume, methods=["POST"]),
        Route("/api/candidates/stop", many.stop, methods=["POST"]),
        Route("/api/ranking", many.page),
        Route("/api/ranking/marks", many.marks),
        Route("/stream/candidates", many.stream),
    ]


def candidate_files(outing_file: Path) -> dict[str, Path]:
    """Files that may hold candidates, by the names that the page shows.

    The outing's own comes first, wherever it lies; else only what lies in its folder.
    """
    folder = outing_file.parent.resolve()
    found: dict[str, Path] = {}
    own = load_outing(outing_file).scouting.candidates
    if own is not None and own.is_file():
        found[own.name] = own
    for path in sorted(folder.iterdir()):
        suits = path.name.lower().endswith(SUFFIXES) and path.resolve().parent == folder
        if suits and path.is_file() and len(found) < MOST_FILES:
            found.setdefault(path.name, path)
    return found


def left_of_the_old(outing_file: Path) -> list[str]:
    """Keys of the file's subject that a candidate does not bring: they stay the old one's."""
    text = read_text(outing_file, "an outing", largest_bytes=LARGEST_BYTES)
    subject = parse_outing_text(text, outing_file).get("subject", {})
    moved = {"lat", "lon", "place", "height_m", "width_m", "name", "kind", "outline"}
    return sorted(str(key)[:40] for key in subject if key not in moved)


def _of_the_run(changes: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The draft without its subject, which a ranking does not look at; dates as text again."""
    return {
        section: {k: v.isoformat() if k == "evening" else v for k, v in keys.items()}
        for section, keys in changes.items()
        if section != "subject"
    }


def _page(rows: list[dict[str, Any]], page: int, facts: dict[str, Any]) -> dict[str, Any]:
    first = page * ROWS_A_PAGE
    return {
        "page": page,
        "pages": -(-len(rows) // ROWS_A_PAGE),
        "count": len(rows),
        "rows": rows[first : first + ROWS_A_PAGE],
        **facts,
    }
