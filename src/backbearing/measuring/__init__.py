"""What a visit by day measures: heights, widths, places and the ground, each with its doubt.

Pure geometry: it knows of ``base``, ``camera`` and ``sky`` only, reads one kind of file (the track
of a receiver) and asks nobody. Begin with ``readings.py``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
