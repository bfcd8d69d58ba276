"""The land on the desk's map, and online tiles where the user gave an address for them."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from backbearing.base.errors import OutingError
from backbearing.desk import long_answers
from backbearing.desk.answering import NOT_KEPT, answered, number_of, sentence
from backbearing.desk.assets import style_of
from backbearing.desk.land_view import LandView, View
from backbearing.desk.map_features import MapFeatures
from backbearing.desk.work import GoneError
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

    from backbearing.desk.parts import DeskParts

MOST_DEG: Final = 8.0
"""Widest view that is answered, degrees."""

LONGEST_TEXT: Final = 80
EMPTY: Final[dict[str, Any]] = {
    "kinds": {}, "names": [], "left_out": 0, "credit": "", "source": "",
}  # fmt: skip


class Layers:
    """The features of the outing's own map file, read when they are first asked for.

    Parameters
    ----------
    desk : DeskParts
    """

    def __init__(self, desk: DeskParts) -> None:
        self._desk = desk
        self._kept: tuple[str, LandView | None] | None = None
        self._lock = threading.Lock()

    async def land(self, request: Request) -> Response:
        """The features of a view."""
        view = _view(request)
        land = await self._land(request)
        if land is None:
            return JSONResponse(EMPTY, headers=NOT_KEPT)
        return await answered(lambda: land.shown(view))

    async def find(self, request: Request) -> Response:
        """Features by name."""
        text = request.query_params.get("text", "")
        if len(text) > LONGEST_TEXT:
            return sentence(422, f"A name to look for has at most {LONGEST_TEXT} letters.")
        land = await self._land(request)
        return await answered(lambda: {"found": [] if land is None else land.found(text)})

    async def online(self, request: Request) -> Response:
        """The tiles that the user allowed, or none."""
        del request
        tiles = self._desk.online
        return JSONResponse({"online": None if tiles is None else tiles.shown()}, headers=NOT_KEPT)

    async def _land(self, request: Request) -> LandView | None:
        """Read the map file in a process of its own, once."""
        file = map_file(self._desk.outing.file)
        if file is None:
            return None
        try:
            facts = file.stat()
        except OSError as problem:
            raise OutingError(f"There is no map at {file.name}", file=str(file)) from problem
        key = f"land {file} {facts.st_mtime_ns} {facts.st_size}"
        with self._lock:
            if self._kept is not None and self._kept[0] == key:
                return self._kept[1]
        packed = await self._desk.work.answer(
            key,
            long_answers.map_features,
            file,
            tuple(self._desk.elevation.bounds),
            gone=request.is_disconnected,
        )
        land = LandView(MapFeatures.unpacked(packed))
        with self._lock:
            self._kept = key, land
        return land


def map_file(outing_file: Path) -> Path | None:
    """Which file the map's features come from: the outing's ways, or its extract of candidates."""
    asked = load_outing(outing_file).scouting
    if asked.ways is not None:
        return asked.ways
    named = asked.candidates
    if named is not None and named.name.lower().endswith(".osm.pbf"):
        return named
    near = sorted(outing_file.parent.glob("*.osm.pbf"))
    return near[0] if len(near) == 1 else None


def routes(desk: DeskParts) -> list[Route]:
    """Every address of the land on the map."""
    layers = Layers(desk)

    def kept_from(answer: Any) -> Any:
        async def endpoint(request: Request) -> Response:
            try:
                found: Response = await answer(request)
            except GoneError:
                return Response(status_code=499)
            return found

        return endpoint

    async def sheet_of(request: Request) -> Response:
        text = style_of(request.path_params["name"])
        if text is None:
            return sentence(404, "There is no such part of the page.")
        return Response(text, media_type="text/css")

    return [
        Route("/style/{name}.css", sheet_of),
        Route("/api/land", kept_from(layers.land)),
        Route("/api/find", kept_from(layers.find)),
        Route("/api/online", layers.online),
    ]


def _view(request: Request) -> View:
    zoom, west, south, east, north = (
        number_of(request, name) for name in ("zoom", "west", "south", "east", "north")
    )
    whole = 0 <= zoom <= 22 and -90.0 <= south < north <= 90.0 and -360.0 <= west < east <= 360.0
    if not whole or max(east - west, north - south) > MOST_DEG * 2.0 ** max(0.0, 9.0 - zoom):
        raise OutingError("The view is none of this map's", hint="load the page again")
    return View(round(zoom), west, south, east, north)
