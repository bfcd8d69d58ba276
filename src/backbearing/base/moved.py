"""Modules that moved and were named in the documentation: the old names go on working."""

from __future__ import annotations

import sys
import warnings
from importlib import import_module
from importlib.abc import Loader
from importlib.machinery import ModuleSpec
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence
    from types import ModuleType

MOVED: Final = {
    "backbearing.alignment.crossing": "backbearing.plan.crossing",
    "backbearing.alignment.plan": "backbearing.plan.plan",
    "backbearing.alignment.season_plan": "backbearing.plan.season",
    "backbearing.alignment.session_plan": "backbearing.plan.session",
    "backbearing.comparison": "backbearing.plan.comparison",
    "backbearing.errors": "backbearing.base.errors",
    "backbearing.maps.season": "backbearing.pictures.season_picture",
    "backbearing.places": "backbearing.land.places",
}
"""Documented in version 0.1, with where they live now."""


class _Redirect(Loader):
    """Finds a moved module under its old name, with a ``DeprecationWarning``."""

    def find_spec(
        self, name: str, _path: Sequence[str] | None = None, _target: ModuleType | None = None
    ) -> ModuleSpec | None:
        return ModuleSpec(name, self) if name in MOVED else None

    def create_module(self, _spec: ModuleSpec) -> None:
        """Leave the making of an empty module to Python."""

    def exec_module(self, module: ModuleType) -> None:
        """Put the module of the new name in the place of the empty one."""
        home = MOVED[module.__name__]
        warnings.warn(f"{module.__name__} is now {home}", DeprecationWarning, stacklevel=3)
        sys.modules[module.__name__] = import_module(home)


def redirect_moved_modules() -> None:
    """Let the old names be imported; asked twice, it does nothing more."""
    if not any(isinstance(finder, _Redirect) for finder in sys.meta_path):
        sys.meta_path.append(_Redirect())
