"""Where terrain, sky and camera meet: stands, the minutes that work, and the plan.

It knows of what is asked (``outing``), of the values of the answer (``plan``), of ``land`` and of
everything that terrain, sky and camera compute; no writer calls it. Begin with
``stand/solve.py`` (how far the tripod stands) and go on to ``night/prepared_night.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
