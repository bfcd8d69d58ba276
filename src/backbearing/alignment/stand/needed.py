"""What of a plan is wanted: one number needs less than a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Needed:
    """Parts of a plan that are worked out; what is left out stays empty, the rest is the same.

    Attributes
    ----------
    skyline : bool
        The skyline all round.
    surroundings : bool
        What is said of the ground and land about stands, and the stands of those who are late.
    light : bool
        Lights of a session, hidden and beside the subject, and how bright a lamp.
    one_line : bool
        One line for several lenses.
    choice : bool
        Other starts of a session's turns, and what its order costs.
    """

    skyline: bool = True
    surroundings: bool = True
    light: bool = True
    one_line: bool = True
    choice: bool = True


EVERYTHING: Final = Needed()
ONLY_STANDS: Final = Needed(
    skyline=False, surroundings=False, light=False, one_line=False, choice=False
)
"""Stands, turns and walks with their numbers, and nothing that is said about them."""
