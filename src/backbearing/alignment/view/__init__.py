"""What a lens will see: ground, bodies, light, stars and the Milky Way in its frame.

It knows of ``stand``. Begin with ``view.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
