"""Settle a nightscape before the drive: stands, minutes, skyline and framing."""

from __future__ import annotations

__version__ = "0.1.0"
