"""The written page against axe-core (Deque Systems, MPL 2.0; tests only).

axe 4 comes inside the wheel of axe-playwright-python, so no network is needed. It checks
the machine-testable part of WCAG 2.2 A and AA and its own good practice; what it finds
serious or critical fails here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from axe_look import look, unroll

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.terrain import Elevation

pytestmark = pytest.mark.browser

SCREENS = {"phone": (390, 844), "desk": (1280, 800)}


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
