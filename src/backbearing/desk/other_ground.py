"""Another ground under the outing that is open: chosen at the desk, written into its file.

It is written at once and not kept as a draft: nights, tiles and skylines all stand on it. **Step
back** undoes it like any other change of the file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse
from starlette.routing import Route

from backbearing.base.errors import OutingError
from backbearing.base.place_notation import Place, spell_place
from backbearing.desk.answering import (
    NOT_KEPT,
    answered,
    body_of,
    changes_of,
    checked_changes,
    sentence,
    text_in,
)
from backbearing.desk.first_draft import KEPT
from backbearing.desk.first_steps import raster_facts
from backbearing.desk.folder import file_named, rasters_in
from backbearing.desk.outing_on_disk import ConflictError
from backbearing.outing.toml_blocks import without_keys
from backbearing.outing.toml_edit import changed_toml
from backbearing.workflows.first_outing import RASTERS, kept_tiles, opened_ground, opened_tiles

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from backbearing.desk.open_outing import OpenOuting
    from backbearing.outing.request import Outing
    from backbearing.workflows.first_outing import Ground

OF_THE_RASTER: Final = (
    *("vertical_unit", "band", "voids", "product", "credit"),
    *("vertical_sigma_m", "relative_sigma_m", "error_range_m"),
)
"""Keys of ``[ground]`` that say what the old raster is; of another one they would be untrue."""


def routes(desk: OpenOuting) -> list[Route]:
    """The addresses of the ground's panel."""

    async def grounds(request: Request) -> Response:
        changes = changes_of(request)
        return await answered(lambda: _found(desk, desk.outing.draft(changes)))

    async def take(request: Request) -> Response:
        asked = await body_of(request)
        name, revision = text_in(asked, "ground"), text_in(asked, "revision")
        place = _place(desk.outing.draft(checked_changes(asked.get("changes", {}))))

        def taken() -> dict[str, Any]:
            kept = desk.outing.rewrite(
                lambda text: on_other_ground(desk, text, name, place), revision
            )
            return {"revision": kept, "can_undo": desk.outing.can_undo}

        try:
            found = await run_in_threadpool(taken)
        except ConflictError:
            return sentence(
                409, "The file was changed elsewhere; load it again, then choose again."
            )
        return JSONResponse(found, headers=NOT_KEPT)

    return [Route("/api/grounds", grounds), Route("/api/grounds", take, methods=["POST"])]


def on_other_ground(desk: OpenOuting, text: str, name: str, place: Place) -> str:
    """Give an outing's text with another ground in it.

    Parameters
    ----------
    desk : OpenOuting
    text : str
        Of the outing's file.
    name : str
        Of a raster of the folder, or :data:`~backbearing.desk.first_draft.KEPT`.
    place : Place
        Of the subject; the ground must hold it.

    Raises
    ------
    BackbearingError
        For a ground that there is none of, or that does not hold the subject.
    """
    ground = _opened(desk, name, place)
    known = dict(ground.keys)
    return changed_toml(
        without_keys(text, "ground", [key for key in OF_THE_RASTER if key not in known]),
        {"ground": known},
    )


def _opened(desk: OpenOuting, name: str, place: Place) -> Ground:
    if name == KEPT:
        tiles = kept_tiles(place)
        if tiles is None:
            raise OutingError(
                "No ground about the subject is kept on this computer", hint="bring it first"
            )
        return opened_tiles(tiles, place)
    if not name:
        raise OutingError("No ground is chosen", hint="choose one of the list")
    beside = desk.outing.file.resolve().parent
    return opened_ground(file_named(desk.folder, name, RASTERS).resolve(), beside, place)


def _found(desk: OpenOuting, outing: Outing) -> dict[str, Any]:
    """Say which grounds there are, whether they hold the subject, and which lies under it."""
    place = _place(outing)
    now = [file.resolve() for file in outing.ground.elevation]
    tiles = kept_tiles(place)
    names = [file.name for file in now]
    rasters = [
        {**raster_facts(file, place), "under": [file.resolve()] == now}
        for file in rasters_in(desk.folder)
    ]
    return {
        "place": spell_place(place, 6),
        "now": ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else ""),
        "rasters": rasters,
        "kept": tiles is not None,
        "kept_under": tiles is not None and [one.resolve() for one in tiles.files] == now,
    }


def _place(outing: Outing) -> Place:
    return Place(outing.subject.lat, outing.subject.lon)
