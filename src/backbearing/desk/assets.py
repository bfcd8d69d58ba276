"""The desk's own page, style and modules, as they lie in the package."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Final

SCRIPTS: Final = (
    *("desk", "ask", "night", "profile", "ground", "frames", "season"),
    *("first_steps", "first_map", "upload", "another", "subject", "measure", "photograph"),
)


@cache
def page() -> str:
    """Give the one page."""
    return _read("desk.html")


@cache
def first_page() -> str:
    """Give the sheet that is shown while no outing is open."""
    return _read("first.html")


@cache
def first_style() -> str:
    """Give its own style, on top of the page's."""
    return _read("first.css")


@cache
def subject_style() -> str:
    """Give the style of what the subject is and the bag holds."""
    return _read("subject.css")


@cache
def style() -> str:
    """Give its style sheet."""
    return _read("desk.css")


def script(name: str) -> str | None:
    """Give one of the page's modules; None where there is no such one."""
    return _read(f"{name}.js") if name in SCRIPTS else None


@cache
def _read(name: str) -> str:
    return (files("backbearing.desk") / "assets" / name).read_text(encoding="utf-8")
