"""Height and width at the desk by the ways of ``backbearing measure``, a photograph among them.

A photograph is looked at in the browser; here only its size and focal length are read. It lies in a
folder of this run's own while the desk is open, and nowhere else.
"""

from __future__ import annotations

import math
import secrets
import shutil
import tempfile
import weakref
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse
from starlette.routing import Route

from backbearing.base.cautions import VISIT
from backbearing.base.errors import BackbearingError, MeasureError
from backbearing.base.input_files import MB
from backbearing.base.limits import shown
from backbearing.base.numbers import num
from backbearing.desk.answering import (
    answered,
    body_of,
    checked_changes,
    sentence,
    text_in,
    without_folders,
)
from backbearing.desk.folder import coming, plain_name
from backbearing.outing.toml_edit import Noted
from backbearing.review.exif import read_exif
from backbearing.workflows.visit import keys_of, measured
from backbearing.workflows.visit_ways import WAYS

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from backbearing.desk.open_outing import OpenOuting
    from backbearing.workflows.visit import Visit
    from backbearing.workflows.visit_ways import What

PHOTOGRAPHS: Final = (".jpg", ".jpeg", ".png", ".webp")
"""What a browser can show."""

LARGEST_PHOTOGRAPH_BYTES: Final = 80 * MB
MOST_PHOTOGRAPHS: Final = 3
MEASURED: Final[tuple[What, ...]] = ("height", "width")


def routes(desk: OpenOuting) -> list[Route]:
    """The addresses of measuring."""
    photographs = Photographs()

    async def ways(request: Request) -> Response:
        return JSONResponse({what: _ways(what) for what in MEASURED})

    async def measure(request: Request) -> Response:
        asked = await body_of(request)
        return await answered(lambda: _measured(desk, photographs, asked))

    async def take_photograph(request: Request) -> Response:
        name = plain_name(request.path_params["name"], PHOTOGRAPHS)
        suffix = Path(name).suffix
        async with coming(request, photographs.folder, suffix, LARGEST_PHOTOGRAPH_BYTES) as part:
            try:
                found = await run_in_threadpool(photographs.take, part, suffix)
            except BackbearingError as problem:
                return sentence(422, str(problem).replace(part.name, name))
        return JSONResponse(found)

    return [
        Route("/api/measure/ways", ways),
        Route("/api/measure", measure, methods=["POST"]),
        Route("/upload/photograph/{name}", take_photograph, methods=["POST"]),
    ]


class Photographs:
    """The last few photographs of this run, known to the page by words that mean nothing."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._known: dict[str, Path] = {}

    @property
    def folder(self) -> Path:
        """A folder of the run's own; it goes with the run."""
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="backbearing-desk-"))
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        return self._folder

    def take(self, part: Path, suffix: str) -> dict[str, Any]:
        """Keep a photograph that came, and say what it says of itself.

        Raises
        ------
        FrameError
            For what is no picture.
        """
        frame = read_exif(part)
        word = secrets.token_hex(8)
        place = self.folder / f"{word}{suffix}"
        part.rename(place)
        self._known[word] = place
        while len(self._known) > MOST_PHOTOGRAPHS:
            self._known.pop(next(iter(self._known))).unlink(missing_ok=True)
        known = {
            "focal_length_mm": frame.focal_length_mm,
            "focal_length_135_mm": frame.focal_length_135_mm,
        }
        return {
            "picture": word,
            "width_px": frame.width_px,
            "height_px": frame.height_px,
            **{key: value if math.isfinite(value) else None for key, value in known.items()},
        }

    def path(self, word: Any) -> str:
        """Where a photograph lies.

        Raises
        ------
        MeasureError
            For a word that stands for none.
        """
        if not isinstance(word, str) or word not in self._known:
            raise MeasureError("The photograph is not here any more", hint="choose it again")
        return str(self._known[word])


def _ways(what: What) -> dict[str, Any]:
    return {
        name: {"line": way.line, "asked": [asdict(one) for one in way.asked]}
        for name, way in WAYS[what].items()
    }


def _measured(desk: OpenOuting, photographs: Photographs, asked: dict[str, Any]) -> dict[str, Any]:
    """Measure by one way; raises one sentence where the readings give nothing."""
    what, way = text_in(asked, "what"), text_in(asked, "way")
    answers = asked.get("answers")
    if what not in MEASURED or not isinstance(answers, dict):
        raise MeasureError(f"{shown(what)} is not measured here", hint="load the page again")
    known = {key: value for key, value in answers.items() if value is not None}
    if "picture" in known:
        known["picture"] = photographs.path(known["picture"])
    outing = desk.outing.draft(checked_changes(asked.get("changes", {})))
    visit = measured(what, [(way, known)], outing)
    return {
        "says": _words(visit),
        "notes": [without_folders(note) for note in visit.result.notes],
        "care": VISIT,
        "changes": {
            section: {k: v.value if isinstance(v, Noted) else v for k, v in keys.items()}
            for section, keys in keys_of(visit).items()
        },
    }


def _words(visit: Visit) -> str:
    result = visit.result
    value, sigma = abs(getattr(result, "value_m", math.nan)), result.sigma_m
    return (
        f"{visit.what.capitalize()} {num(value, 2)} m, give or take {num(sigma, 2)} m; "
        f"by {result.way}."
    )
