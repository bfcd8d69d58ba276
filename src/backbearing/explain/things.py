"""The numbers of a ranking, a review or a year: a name finds its thing, its fact and its value."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.references import REFERENCES
from backbearing.explain.frames import (
    CORNER_FACTS,
    FRAME_FACTS,
    REVIEW_FACTS,
    numbered,
)
from backbearing.explain.plan import Explanation, no_such
from backbearing.explain.sites import LENS_FACTS_OF_SITE, SITE_FACTS
from backbearing.explain.years import (
    LENS_FACTS_OF_YEAR,
    NIGHT_FACTS_OF_YEAR,
    SUBJECT_FACTS_OF_YEAR,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from backbearing.explain.plan import Fact

CORNER: Final = "stars.skyline.corner"
"""What a corner of the land's edge is called, without its number."""

MOST_LABELS: Final = 5000
"""Labels among which a misspelt one's nearest is looked for."""


@dataclass(frozen=True, slots=True)
class Thing:
    """A site of a ranking, a frame of a review or the review itself, or a part of a year's night.

    Attributes
    ----------
    label : str
        What its numbers' names begin with, such as ``1``.
    called : tuple of str
        What else it may be called: its name and number in its file.
    said : str
        What a person calls it, with why it has no rank where it has none.
    facts : mapping of str to Fact
    values : mapping of str
        Of the facts and of their inputs; what the file does not carry is left out.
    """

    label: str
    called: tuple[str, ...]
    said: str
    facts: Mapping[str, Fact]
    values: Mapping[str, Any]

    def explained(self, keys: Sequence[str] | None = None) -> list[Explanation]:
        """Explain some of its numbers, or all."""
        return [self._one(key) for key in (self.facts if keys is None else keys)]

    def _one(self, key: str) -> Explanation:
        fact = self.facts[key]
        return Explanation(
            name=f"{self.label}.{key}",
            value=self.values.get(key),
            unit=fact.unit,
            meaning=fact.meaning,
            formula=fact.formula,
            inputs={name: self.values.get(name) for name in fact.inputs},
            sources=tuple(REFERENCES[source] for source in fact.sources),
            sure=fact.sure,
        )

    def lacks(self, keys: Sequence[str]) -> bool:
        """Whether its file does not carry something that these numbers are made of."""
        named = (name for key in keys for name in (key, *self.facts[key].inputs))
        return any(name not in self.values for name in named)


def named(things: Sequence[Thing], name: str) -> list[tuple[Thing, list[str]]]:
    """Find what a name means: a thing, a number of a thing, or a number of all things.

    Raises
    ------
    NothingFoundError
        When nothing has that name; the message lists the nearest ones.
    """
    wanted = _bare(name)
    # Several things may have one name, none the label of another.
    ways: tuple[Callable[[Thing], list[str]], ...] = (
        lambda thing: _of_thing(thing, (thing.label,), wanted),
        lambda thing: _of_thing(thing, thing.called, wanted),
        lambda thing: _keys(thing, wanted),
    )
    for way in ways:
        found = [(thing, keys) for thing in things if (keys := way(thing))]
        if found:
            return found
    raise no_such(name, _near(things, wanted))


def _of_thing(thing: Thing, labels: Sequence[str], wanted: str) -> list[str]:
    """What of a thing is meant, when a name begins with one of its own."""
    for bare in map(_bare, labels):
        if wanted == bare:
            return list(thing.facts)
        if wanted.startswith(f"{bare}.") and (keys := _keys(thing, wanted[len(bare) + 1 :])):
            return keys
    return []


def _keys(thing: Thing, wanted: str) -> list[str]:
    """A number of a thing by its whole name, else all below a part of it."""
    whole = [key for key in thing.facts if _bare(key) == wanted]
    return whole or [key for key in thing.facts if _bare(key).startswith(f"{wanted}.")]


def _near(things: Sequence[Thing], wanted: str) -> list[str]:
    """Names that there are, of the kind that was meant: of one thing where that is known."""
    quantities = list(dict.fromkeys(key for thing in things[:MOST_LABELS] for key in thing.facts))
    for thing in things:
        for label in (thing.label, *thing.called):
            if wanted.startswith(f"{_bare(label)}."):
                return [f"{label}.{key}" for key in thing.facts]
    first, dot, rest = wanted.rpartition(".")
    labels = {
        _bare(label): label
        for thing in islice(things, MOST_LABELS)
        for label in (thing.label, *thing.called)
    }
    near = [labels[one] for one in difflib.get_close_matches(first or rest, labels, n=3)]
    if not dot:
        return [*quantities, *near]
    keys = difflib.get_close_matches(rest, quantities, n=2, cutoff=0.4) or quantities[:2]
    return [*quantities, *(f"{label}.{key}" for label in near for key in keys)]


def _bare(name: str) -> str:
    return "".join(name.split()).casefold()


def sites_of(document: Mapping[str, Any]) -> list[Thing]:
    """Take the sites of a ranking's document, in its order."""
    shared = {
        key: value
        for key, value in document.items()
        if key in ("first_night", "nights", "zone") and value is not None
    }
    asked = dict(document.get("asked") or {})
    # Part of a ranking read back from a folder does not carry it.
    shared |= asked if any(value not in (None, "") for value in asked.values()) else {}
    shared |= {f"weight_{key}": value for key, value in (document.get("weights") or {}).items()}
    lenses = tuple(document.get("lens_names") or ())
    return [
        _site(number, row, shared, lenses)
        for number, row in enumerate(document["candidates"], start=1)
    ]


def _site(
    number: int, row: Mapping[str, Any], shared: Mapping[str, Any], lenses: Sequence[str]
) -> Thing:
    names = lenses or [key.removesuffix("_minutes") for key in row if key.endswith("_minutes")
                       and key.startswith("lens_")]  # fmt: skip
    of_lenses = {
        f"{lens}_{key}": fact for lens in names for key, fact in LENS_FACTS_OF_SITE.items()
    }
    facts = {
        key: fact for key, fact in (SITE_FACTS | of_lenses).items()
        if key in row or not key.startswith(("cloud_", "part_cloud"))
    }  # fmt: skip
    values = {**shared, **row}
    fits = [row[f"{lens}_fit"] for lens in names if f"{lens}_fit" in row]
    if fits:
        values["lens_fits"] = fits
    why = f": {row['failure']}" if row.get("failure") else ""
    who = str(row.get("name") or row.get("id") or "")
    called = tuple(str(row[key]) for key in ("id", "name") if row.get(key))
    rank = row.get("rank")
    if isinstance(rank, float) and rank.is_integer():
        rank = int(rank)
    label = str(rank or (called[0] if called else f"row {number}"))
    return Thing(label, called, f"{who}{why}", facts, values)


def frames_of(document: Mapping[str, Any]) -> list[Thing]:
    """Take the whole of a review's document, then its frames in order."""
    whole = document["review"]
    above = {key: whole.get(key) for key in ("clock_zone", "clock_ahead_s")}
    subject = dict(_flat({"subject": whole.get("subject") or {}}))
    values = {**dict(_flat({k: v for k, v in whole.items() if k != "frames"})), **above}
    things = [Thing("review", (), str(whole.get("name", "")), _with(REVIEW_FACTS, values), values)]
    for number, frame in enumerate(whole["frames"], start=1):
        own = {**subject, **above, **dict(_flat(_by_name(frame)))}
        name = str(frame.get("name", ""))
        called = tuple(one for one in (name, name.rpartition(".")[0]) if one)
        corners = numbered(CORNER_FACTS, CORNER, len(_corners(frame)))
        facts = _with(FRAME_FACTS | corners, own)
        things.append(Thing(str(number), called, name, facts, own))
    return things


def _corners(frame: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Corners of the land's edge, over all its stretches."""
    skyline = (frame.get("stars") or {}).get("skyline") or {}
    return [point for run in skyline.get("runs") or () for point in run]


def nights_of(document: Mapping[str, Any]) -> list[Thing]:
    """Take the chosen nights of a year's document, each with its subjects and their lenses."""
    whole = document["year"]
    rule = {f"rule.{key}": value for key, value in (whole.get("rule") or {}).items()}
    things = []
    for before, nights in (("", whole["best"]), ("spare", whole["spare"])):
        for number, night in enumerate(nights, start=1):
            label, said = f"{before}{number}", str(night.get("evening", ""))
            values = {**rule, "counted_minutes": night.get("counted_minutes")}
            things.append(Thing(label, (said,), f"evening of {said}", NIGHT_FACTS_OF_YEAR, values))
            for place, at in enumerate(night["subjects"], start=1):
                things += _of_year(f"{label}.{place}", at, whole["subjects"][place - 1], rule)
    return things


def _of_year(
    label: str, at: Mapping[str, Any], subject: Mapping[str, Any], rule: Mapping[str, Any]
) -> list[Thing]:
    """One subject on a night, then its lenses."""
    above = {
        **rule,
        "zone": subject.get("zone"),
        "subject_lat": subject.get("lat"),
        "subject_lon": subject.get("lon"),
        "target_name": subject.get("target_name"),
    }
    name = str(at.get("name", ""))
    own = {**above, **dict(_flat({k: v for k, v in at.items() if k != "lenses"}))}
    things = [Thing(label, (), name, SUBJECT_FACTS_OF_YEAR, own)]
    for lens in at["lenses"]:
        words = str(lens.get("label", ""))
        said = f"{name}, {words}" + (f": {lens['missing']}" if lens.get("missing") else "")
        values = {**above, **lens}
        things.append(
            Thing(f"{label}.{''.join(words.split())}", (), said, LENS_FACTS_OF_YEAR, values)
        )
    return things


def _with(facts: Mapping[str, Fact], values: Mapping[str, Any]) -> dict[str, Fact]:
    """The facts whose numbers are there: a frame that was not asked has none of its stars."""
    return {key: fact for key, fact in facts.items() if key in values}


def _by_name(frame: Mapping[str, Any]) -> dict[str, Any]:
    """A frame with its lists by name: regions, streaks and what was set beside the plan."""
    made = dict(frame)
    measured = dict(frame.get("measured") or {})
    for region in measured.pop("regions", ()):
        measured[str(region["where"]).replace(" ", "_")] = region
    for number, streak in enumerate(measured.pop("streaks", ()), start=1):
        measured[f"streak_{number}"] = streak
    made["measured"] = measured
    made |= {f"{CORNER}_{i}": row for i, row in enumerate(_corners(frame), start=1)}
    made["beside"] = {
        str(one["what"]).replace(" ", "_").lower(): one for one in frame.get("beside") or ()
    }
    return made


def _flat(value: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    for key, one in value.items():
        if isinstance(one, dict):
            yield from _flat(one, f"{before}{key}.")
        else:
            yield f"{before}{key}", one
