"""Names that load on first use, so that importing a package costs nothing.

A package's public names stand once, in the ``__init__.pyi`` beside its ``__init__.py``: type
checkers read it, and so does :func:`lazy_names`. A stub loader from a package index serves only
names of the package itself; ours also come from other rooms.
"""

from __future__ import annotations

import ast
import warnings
from importlib import import_module
from importlib.util import resolve_name
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from types import ModuleType


def lazy_names(
    package: str, file: str, *, moved: Mapping[str, str] | None = None
) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """Return the ``__getattr__`` and ``__dir__`` of a package.

    Parameters
    ----------
    package, file : str
        The package's ``__name__`` and ``__file__``.
    moved : mapping, optional
        Names that live in another package now; they work, with a ``DeprecationWarning``.
    """
    homes: dict[str, str] = {}
    elsewhere = moved or {}

    def public() -> dict[str, str]:
        if not homes:
            homes.update(_homes(package, Path(file).with_suffix(".pyi")))
        return homes

    def get(name: str) -> Any:
        if name == "__all__":
            return sorted(public())
        if name in elsewhere:
            home = elsewhere[name]
            message = f"{package}.{name} is now {home}.{name}"
            warnings.warn(message, DeprecationWarning, stacklevel=2)
            return getattr(import_module(home), name)
        if name.startswith("__") or name not in public():
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(homes[name]), name)

    def listed() -> list[str]:
        return sorted(public())

    return get, listed


def public_homes(package: ModuleType) -> dict[str, str]:
    """Return the module that each public name of a package comes from, as its stub says."""
    return _homes(package.__name__, Path(str(package.__file__)).with_suffix(".pyi"))


class Later:
    """A module that loads on the first use of one of its names.

    For what a command needs only when it is asked for more. Import the module itself for the type
    checker, so that it knows the names and the law of the rooms sees the arrow::

        if TYPE_CHECKING:
            from backbearing.workflows import write_all
        else:
            write_all = Later("backbearing.workflows.write_all")
    """

    def __init__(self, module: str) -> None:
        self._module = module

    def __getattr__(self, name: str) -> Any:
        return getattr(import_module(self._module), name)


def _homes(package: str, stub: Path) -> dict[str, str]:
    """Read which module each name of a stub comes from."""
    homes = {}
    for node in ast.parse(stub.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ImportFrom) and node.level:
            home = resolve_name("." * node.level + (node.module or ""), package)
            homes.update({alias.name: home for alias in node.names})
    return homes
