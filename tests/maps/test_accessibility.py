"""The written page against axe-core (Deque Systems, MPL 2.0; tests only).

axe 4 comes inside the wheel of axe-playwright-python, so no network is needed. It checks
the machine-testable part of WCAG 2.2 A and AA and its own good practice; what it finds
serious or critical fails here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.terrain import Elevation

pytestmark = pytest.mark.browser

SCREENS = {"phone": (390, 844), "desk": (1280, 800)}


def look(page: Any) -> tuple[list[str], int]:
    """What axe finds serious or critical, a line each, and how many texts stood out enough."""
    from axe_playwright_python.sync_playwright import Axe

    answer = Axe().run(page, options={"resultTypes": ["violations", "passes"]}).response
    bad = [
        f"{found['id']} ({found['impact']}) {node['target']}: {node['html'][:160]} "
        f"{node.get('failureSummary', '')}"
        for found in answer["violations"]
        if found["impact"] in ("serious", "critical")
        for node in found["nodes"]
    ]
    legible = [len(rule["nodes"]) for rule in answer["passes"] if rule["id"] == "color-contrast"]
    return bad, sum(legible)


def unroll(page: Any) -> None:
    """Open every fact and make the window so tall that none of them is scrolled away.

    axe judges the contrast of what is on the screen only.
    """
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    if page.get_attribute("#sheet-button", "aria-expanded") == "false":
        page.evaluate("document.querySelector('#sheet-button').click()")
    width = page.viewport_size["width"]
    hidden = "(f => f.scrollHeight - f.clientHeight)(document.querySelector('#facts'))"
    for _ in range(4):
        missing = page.evaluate(hidden)
        if missing <= 1:
            return
        tall = page.viewport_size["height"] + missing + 50
        page.set_viewport_size({"width": width, "height": tall})
    raise AssertionError("the facts do not fit on any screen")


@pytest.fixture
def opened(open_page: Callable[..., Any]) -> Callable[..., Any]:
    def page(path: Path, screen: str, theme: str) -> Any:
        width, height = SCREENS[screen]
        made = open_page(path, width=width, height=height).page
        if theme == "night":
            made.click("#theme-button")
        return made

    return page


@pytest.mark.parametrize("theme", ["day", "night"])
@pytest.mark.parametrize("screen", SCREENS)
def test_axe_finds_nothing_serious_on_the_screen(
    opened: Callable[..., Any], written: Path, screen: str, theme: str
) -> None:
    page = opened(written, screen, theme)
    assert look(page)[0] == []
    page.click("#key-button")
    assert look(page)[0] == []
    page.keyboard.press("Escape")
    page.click('[data-open="1"]')
    assert look(page)[0] == []


@pytest.mark.parametrize("theme", ["day", "night"])
@pytest.mark.parametrize("screen", SCREENS)
def test_axe_finds_nothing_serious_in_all_the_facts(
    opened: Callable[..., Any], written: Path, screen: str, theme: str
) -> None:
    page = opened(written, screen, theme)
    unroll(page)
    bad, legible = look(page)
    assert bad == []
    assert legible > 200, "axe saw only part of the page"


def test_axe_finds_nothing_serious_in_a_hostile_page(
    opened: Callable[..., Any], tmp_path: Path, hostile_plan: Plan, elevation: Elevation
) -> None:
    from backbearing.maps import write_page

    page = opened(write_page(hostile_plan, elevation, tmp_path / "hostile.html"), "desk", "day")
    unroll(page)
    assert look(page)[0] == []


@pytest.mark.parametrize("theme", ["day", "night"])
def test_axe_would_find_something(opened: Callable[..., Any], written: Path, theme: str) -> None:
    """The check can fail: a nameless button, and pale text at the very end, are found."""
    page = opened(written, "phone", theme)
    unroll(page)
    page.evaluate(
        """() => { const b = document.createElement('button');
        const p = document.createElement('p'); p.textContent = 'pale'; p.style.color = '#ddd';
        p.style.background = '#fff'; document.querySelector('#facts').append(b, p); }"""
    )
    unroll(page)
    found = " ".join(look(page)[0])
    assert "button-name" in found
    assert "color-contrast" in found
