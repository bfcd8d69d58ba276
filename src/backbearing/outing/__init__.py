"""What is asked: the outing file, read, checked and frozen.

It knows of ``base`` and of the values of terrain, sky and camera. Begin with ``schema.py`` (the
keys), ``sections.py`` and ``request.py`` (the values they become); ``load.py`` joins them.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
