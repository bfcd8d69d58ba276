"""What a worker opens once for all parcels of a job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, TypeVar, cast

if TYPE_CHECKING:
    from collections.abc import Callable

_T = TypeVar("_T")

_opened: Final[dict[str, Any]] = {}
"""By the job's digest; one job at a time is held."""


def opened_once(digest: str, opener: Callable[[], _T]) -> _T:
    """Give what the job of this digest has opened in this process, opening it at first.

    What another job had opened is let go before.
    """
    if digest not in _opened:
        _opened.clear()
        _opened[digest] = opener()
    return cast("_T", _opened[digest])


def let_go(digest: str) -> Any:
    """Forget what the job of this digest has opened in this process, and give it; else None."""
    return _opened.pop(digest, None)
