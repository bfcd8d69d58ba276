"""The browser that opens written pages, and plans with a twist."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from shapely.geometry import Point

from backbearing.plan.place import Place

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.terrain import Elevation

HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    "${alert(3)}",
    "`${alert(4)}`",
    "{{ 7 * 7 }} {% raw %}",
    "\u202egnp.tfel ot thgir\u202c",
    "שלום מגדל",
    "😀 mill 🏔️",
    "line\u2028separator",
    "-->]]>&lt;b&gt;&amp;",
    "\"quotes' and \\u003cslashes\\",
)


@pytest.fixture(scope="session")
def hostile_texts() -> tuple[str, ...]:
    """Names that would do harm in a page that let them."""
    return HOSTILE


@pytest.fixture(scope="session")
def hostile_plan(plan: Plan) -> Plan:
    """The sample's plan with every free text replaced by something unfriendly."""
    text = dict(enumerate(HOSTILE))
    lenses = tuple(
        replace(
            lens,
            sentence=text[i],
            lens=replace(lens.lens, name=text[i + 4]),
            stand=replace(lens.stand, cautions=(text[i], text[i + 1])) if lens.stand else None,
        )
        for i, lens in enumerate(plan.lenses)
    )
    session = plan.session
    assert session is not None
    renamed = {lens.lens.focal_length_mm: lens.lens for lens in lenses}
    shots = tuple(
        replace(
            shot,
            lens=renamed[shot.lens.focal_length_mm],
            stand=replace(shot.stand, cautions=(text[i], text[i + 1])),
            placing=replace(shot.placing, instructions=HOSTILE),
            late=tuple(replace(late, sentence=text[5]) for late in shot.late),
        )
        for i, shot in enumerate(session.shots)
    )
    lighting = session.lighting
    assert lighting is not None
    said = replace(
        session,
        shots=shots,
        sentence=text[0],
        cautions=HOSTILE,
        notes=HOSTILE,
        approach=replace(session.approach, start=text[1], cautions=HOSTILE),
        lighting=replace(
            lighting,
            notes=HOSTILE,
            blind=replace(lighting.blind, sentence=text[1]),
            side_lights=tuple(
                replace(side, side=text[0], sentence=text[2]) for side in lighting.side_lights
            ),
        ),
    )
    spot = Point(plan.subject.lon + 0.0004, plan.subject.lat - 0.0003)
    return replace(
        plan,
        name=text[0],
        subject=replace(plan.subject, name=text[1], kind=text[2]),
        target=replace(plan.target, name=text[3]),
        viewpoint_note=text[4],
        lenses=lenses,
        session=said,
        places=tuple(
            Place("note", name, HOSTILE[-1 - i], "unknown", Point(spot.x + i * 3e-4, spot.y))
            for i, name in enumerate(HOSTILE)
        ),
        events=tuple(replace(e, name=text[i % 9]) for i, e in enumerate(plan.events)),
        ground=replace(plan.ground, source=text[1], credit=text[0], crs=text[3]),
        cautions=HOSTILE,
        notes=HOSTILE,
        emergency_number=text[1],
        version=text[0],
    )


class Recorded:
    """A page in the browser, with everything noted that a good page never does."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.requests: list[str] = []
        self.complaints: list[str] = []
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(f"error: {error}"))
        page.on("dialog", self._dialog)
        page.on("request", self._request)

    def _console(self, message: Any) -> None:
        self.complaints.append(f"{message.type}: {message.text}")

    def _dialog(self, dialog: Any) -> None:
        self.complaints.append(f"dialog: {dialog.message}")
        dialog.dismiss()

    def _request(self, request: Any) -> None:
        if not request.url.startswith(("file:", "data:")):
            self.requests.append(request.url)

    def open(self, path: Path) -> None:
        self.page.goto(path.as_uri())
        self.page.wait_for_selector("html[data-ready=yes]", timeout=20_000, state="attached")


@pytest.fixture
def open_page(chromium: Any) -> Iterator[Any]:
    """Open a written page with the network cut; width and height in CSS pixels."""
    contexts = []

    def opened(path: Path, *, width: int = 1280, height: int = 800) -> Recorded:
        context = chromium.new_context(
            viewport={"width": width, "height": height}, offline=True, reduced_motion="reduce"
        )
        contexts.append(context)
        context.route(lambda url: not url.startswith(("file:", "data:")), lambda r: r.abort())
        recorded = Recorded(context.new_page())
        recorded.open(path)
        return recorded

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def written(plan: Plan, elevation: Elevation, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the made-up plan, on disk."""
    from backbearing.maps import write_page

    return write_page(plan, elevation, tmp_path_factory.mktemp("page") / "plan.html")
