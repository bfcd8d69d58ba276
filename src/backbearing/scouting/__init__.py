"""Scouting: from many candidates to the few that are worth the drive.

It knows of everything up to alignment, and works on arrays of candidates throughout. Begin with
``run/run.py``; files come in by ``reading/``, places are known by ``site/``, ``ranking/`` scores.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
