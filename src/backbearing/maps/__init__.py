"""The interactive HTML pages: the night for the pocket, the area, the scouting map.

They know of the values in ``plan`` and of ``drawing``, and compute no astronomy and no terrain.
Begin with ``night_page.py``; what it shows is gathered in ``layers.py`` and ``page_text.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

_MOVED = {
    "draw_skyline": "backbearing.pictures",
    "preview_sheet": "backbearing.pictures",
    "ridge_picture": "backbearing.pictures",
    "side_by_side_sheet": "backbearing.pictures",
    "write_previews": "backbearing.pictures",
    "write_sheet": "backbearing.pictures",
}

__getattr__, __dir__ = lazy_names(__name__, __file__, moved=_MOVED)
