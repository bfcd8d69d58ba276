"""The desk's own page, style and modules, as they lie in the package."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Final

SCRIPTS: Final = (
    *("desk", "ask", "night", "profile", "ground", "frames", "paint", "hold", "season"),
    *("turns", "from_there", "theme", "ridge"),
    *("layers", "candidates"),
    *("first_steps", "first_map", "upload", "another", "subject", "measure", "photograph"),
    *("beside", "ground_choice", "other_ground"),
)
STYLES: Final = ("layers", "candidates", "subject", "first")


@cache
def page() -> str:
    """Give the one page."""
    return _read("desk.html")


@cache
def first_page() -> str:
    """Give the sheet that is shown while no outing is open."""
    return _read("first.html")


@cache
def style() -> str:
    """Give its style sheet."""
    return _read("desk.css")


def style_of(name: str) -> str | None:
    """Give the style sheet of one of the page's parts; None where there is no such one."""
    return _read(f"{name}.css") if name in STYLES else None


def script(name: str) -> str | None:
    """Give one of the page's modules; None where there is no such one."""
    return _read(f"{name}.js") if name in SCRIPTS else None


@cache
def _read(name: str) -> str:
    return (files("backbearing.desk") / "assets" / name).read_text(encoding="utf-8")
