"""The version, for whatever names it in its files."""

from __future__ import annotations

__version__ = "0.1.0"
