"""The page for the pocket and the skyline picture: writers that read a Plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.maps.page import page_html, write_page
    from backbearing.maps.panorama import draw_skyline, ridge_picture
    from backbearing.maps.preview import preview_sheet, side_by_side_sheet, write_sheet
    from backbearing.maps.preview_files import write_previews

__all__ = [
    "draw_skyline",
    "page_html",
    "preview_sheet",
    "ridge_picture",
    "side_by_side_sheet",
    "write_page",
    "write_previews",
    "write_sheet",
]

_HOMES = {
    "write_previews": "backbearing.maps.preview_files",
    "write_sheet": "backbearing.maps.preview",
    "side_by_side_sheet": "backbearing.maps.preview",
    "preview_sheet": "backbearing.maps.preview",
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
