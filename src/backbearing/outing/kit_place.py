"""Where the kit lies, told without reading it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final

from backbearing.base.input_files import checked_path

if TYPE_CHECKING:
    from pathlib import Path

KIT_VARIABLE: Final = "BACKBEARING_KIT"
"""The environment variable that names another kit file than the usual one."""


def kit_file(named: str | Path | None = None) -> Path:
    """Find where the kit lies: as named, as the environment says, or in the user's own folder."""
    chosen = named or os.environ.get(KIT_VARIABLE)
    if chosen:
        return checked_path(chosen)
    from platformdirs import user_config_path

    return user_config_path("backbearing", appauthor=False) / "kit.toml"
