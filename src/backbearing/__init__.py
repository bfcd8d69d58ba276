"""Settle a nightscape before the drive: stands, minutes, skyline and framing.

The public names load on first use, from the rooms they live in. Begin with ``outing`` (what is
asked), ``alignment`` (how it is settled) and ``plan`` (what is answered).
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names
from backbearing.base.moved import redirect_moved_modules
from backbearing.base.version import __version__ as __version__

__getattr__, __dir__ = lazy_names(__name__, __file__)
redirect_moved_modules()
