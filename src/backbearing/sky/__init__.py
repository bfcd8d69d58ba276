"""The sky: where a target stands, when it is dark, what the clock and compass say.

It knows of ``base`` only; not of terrain, not of cameras. Begin with ``directions.py`` and
``darkness.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
