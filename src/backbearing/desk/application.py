"""What the desk answers at which address; see docs/desk.md for the whole list.

Answers are JSON but for tiles and pictures. What only asks is a GET, what writes is a POST; a
request names its draft as ``changes``, so that nothing hangs on which window asked last.
"""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from backbearing.base.errors import BackbearingError
from backbearing.base.plain import plain
from backbearing.desk import (
    candidates,
    draft_on_disk,
    first_steps,
    layers,
    long_answers,
    measuring_desk,
    other_ground,
    ridge_round,
    subject_panel,
    zipped,
)
from backbearing.desk.answering import (
    body_of,
    changes_of,
    checked_changes,
    held_of,
    number_of,
    sentence,
    text_of,
)
from backbearing.desk.assets import first_page, page, script, style
from backbearing.desk.guard import TooLargeError
from backbearing.desk.open_outing import OpenOuting
from backbearing.desk.outing_on_disk import ConflictError
from backbearing.desk.take_along import KINDS
from backbearing.desk.work import GoneError, Work
from backbearing.drawing.leaflet import leaflet_licence, leaflet_script, leaflet_style
from backbearing.drawing.marks import Drawing
from backbearing.drawing.palette import VIEW, VIEW_RED
from backbearing.drawing.png import drawing_webp
from backbearing.outing.load import load_outing
from backbearing.pictures.preview_frame import frame_panel

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request

    from backbearing.desk.online_tiles import OnlineTiles

GONE = object()
"""The answer to a question that was taken back."""

FRAME_PX = 480
"""Width of a lens's picture on the desk."""


class Desk(OpenOuting):
    """One run of the desk: its outing, its ground, and the nights it has been asked for.

    Parameters
    ----------
    file : Path or None
        The outing; None where the page is to begin with what lies in the folder.
    stop : callable
        Ends the server.
    folder : Path, optional
        The only folder that the page may choose from; the outing's own when left out.
    """

    def __init__(
        self, file: Path | None, stop: Callable[[], None], folder: Path | None = None
    ) -> None:
        super().__init__(file, folder or (Path() if file is None else file.parent))
        self.stop = stop
        self.online: OnlineTiles | None = None
        self.work = Work()
        self.at_close: list[Callable[[], None]] = [self.work.close]
        self._turn = asyncio.Lock()

    def close(self) -> None:
        """End what works for the desk."""
        for close in self.at_close:
            close()

    def routes(self) -> list[Route]:
        """Every address of the desk."""
        return [
            Route("/", self._page),
            Route("/style.css", text_of(style, "text/css")),
            Route("/map.css", text_of(leaflet_style, "text/css")),
            Route("/map.js", text_of(leaflet_script, "text/javascript")),
            Route("/licence.txt", text_of(leaflet_licence, "text/plain")),
            Route("/script/{name}.js", self._script),
            Route("/tiles/{zoom:int}/{column:int}/{row:int}.webp", self._tile),
            Route("/api/ground", self._ground),
            Route("/api/under", self._under),
            Route("/api/night", self._night),
            Route("/api/minute", self._minute),
            Route("/api/light", self._light),
            Route("/api/frame", self._frame),
            Route("/api/frames", self._frames),
            Route("/api/from-stand", self._from_stand),
            Route("/api/evening", self._evening),
            Route("/api/places", self._places),
            Route("/api/season", self._season),
            Route("/take/{name}", self._take),
            Route("/api/keep", self._keep, methods=["POST"]),
            Route("/api/undo", self._undo, methods=["POST"]),
            Route("/api/stop", self._stop, methods=["POST"]),
            *layers.routes(self),
            *ridge_round.routes(self),
            *candidates.routes(self),
            *first_steps.routes(self),
            *draft_on_disk.routes(self),
            *other_ground.routes(self),
            *subject_panel.routes(self),
            *measuring_desk.routes(self),
            *zipped.routes(self),
        ]

    async def _page(self, request: Request) -> Response:
        return Response(page() if self.is_open else first_page(), media_type="text/html")

    async def _script(self, request: Request) -> Response:
        text = script(request.path_params["name"])
        if text is None:
            return sentence(404, "There is no such part of the page.")
        return Response(text, media_type="text/javascript")

    async def _tile(self, request: Request) -> Response:
        path = request.path_params
        try:
            tile = await run_in_threadpool(
                self.tiles.tile, path["zoom"], path["column"], path["row"]
            )
        except ValueError:
            return sentence(404, "There is no such tile.")
        kept = {"cache-control": "private, max-age=3600"}
        if tile is None:
            return Response(status_code=204, headers=kept)
        return Response(tile, media_type="image/webp", headers=kept)

    async def _ground(self, request: Request) -> Response:
        """The raster's edges and what may be said of it."""

        def found() -> dict[str, Any]:
            south, west, north, east = (float(v) for v in self.elevation.bounds)
            ground = load_outing(self.outing.file).ground
            return {
                "bounds": [[south, west], [north, east]],
                "cell_m": self.elevation.cell_size_m,
                "least_zoom": self.tiles.least_zoom,
                "key": self.raster_key,
                "credit": ground.credit,
                "product": ground.product,
            }

        return await self._answered(request, found)

    async def _under(self, request: Request) -> Response:
        lat, lon = number_of(request, "lat"), number_of(request, "lon")

        def found() -> dict[str, Any]:
            return {
                "height_m": float(self.elevation.height_at(lat=lat, lon=lon)),
                "slope_deg": float(self.elevation.slope_at(lat=lat, lon=lon)),
                "state": self.elevation.state_at(lat=lat, lon=lon).name.lower().replace("_", " "),
            }

        return await self._answered(request, found)

    async def _night(self, request: Request) -> Response:
        changes = changes_of(request)

        def found() -> dict[str, Any]:
            outing = self.outing
            state = {"revision": outing.revision, "can_undo": outing.can_undo}
            return {**state, **self.answers.night(changes)}

        return await self._answered(request, found)

    async def _minute(self, request: Request) -> Response:
        changes, time_s = changes_of(request), number_of(request, "time")
        return await self._answered(request, lambda: self.answers.minute(changes, time_s))

    async def _light(self, request: Request) -> Response:
        """What stands beside a minute, asked when its fold is open."""
        changes, time_s = changes_of(request), number_of(request, "time")
        lens = int(number_of(request, "lens"))
        return await self._answered(request, lambda: self.answers.light(changes, time_s, lens))

    async def _frame(self, request: Request) -> Response:
        changes, time_s = changes_of(request), number_of(request, "time")
        lens, red = int(number_of(request, "lens")), request.query_params.get("red") == "1"

        def painted() -> bytes | None:
            view = self.answers.view(changes, time_s, lens)
            if view is None:
                return None
            palette = VIEW_RED if red else VIEW
            panel = frame_panel(view, x=0, y=0, width=FRAME_PX, palette=palette, guides=False)
            size = round(FRAME_PX / view.aspect)
            sheet = Drawing(FRAME_PX, size, palette.paper, (panel,), (), view.label, view.caption)
            return drawing_webp(sheet)

        picture = await self._worked_out(request, painted)
        if picture is None or picture is GONE:
            return Response(status_code=204)
        return Response(picture, media_type="image/webp")

    async def _frames(self, request: Request) -> Response:
        """All lenses at one minute, in one answer; its rows are plain already."""
        changes, time_s = changes_of(request), number_of(request, "time")
        red = request.query_params.get("red") == "1"
        found = await self._worked_out(
            request, lambda: json.dumps(self.answers.frames(changes, time_s, red=red)).encode()
        )
        if found is GONE:
            return Response(status_code=499)
        return Response(found, media_type="application/json", headers={"cache-control": "no-store"})

    async def _from_stand(self, request: Request) -> Response:
        changes = changes_of(request)
        lat, lon = number_of(request, "lat"), number_of(request, "lon")
        return await self._answered(
            request, lambda: self.answers.from_stand(changes, lat=lat, lon=lon)
        )

    async def _evening(self, request: Request) -> Response:
        """All lenses one after another; a turn may be held at a time, ``fixed``."""
        return await self._long(request, "evening", changes_of(request), held_of(request))

    async def _places(self, request: Request) -> Response:
        return await self._answered(request, self.answers.places)

    async def _season(self, request: Request) -> Response:
        return await self._long(request, "season", changes_of(request))

    async def _long(self, request: Request, what: str, *asked: Any) -> Response:
        """Answer what takes seconds from a process of its own."""
        key = json.dumps([what, self.outing.revision, *asked], sort_keys=True)
        function = getattr(long_answers, what)
        try:
            found = await self.work.answer(
                key, function, self.outing.file, *asked, gone=request.is_disconnected
            )
        except GoneError:
            return Response(status_code=499)
        return JSONResponse(found, headers={"cache-control": "no-store"})

    async def _take(self, request: Request) -> Response:
        """A file of the outing as it is kept on disk."""
        name = request.path_params["name"]
        if name not in KINDS:
            return sentence(404, "There is no such file to take along.")
        try:
            content = await self.work.answer(
                json.dumps([name, self.outing.revision]),
                long_answers.take,
                self.outing.file,
                name,
                gone=request.is_disconnected,
            )
        except GoneError:
            return Response(status_code=499)
        said = {"content-disposition": f'attachment; filename="{name}"'}
        return Response(content, media_type=KINDS[name], headers=said)

    async def _keep(self, request: Request) -> Response:
        asked = await body_of(request)
        changes, revision = checked_changes(asked.get("changes")), str(asked.get("revision", ""))
        return await self._written(lambda: self.outing.keep(changes, revision))

    async def _undo(self, request: Request) -> Response:
        revision = str((await body_of(request)).get("revision", ""))
        return await self._written(lambda: self.outing.undo(revision))

    async def _answered(self, request: Request, find: Callable[[], Any]) -> Response:
        """Work something out and answer it as JSON; nothing for a page that no longer waits."""
        found = await self._worked_out(request, find)
        if found is GONE:
            return Response(status_code=499)
        return JSONResponse(plain(found), headers={"cache-control": "no-store"})

    async def _worked_out(self, request: Request, find: Callable[[], Any]) -> Any:
        """Do one thing after another, beside the server's own loop, and drop what is stale.

        A page that turns the minute takes its older question back: its turn is skipped.
        """
        async with self._turn:
            if await request.is_disconnected():
                return GONE
            return await run_in_threadpool(find)

    async def _written(self, write: Callable[[], str]) -> Response:
        try:
            revision = await run_in_threadpool(write)
        except ConflictError:
            return sentence(
                409, "The file was changed elsewhere; load it again, then change it once more."
            )
        return JSONResponse({"revision": revision, "can_undo": self.outing.can_undo})

    async def _stop(self, request: Request) -> Response:
        self.stop()
        return JSONResponse({"stopped": True})


def application(desk: Desk) -> Starlette:
    """Make the desk's web application, without the guard before it."""
    told: dict[type[Exception], int] = {BackbearingError: 422, TooLargeError: 413}

    def teller(status: int) -> Callable[[Request, Exception], Response]:
        return lambda request, problem: sentence(status, str(problem))

    return Starlette(
        routes=desk.routes(),
        exception_handlers={
            **{kind: teller(status) for kind, status in told.items()},
            404: lambda request, problem: sentence(404, "There is nothing here."),
            405: lambda request, problem: sentence(405, "That cannot be asked so."),
            Exception: lambda request, problem: sentence(
                500, "Something went wrong; the terminal says more."
            ),
        },
    )
