"""The sheet: one or two printed pages of a plan, as PDF and as HTML.

It knows of the plan's values and of ``drawing``. Begin with ``content.py`` (its words, once) and
``story.py`` (their order); ``pdf.py`` and ``page.py`` set the same sheet twice.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
