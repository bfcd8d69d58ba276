"""Where something holds: stretches of flags, pieces between changes, and ends closed in on.

Everything takes many brackets at once. Places are numbers or ``datetime64``, as one array.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Places = NDArray[Any]
    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

_MOST_STEPS = 24


class Stretches(NamedTuple):
    """First and last index of each unbroken run, shape (k,) each."""

    first: NDArray[np.intp]
    last: NDArray[np.intp]


class Pieces(NamedTuple):
    """Neighbouring pieces and a place inside each, shape (k,) each."""

    start: Places
    end: Places
    middle: Places


def stretches(holds: Flags, joined: Flags | None = None) -> Stretches:
    """Find the unbroken runs of true among flags.

    Parameters
    ----------
    holds : ndarray of bool, shape (n,)
    joined : ndarray of bool, shape (n - 1,), optional
        Whether a run may lead from each place to the next; over all of them when not given.

    Examples
    --------
    >>> first, last = stretches(np.array([True, True, False, True]))
    >>> first.tolist(), last.tolist()
    ([0, 3], [1, 3])
    """
    goes_on = holds[1:] & holds[:-1]
    if joined is not None:
        goes_on = goes_on & joined
    nothing = np.zeros(min(holds.size, 1), dtype=np.bool_)
    first = holds & ~np.concatenate([nothing, goes_on])
    last = holds & ~np.concatenate([goes_on, nothing])
    return Stretches(np.flatnonzero(first), np.flatnonzero(last))


def pieces(ends: Places, *changes: Places) -> Pieces:
    """Cut what lies between ends at every change.

    Parameters
    ----------
    ends : ndarray, shape (m,)
        Rising; what is cut reaches from the first to the last, and is cut at each of them.
    *changes : ndarray
        Places at which something begins or ends to hold, in any order; those outside do not
        count, and equal ones count once.
    """
    inside = [c[(c > ends[0]) & (c < ends[-1])] for c in changes]
    cuts = np.unique(np.concatenate([ends, *inside]))
    return Pieces(cuts[:-1], cuts[1:], _middle(cuts[:-1], cuts[1:]))


def closest_that_holds(
    holds: Callable[[Places], Flags],
    inside: Places,
    outside: Places,
    *,
    halvings: int,
    at_once: int = 1,
) -> Places:
    """Move places where something holds towards the nearest where it does not.

    Parameters
    ----------
    holds : callable
        From places, shape (n,), to flags of that shape.
    inside, outside : ndarray, shape (n,)
        Where it holds, and where it does not; either may be the larger. What is asked is asked
        of their middles, all together.
    halvings : int
        How often each bracket is halved.
    at_once : int, optional
        So many halvings in one question, ``2 ** at_once - 1`` places of each bracket: fewer and
        larger questions, where asking costs more than answering.

    Returns
    -------
    ndarray, shape (n,)
        Places where it holds, within ``2 ** -halvings`` of the bracket from where it does not;
        ``inside`` itself where the two were equal.
    """
    if not inside.size:
        return inside
    left = halvings
    while left > 0:
        cuts = 2 ** min(left, at_once)
        share = np.arange(1, cuts)
        trial = (
            inside[:, None] + (outside - inside)[:, None] * share // cuts
            if (inside.dtype.kind == "M")
            else inside[:, None] + (outside - inside)[:, None] * (share / cuts)
        )
        good = holds(trial.ravel()).reshape(trial.shape)
        # From inside outwards: the last that holds before the first that does not.
        held = np.logical_and.accumulate(good, axis=1).sum(axis=1)
        ends = np.concatenate([inside[:, None], trial, outside[:, None]], axis=1)
        row = np.arange(len(inside))
        inside, outside = ends[row, held], ends[row, held + 1]
        left -= at_once
    return inside


def zeros(
    f: Callable[[Floats], Floats],
    low: Floats,
    high: Floats,
    f_low: Floats,
    f_high: Floats,
    *,
    near: Floats,
) -> Floats:
    """Find where a smooth function is zero within brackets, by Ridders' rule [Ridders1979]_.

    Parameters
    ----------
    f : callable
        From places, shape (n,), to values of that shape.
    low, high, f_low, f_high : ndarray, shape (n,)
        Brackets and the values at their ends, of unlike sign.
    near : ndarray, shape (n,)
        A step shorter than this ends the search, once all are.
    """
    a, b, fa, fb, best = low, high, f_low, f_high, low
    for _ in range(_MOST_STEPS):
        middle = 0.5 * (a + b)
        f_middle = f(middle)
        root = np.sqrt(np.maximum(f_middle * f_middle - fa * fb, 1e-300))
        step = (middle - a) * np.sign(fa - fb) * f_middle / root
        last, best = best, np.clip(middle + step, a, b)
        if np.all(np.abs(best - last) < near):
            break
        f_best = f(best)
        for x, fx in ((middle, f_middle), (best, f_best)):
            within = (x > a) & (x < b)
            lower = within & ((fx >= 0.0) == (fa >= 0.0))
            upper = within & ~lower
            a, fa = np.where(lower, x, a), np.where(lower, fx, fa)
            b, fb = np.where(upper, x, b), np.where(upper, fx, fb)
    return best


def _middle(start: Places, end: Places) -> Places:
    half = (end - start) // 2 if start.dtype.kind == "M" else (end - start) / 2
    return np.asarray(start + half)
