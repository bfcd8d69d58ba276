"""Cameras, lenses and what they make of a direction: framing, trailing, focus.

It knows of ``base`` only; not of terrain, not of the sky. Begin with ``bodies_and_lenses.py`` and
``projection.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
