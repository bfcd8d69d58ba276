"""The sheet: one or two printed pages of a plan, as PDF and as HTML."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.sheet.page import sheet_html
    from backbearing.sheet.pdf import sheet_pdf
    from backbearing.sheet.writing import write_sheet

__all__ = ["sheet_html", "sheet_pdf", "write_sheet"]

_HOMES = {
    "sheet_html": "backbearing.sheet.page",
    "sheet_pdf": "backbearing.sheet.pdf",
    "write_sheet": "backbearing.sheet.writing",
}


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
