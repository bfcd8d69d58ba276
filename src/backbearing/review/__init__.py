"""After the night: frames set beside the plan, and the star trails in them measured.

It knows of sky, camera and alignment, and of the plan's values. Begin with ``night.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
