"""A friend's zip at the desk: it comes through the browser and is unpacked beside the outings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.routing import Route

from backbearing.desk.answering import answered
from backbearing.desk.folder import coming, plain_name
from backbearing.workflows.open_zip import LARGEST_ZIP_BYTES, unpacked

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from backbearing.desk.open_outing import OpenOuting

ZIPS: Final = (".zip",)


def routes(desk: OpenOuting) -> list[Route]:
    """The address that takes a zip."""

    async def take(request: Request) -> Response:
        name = plain_name(request.path_params["name"], ZIPS)
        folder = desk.folder
        async with coming(request, folder, ZIPS[0], LARGEST_ZIP_BYTES) as part:

            def opened() -> dict[str, Any]:
                outing = unpacked(part, folder, name.removesuffix(ZIPS[0]))
                desk.open(outing)
                return {"opened": outing.relative_to(folder).as_posix()}

            return await answered(opened)

    return [Route("/upload/zip/{name}", take, methods=["POST"])]
