"""What the subject is, what the bag holds and what stands behind, for the page's fields."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse
from starlette.routing import Route

from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import num
from backbearing.base.place_notation import Place, read_place_fully, spell_place
from backbearing.desk.answering import answered, changes_of, sentence
from backbearing.desk.draft_text import OUTLINES
from backbearing.desk.first_draft import USUAL_SIGMA_M, own_kit
from backbearing.desk.folder import coming, files_in, placed, plain_name
from backbearing.outing.outline_svg import MOST_BYTES, read_outline
from backbearing.outing.silhouettes import known_kinds, shape_note
from backbearing.sky.targets import BODIES, CORE_PLACES

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from backbearing.desk.open_outing import OpenOuting
    from backbearing.outing.request import Outing

TARGETS: Final = (*CORE_PLACES, *(name for name in BODIES if name != "sun"))


def routes(desk: OpenOuting) -> list[Route]:
    """The addresses of the panel."""

    async def place(request: Request) -> Response:
        text = request.query_params.get("text", "")
        return await answered(lambda: _place(text))

    async def subject(request: Request) -> Response:
        changes = changes_of(request)
        return await answered(lambda: _facts(desk, desk.outing.draft(changes)))

    async def take_outline(request: Request) -> Response:
        folder = desk.outing.file.resolve().parent
        name = plain_name(request.path_params["name"], OUTLINES)
        async with coming(request, folder, OUTLINES[0], MOST_BYTES) as part:

            def taken() -> dict[str, Any]:
                read_outline(part, height_m=10.0, width_m=None)
                return {"name": placed(part, folder, name).name}

            try:
                found = await run_in_threadpool(taken)
            except BackbearingError as problem:
                return sentence(422, str(problem).replace(part.name, name))
        return JSONResponse(found)

    return [
        Route("/api/place", place),
        Route("/api/subject", subject),
        Route("/upload/outline/{name}", take_outline, methods=["POST"]),
    ]


def _place(text: str) -> dict[str, Any]:
    """Read a place in any notation; raises one sentence where it is none."""
    read = read_place_fully(text)
    return {
        "lat": round(read.place.lat_deg, 7),
        "lon": round(read.place.lon_deg, 7),
        "sigma_m": read.sigma_m if read.sigma_m > USUAL_SIGMA_M else None,
        "says": "".join([spell_place(read.place), *(f"; {note}" for note in read.notes), "."]),
    }


def _facts(desk: OpenOuting, outing: Outing) -> dict[str, Any]:
    """What the fields show of a draft."""
    subject, folder = outing.subject, desk.outing.file.resolve().parent
    try:
        kit = own_kit()
    except BackbearingError:
        kit = None
    camera = outing.camera
    return {
        "place": spell_place(Place(subject.lat, subject.lon), 6),
        "name": subject.name,
        "kind": subject.kind,
        "kinds": known_kinds(),
        "outline": "" if subject.outline is None else subject.outline.source,
        "outlines": [one.name for one in files_in(folder, OUTLINES)],
        "shape": shape_note(subject),
        "target": outing.target.name,
        "targets": list(TARGETS),
        "lenses": [one.lens.label for one in outing.lenses],
        "focal_lengths_mm": [one.lens.focal_length_mm for one in outing.lenses],
        "camera": (
            f"{num(camera.sensor_width_mm)} x {num(camera.sensor_height_mm)} mm, "
            f"{camera.width_px} x {camera.height_px}"
        ),
        "bodies": [] if kit is None else list(kit.body),
        "kit_lenses": [] if kit is None else [one for one in kit.lens if not set(one) & set(",;")],
    }
