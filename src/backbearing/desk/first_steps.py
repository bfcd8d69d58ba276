"""From an empty folder to an outing on the desk: three sentences, each typed or clicked.

Where is the ground, where is the subject, what is in the bag. The file that comes of them is the
one that ``backbearing new`` writes.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from backbearing.base.errors import BackbearingError, TerrainError
from backbearing.base.input_files import MB
from backbearing.base.place_notation import read_place_fully
from backbearing.desk.answering import (
    NOT_KEPT,
    answered,
    body_of,
    sentence,
    text_in,
    without_folders,
)
from backbearing.desk.first_draft import (
    KEPT,
    FirstDraft,
    Understood,
    keep_draft,
    kept_draft,
    made,
    own_kit,
)
from backbearing.desk.folder import (
    coming,
    file_named,
    outing_named,
    outings_in,
    placed,
    plain_name,
    rasters_in,
)
from backbearing.desk.ground_fetch import GroundFetch, said_before
from backbearing.desk.open_outing import files_state
from backbearing.desk.raster_tiles import RasterTiles
from backbearing.outing.request import GroundRequest
from backbearing.outing.silhouettes import known_kinds
from backbearing.workflows.first_answers import read_length_m
from backbearing.workflows.first_outing import RASTERS, kept_tiles

if TYPE_CHECKING:
    from collections.abc import Hashable
    from pathlib import Path

    from starlette.requests import Request

    from backbearing.base.place_notation import Place
    from backbearing.desk.open_outing import OpenOuting

LARGEST_RASTER_BYTES: Final = 2_000 * MB
"""Of a raster that comes through the browser."""


def routes(desk: OpenOuting) -> list[Route]:
    """Every address of the first steps."""
    steps = FirstSteps(desk)
    return [
        Route("/api/first", steps.first),
        Route("/api/first/look", steps.look, methods=["POST"]),
        Route("/api/first/make", steps.make, methods=["POST"]),
        Route("/api/first/tiles/{zoom:int}/{column:int}/{row:int}.webp", steps.tile),
        Route("/api/open", steps.open, methods=["POST"]),
        Route("/api/leave", steps.leave, methods=["POST"]),
        Route("/api/fetch", steps.fetching),
        Route("/api/fetch/before", steps.before, methods=["POST"]),
        Route("/api/fetch/start", steps.start, methods=["POST"]),
        Route("/api/fetch/stop", steps.stop, methods=["POST"]),
        Route("/upload/ground/{name}", steps.take_ground, methods=["POST"]),
    ]


class FirstSteps:
    """What the empty sheet asks and is told.

    Parameters
    ----------
    desk : OpenOuting
    """

    def __init__(self, desk: OpenOuting) -> None:
        self.desk = desk
        self.fetch = GroundFetch()
        self._shown: tuple[Hashable, RasterTiles] | None = None

    async def first(self, request: Request) -> Response:
        """Give the folder's outings and rasters, the kit, and what was answered before."""

        def found() -> dict[str, Any]:
            folder = self.desk.folder
            return {
                "folder": folder.name,
                "outings": [asdict(one) for one in outings_in(folder)],
                "rasters": [raster_facts(one) for one in rasters_in(folder)],
                "kit": _kit(),
                "kinds": known_kinds(),
                "draft": asdict(kept_draft(folder)),
            }

        return await answered(found)

    async def look(self, request: Request) -> Response:
        """Say what each answer is understood as, and keep them."""
        draft = FirstDraft.of((await body_of(request)).get("draft"))

        def found() -> dict[str, Any]:
            keep_draft(self.desk.folder, draft)
            understood = Understood(draft, self.desk.folder)
            said = understood.said()
            at = understood.place().place if said["place"]["ok"] else None
            kept = at is not None and kept_tiles(at) is not None
            return {"said": said, "at": at, "kept": kept, "ground": self._show(draft)}

        return await answered(found)

    async def make(self, request: Request) -> Response:
        """Make the outing and lay it on the desk."""
        draft = FirstDraft.of((await body_of(request)).get("draft"))

        def done() -> dict[str, Any]:
            file = made(draft, self.desk.folder)
            self.desk.open(file)
            return {"opened": file.name}

        return await answered(done)

    async def open(self, request: Request) -> Response:
        """Lay one of the folder's outings on the desk."""
        name = text_in(await body_of(request), "name")

        def done() -> dict[str, Any]:
            self.desk.open(outing_named(self.desk.folder, name))
            return {"opened": name}

        return await answered(done)

    async def leave(self, request: Request) -> Response:
        """Take the outing off the desk, for another one."""
        self.desk.leave()
        return JSONResponse({"left": True})

    async def fetching(self, request: Request) -> Response:
        """Tell how the bringing of ground stands."""
        return JSONResponse(asdict(self.fetch.told), headers=NOT_KEPT)

    async def before(self, request: Request) -> Response:
        """Say what would be asked of whom; asks nobody."""
        at, within_m = await _asked_ground(request)
        return await answered(lambda: said_before(at, within_m))

    async def start(self, request: Request) -> Response:
        """Begin to bring ground."""
        at, within_m = await _asked_ground(request)
        return await answered(lambda: asdict(self.fetch.start(at, within_m)))

    async def stop(self, request: Request) -> Response:
        """Stop bringing it."""
        return JSONResponse(asdict(self.fetch.stop()))

    async def take_ground(self, request: Request) -> Response:
        """Take a raster from the browser into the folder."""
        folder = self.desk.folder
        name = plain_name(request.path_params["name"], RASTERS)
        async with coming(request, folder, ".tif", LARGEST_RASTER_BYTES) as part:

            def taken() -> dict[str, Any]:
                GroundRequest((part,)).open()
                _check_whole(part)
                return raster_facts(placed(part, folder, name))

            try:
                found = await run_in_threadpool(taken)
            except BackbearingError as problem:
                return sentence(422, str(problem).replace(part.name, name))
        return JSONResponse(found)

    async def tile(self, request: Request) -> Response:
        """Give a tile of the ground that was looked at last."""
        path, shown = request.path_params, self._shown
        if shown is None:
            return Response(status_code=204)
        tiles = shown[1]
        try:
            tile = await run_in_threadpool(tiles.tile, path["zoom"], path["column"], path["row"])
        except ValueError:
            return sentence(404, "There is no such tile.")
        if tile is None:
            return Response(status_code=204)
        return Response(tile, media_type="image/webp", headers={"cache-control": "no-store"})

    def _show(self, draft: FirstDraft) -> dict[str, Any] | None:
        """Make ready the ground chosen as tiles; None where it cannot be shown."""
        try:
            files = self._files(draft)
            if not files:
                return None
            state = files_state(files)
            if self._shown is None or self._shown[0] != state:
                self._shown = state, RasterTiles(GroundRequest(files).open())
        except BackbearingError:
            return None
        tiles = self._shown[1]
        south, west, north, east = (float(v) for v in tiles.elevation.bounds)
        return {
            "bounds": [[south, west], [north, east]],
            "least_zoom": tiles.least_zoom,
            "key": str(abs(hash(state))),
        }

    def _files(self, draft: FirstDraft) -> tuple[Path, ...]:
        if draft.ground != KEPT:
            named = draft.ground
            return (file_named(self.desk.folder, named, RASTERS),) if named else ()
        kept = kept_tiles(read_place_fully(draft.place).place)
        return () if kept is None else kept.files


async def _asked_ground(request: Request) -> tuple[str, float | None]:
    """Read a place and how far round it ground is wanted."""
    asked = await body_of(request)
    within = text_in(asked, "within_km", 20).strip()
    within_m = read_length_m(within, "How far") * 1000.0 if within else None
    return text_in(asked, "place"), within_m


def _check_whole(file: Path) -> None:
    """Read every block of a raster once: a header alone opens what was cut short.

    Raises
    ------
    TerrainError
        For the first block that cannot be read.
    """
    import rasterio
    from rasterio.errors import RasterioError

    try:
        with rasterio.open(file) as raster:
            for _, window in raster.block_windows(1):
                raster.read(1, window=window)
    except RasterioError as problem:
        raise TerrainError("The raster is cut short or damaged", hint="copy it again") from problem


def raster_facts(file: Path, place: Place | None = None) -> dict[str, Any]:
    """What a raster of the folder is: its size, its cells, or what is wrong with it.

    With a place also whether it ``holds`` it.
    """
    found: dict[str, Any] = {"name": file.name, "megabytes": file.stat().st_size / MB}
    try:
        elevation = GroundRequest((file,)).open()
    except BackbearingError as problem:
        held = {} if place is None else {"holds": False}
        return {**found, **held, "problem": without_folders(str(problem))}
    south, west, north, east = (float(v) for v in elevation.bounds)
    bounds = [[south, west], [north, east]]
    if place is not None:
        height_m = elevation.height_at(lat=place.lat_deg, lon=place.lon_deg)
        found["holds"] = bool(np.isfinite(height_m))
    return {**found, "bounds": bounds, "cell_m": elevation.cell_size_m, "problem": ""}


def _kit() -> dict[str, Any]:
    """The names in the user's kit, or what is wrong with it."""
    try:
        kit = own_kit()
    except BackbearingError as problem:
        return {"bodies": [], "lenses": [], "problem": without_folders(str(problem))}
    if kit is None:
        return {"bodies": [], "lenses": [], "problem": ""}
    # A name with a comma in it could not be read back.
    lenses = [name for name in kit.lens if not set(name) & set(",;")]
    return {"bodies": list(kit.body), "lenses": lenses, "problem": ""}
