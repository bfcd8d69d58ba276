"""Compiled code, kept where the user may write, and a word while it is being compiled.

numba keeps what it compiled beside the source or in the user's cache folder, and refuses to compile
at all where it may write in neither. A read-only install of a user without a home still runs here:
its code is kept in a folder of the user's own among the temporary files, or not at all.
"""

from __future__ import annotations

import os
import stat
import tempfile
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

_Function = TypeVar("_Function", bound="Callable[..., Any]")

SAYING: Final = "preparing the terrain code, once"

_listeners: Final[list[Callable[[str], None]]] = []
"""Who wants to hear that code is being compiled; each is told once."""

_watched: Final[list[Any]] = []


def when_compiling(tell: Callable[[str], None]) -> None:
    """Have a sentence told when code is compiled for the first time; numba is not loaded for it."""
    _listeners.append(tell)


def kept(compiler: Callable[..., Any], **options: Any) -> Callable[[Any], Any]:
    """Give a decorator that compiles a function and keeps its code where that is possible.

    Parameters
    ----------
    compiler : callable
        ``numba.njit``.
    **options
        Passed on to it.
    """
    _watch()

    def decorate(function: Any) -> Any:
        try:
            return compiler(cache=True, **options)(function)
        except RuntimeError:  # numba found no folder that it may write in
            return _kept_elsewhere(compiler, function, options)

    return decorate


def inner(compiler: Callable[..., Any], **options: Any) -> Callable[[_Function], _Function]:
    """Give a decorator for what only compiled code calls: kept with its callers, not by itself.

    It has no ways in from Python, whose compiling takes longer than a small function's own.
    """
    decorate: Callable[[_Function], _Function] = compiler(
        no_cpython_wrapper=True, no_cfunc_wrapper=True, **options
    )
    return decorate


def _kept_elsewhere(compiler: Callable[..., Any], function: Any, options: dict[str, Any]) -> Any:
    config: Any = import_module("numba.core.config")

    folder = own_folder()
    if folder is not None:
        config.CACHE_DIR = str(folder)
        try:
            return compiler(cache=True, **options)(function)
        except RuntimeError:
            config.CACHE_DIR = ""
    return compiler(**options)(function)


def own_folder() -> Path | None:
    """Find or make a folder among the temporary files in which nobody else may write.

    What is kept is run when it is read again, so another's folder of this name is not used.
    """
    if not hasattr(os, "getuid"):
        return None
    try:
        folder = Path(tempfile.gettempdir()) / f"backbearing-{os.getuid()}"
        folder.mkdir(mode=0o700, exist_ok=True)
        about = folder.lstat()
    except OSError:
        return None
    ours = stat.S_ISDIR(about.st_mode) and about.st_uid == os.getuid()
    return folder if ours and not about.st_mode & 0o077 else None


def _watch() -> None:
    """Listen for the first function that is compiled rather than read."""
    if _watched:
        return
    event: Any = import_module("numba.core.event")

    class Watch(event.Listener):  # type: ignore[misc]  # numba has no types
        def on_start(self, _: Any) -> None:
            while _listeners:
                _listeners.pop()(SAYING)

        def on_end(self, _: Any) -> None:
            pass

    _watched.append(Watch())
    event.register("numba:compile", _watched[0])
