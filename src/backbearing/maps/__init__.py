"""The page for the pocket and the skyline picture: writers that read a Plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.maps.page import page_html, write_page
    from backbearing.maps.panorama import draw_skyline, ridge_picture

__all__ = ["draw_skyline", "page_html", "ridge_picture", "write_page"]

_HOMES = {
    "draw_skyline": "backbearing.maps.panorama",
    "page_html": "backbearing.maps.page",
    "ridge_picture": "backbearing.maps.panorama",
    "write_page": "backbearing.maps.page",
}


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
