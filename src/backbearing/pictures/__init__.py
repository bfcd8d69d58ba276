"""Pictures of a plan: what each lens will see, the skyline, the season.

They know of the plan's values and of ``drawing``; what they draw was computed before. Begin with
``preview.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
