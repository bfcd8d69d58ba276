"""The browser that opens written pages, and plans with a twist."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.terrain import Elevation


NOON = "2027-01-15T17:00:00Z"
"""By day at the made-up places of North America, on a day before their nights."""


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
        # By day, whenever the tests run: a page opened after dusk is red.
        recorded.page.clock.install(time=NOON)
        recorded.open(path)
        return recorded

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def south(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Elevation]:
    """A plan on an invented hill at 31 S, where the core passes near the zenith."""
    import datetime as dt

    from backbearing.alignment import plan_night
    from backbearing.alignment.night.from_outing import open_elevation
    from invented import hill, write_outing

    asked = write_outing(
        tmp_path_factory.mktemp("south"), lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 10),
        ground=hill(60.0, 700.0), lenses=(16.0, 24.0, 85.0),
        subject={"name": "Chapel gable", "height_m": 7.0, "width_m": 3.0},
        night={"time_zone": "Australia/Sydney", "moon": "any"},
        session={"not_before": "22:00", "not_after": "03:30", "frames_minutes": 6},
    )  # fmt: skip
    ground = open_elevation(asked)
    return plan_night(asked, ground), ground


@pytest.fixture(scope="session")
def written(plan: Plan, elevation: Elevation, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the made-up plan, on disk."""
    from backbearing.maps import write_page

    return write_page(plan, elevation, tmp_path_factory.mktemp("page") / "plan.html")
