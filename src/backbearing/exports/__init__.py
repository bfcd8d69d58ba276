"""The plan and the ranking in open formats; every writer here reads values and computes nothing.

It knows of ``plan`` and ``drawing``. Begin with ``formats.py``: a suffix leads to its writer.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
