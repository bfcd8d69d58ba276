"""What is answered: immutable values that every writer reads.

It knows of ``base``, of ``outing`` and of the values of sky and camera, and computes nothing that
needs terrain or sky. Begin with ``plan.py`` and ``stand.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
