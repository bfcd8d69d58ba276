"""Which nights to take: the rule alone, on a table of good minutes.

For each lens good minutes count until it has had enough of them on the chosen nights together,
so that a further night goes to who lacks something. The guide (``docs/year.md``) says it in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.intp]

LEAST_GAIN_MINUTES: Final = 1.0
"""What is lacking and gives less than this to a night, minutes a lens in all, is nothing."""

_EQUAL_PLACES: Final = 6
"""Minutes that agree to so many places are equal."""


class Chosen(NamedTuple):
    """One chosen night.

    ``night`` is its number; ``counted`` what each subject gave, minutes a lens; ``equals`` the
    nights that counted as much; ``instead_of`` the night that one to spare stands in for.
    """

    night: int
    counted: Floats
    equals: tuple[int, ...]
    instead_of: int | None = None


class Choice(NamedTuple):
    """The nights chosen, in order, and those to spare."""

    best: tuple[Chosen, ...]
    spare: tuple[Chosen, ...]


@dataclass(frozen=True)
class MinuteTable:
    """Good minutes of every night and lens of all subjects.

    Attributes
    ----------
    minutes : ndarray, shape (nights, lenses)
        Lenses of all subjects in turn.
    owner : ndarray of int, shape (lenses,)
        Whose lens each is, from 0 and rising.
    """

    minutes: Floats
    owner: Ints

    @property
    def subjects(self) -> int:
        """How many."""
        return int(self.owner[-1]) + 1 if self.owner.size else 0

    def counted(self, lacking: Floats) -> Floats:
        """What every night gives of what lenses lack, minutes a lens, (nights, subjects)."""
        given = np.minimum(self.minutes, lacking)
        share = 1.0 / np.bincount(self.owner, minlength=self.subjects)
        one_of = (self.owner[:, None] == np.arange(self.subjects)).astype(np.float64)
        return np.asarray(given @ (one_of * share))

    def after(self, lacking: Floats, night: int, given: Flags) -> Floats:
        """What lenses lack after a night at the given subjects, shape (lenses,)."""
        taken = np.where(given[self.owner], self.minutes[night], 0.0)
        return np.maximum(lacking - taken, 0.0)


def choose_nights(
    table: MinuteTable, *, count: int, enough_minutes: float, one_subject: bool = False
) -> Choice:
    """Choose nights one after another, and for each another to spare.

    1. A lens lacks ``enough_minutes`` to begin with. A night counts for a lens its good minutes,
       but no more than the lens lacks; for a subject the mean over its lenses; and in all the sum
       over the subjects (with ``one_subject`` the subject that it helps most).
    2. The night that counts most is taken. Of equals the one with more good minutes of all
       lenses together, then the earlier. What it gives is no longer lacking.
    3. Where no night counts a minute any more, all lenses lack everything again.
    4. The night to spare for a chosen one is what step 2 would have taken in its place.

    Parameters
    ----------
    table : MinuteTable
        With the minutes of subjects that do not count on a night set to 0.
    count : int
        So many nights at most; fewer where fewer have a good minute.
    enough_minutes : float
    one_subject : bool
    """
    lenses = table.minutes.shape[1]
    full = np.full(lenses, float(enough_minutes))
    lacking, free = full, table.minutes.sum(axis=1) > 0.0
    best: list[Chosen] = []
    before: list[Floats] = []
    while len(best) < count and free.any():
        taken = _most(table, lacking, free, one_subject=one_subject)
        if taken is None or taken.counted.sum() < LEAST_GAIN_MINUTES:
            lacking = full
            taken = _most(table, lacking, free, one_subject=one_subject)
        if taken is None:
            break
        best.append(taken)
        before.append(lacking)
        free = free & (np.arange(len(free)) != taken.night)
        lacking = table.after(lacking, taken.night, taken.counted > 0.0)
    spare: list[Chosen] = []
    for one, then in zip(best, before, strict=True):
        other = _most(table, then, free, one_subject=one_subject)
        if other is None or other.counted.sum() < LEAST_GAIN_MINUTES:
            other = _most(table, full, free, one_subject=one_subject)
        if other is not None:
            spare.append(other._replace(instead_of=one.night))
            free = free & (np.arange(len(free)) != other.night)
    return Choice(tuple(best), tuple(spare))


def _most(table: MinuteTable, lacking: Floats, free: Flags, *, one_subject: bool) -> Chosen | None:
    """The free night that counts most; None where none counts."""
    counted = table.counted(lacking)
    if one_subject and counted.size:
        first = counted.argmax(axis=1)
        counted = np.where(np.arange(table.subjects) == first[:, None], counted, 0.0)
    total = np.where(free, counted.sum(axis=1), -1.0).round(_EQUAL_PLACES)
    if not total.size or total.max() <= 0.0:
        return None
    equal = np.flatnonzero(total == total.max())
    good = table.minutes[equal].sum(axis=1).round(_EQUAL_PLACES)
    order = equal[np.lexsort((equal, -good))]
    return Chosen(int(order[0]), counted[order[0]], tuple(sorted(order[1:].tolist())))
