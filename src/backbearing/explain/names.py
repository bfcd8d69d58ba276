"""Every name that can be explained, known before anything is computed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from backbearing.explain.lamp import LAMP_FACTS
from backbearing.explain.marks import MARK_FACTS
from backbearing.explain.nights import NIGHT_FACTS
from backbearing.explain.plan import LENS_FACTS, chosen, no_such
from backbearing.explain.session import SESSION_FACTS, TURN_FACTS
from backbearing.explain.tracker import TRACKER_FACTS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Part = Literal["lens", "session", "nights", "marks", "lamp", "tracker"]
"""What has to be computed for a name: lenses, all with the session, season, marks, lamp, mount."""

PARTS: Final[tuple[Part, ...]] = ("lens", "session", "nights", "marks", "lamp", "tracker")

WAYS: Final = ("approach", "home")
"""Walks that lead to no lens's stand."""


def part_of(name: str) -> Part:
    """Tell by its first word what a name is of."""
    first = name.split(".", maxsplit=1)[0]
    if first in {key.split(".")[0] for key in NIGHT_FACTS}:
        return "nights"
    if first == "marks":
        return "marks"
    if first == "lamp":
        return "lamp"
    if first == "tracker":
        return "tracker"
    if first in {"turn", *(key.split(".")[0] for key in SESSION_FACTS)}:
        return "session"
    return "lens"


def names_of(part: Part, labels: Sequence[str]) -> list[str]:
    """List the names that a part can have.

    Parameters
    ----------
    part : str
    labels : sequence of str
        The outing's lenses, such as ``85 mm``.
    """
    lenses = [label.replace(" ", "") for label in labels]
    if part == "nights":
        return list(NIGHT_FACTS)
    if part == "marks":
        return list(MARK_FACTS)
    if part == "lamp":
        return list(LAMP_FACTS)
    if part == "tracker":
        return list(TRACKER_FACTS)
    if part == "lens":
        return [f"{lens}.{key}" for lens in lenses for key in LENS_FACTS]
    return list(_of_session(lenses))


def _of_session(lenses: Sequence[str]) -> Iterator[str]:
    for name in SESSION_FACTS:
        first, _, key = name.partition(".")
        if first in {"session", "light"}:
            yield name
            continue
        for one in (*lenses, *WAYS) if first == "walk" else lenses:
            yield f"{first}.{one}.{key}"
    for lens in lenses:
        yield from (f"turn.{lens}.{key}" for key in TURN_FACTS)


def check_name(name: str, labels: Sequence[str]) -> None:
    """Refuse a name that no number of an outing with these lenses has.

    Raises
    ------
    NothingFoundError
        With the nearest names.
    """
    part = part_of(name)
    quantities = {
        "lens": LENS_FACTS,
        "session": SESSION_FACTS,
        "nights": NIGHT_FACTS,
        "marks": MARK_FACTS,
        "lamp": LAMP_FACTS,
        "tracker": TRACKER_FACTS,
    }[part]
    of_part = names_of(part, labels)
    if name.replace(" ", "") in quantities or chosen(of_part, name):
        return
    everything = [key for one in PARTS for key in names_of(one, labels)]
    raise no_such(name, [*everything, *LENS_FACTS])
