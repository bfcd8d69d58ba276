"""The ranking on a terminal: the best candidates, their reasons, and what failed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.numbers import counted, num
from backbearing.base.text import night_label, terminal_safe
from backbearing.base.units import METRIC
from backbearing.outing.scouting_request import PARTS

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.outing.scouting_request import Weights
    from backbearing.plan.ranking import Ranking

MOST_FAILURES: Final = 8
MOST_REASONS: Final = 3
"""Reasons of the first candidate in the short answer."""


def print_ranking(
    out: Screen,
    ranking: Ranking,
    units: Units = METRIC,
    *,
    top: int,
    everything: bool = True,
    then: str = "",
) -> None:
    """Print the first candidates with their parts and reasons, then what failed and why.

    Unless everything is asked: the table, why the first is first, how many fell out, and what
    comes ``then``.
    """
    nights = "one night" if ranking.nights == 1 else f"{ranking.nights} nights"
    out.title(
        f"{ranking.ranked} of {len(ranking)} candidates ranked over {nights} from "
        f"{night_label(ranking.first_night)}; times in {ranking.zone}."
    )
    shown = ranking.top(top)
    if len(shown):
        print_table(out, shown, units)
    if not everything:
        _short(out, ranking, shown, then)
        return
    for _, row in shown.iterrows():
        print_reasons(out, row, ranking.weights)
    _print_failures(out, ranking)
    _print_rejected(out, ranking)
    for note in ranking.notes:
        out.say(f"· {note}", hang=2)


def _short(out: Screen, ranking: Ranking, shown: Any, then: str) -> None:
    for _, row in shown.head(1).iterrows():
        first = "; ".join(str(row["reasons"]).split("; ")[:MOST_REASONS])
        out.labelled(f"{row['rank']}. {_name(row)}", f"{first}.")
        if row["cautions"]:
            out.labelled("Care", f"{row['cautions']}.")
    failed = ranking.frame[ranking.frame["failure"] != ""]
    said = [f"{reason} {len(rows)}" for reason, rows in _by_reason(failed).items()]
    if ranking.rejected:
        said.append(f"{counted(len(ranking.rejected), 'rows')} of the file left out")
    if said:
        out.title("Ruled out")
        out.some(said, 5)
    out.say("Care: a rank is no leave to go there. Reasons, parts and limits: --all.")
    out.say(f"Next: {then}", hang=2)


def print_table(out: Screen, shown: Any, units: Units) -> None:
    """Print one line a candidate, those that cannot work with what rules them out."""
    heads = ("", "candidate", "score", "best night", "at", "lens", "stand", "nights")
    out.listing(
        heads,
        [
            (
                str(row["rank"]),
                _name(row),
                num(row["score"], 0),
                str(row["night_label"]),
                str(row["best_time"])[11:16],
                f"{num(row['best_lens_mm'])} mm",
                units.length(float(row["distance_m"])),
                f"{row['good_nights']}",
            )
            for _, row in shown.iterrows()
        ],
        left={"candidate", "best night"},
        words={"candidate"},
    )


def _name(row: Any) -> str:
    named = row["name"] or row["id"]
    return terminal_safe(f"{named} ({row['kind']})")


def print_reasons(out: Screen, row: Any, weights: Weights) -> None:
    """Print why a candidate stands where it does: its reasons, parts and cautions."""
    where = f"{num(row.geometry.y, 5)}, {num(row.geometry.x, 5)}"
    out.title(f"{row['rank']}. {_name(row)}, {where}")
    out.say(f"{row['reasons']}.", indent=3)
    out.say(f"Score {num(row['score'], 0)}: {_parts(row, weights)}.", indent=3)
    if row["cautions"]:
        out.say(f"Care: {row['cautions']}.", indent=3)


def _parts(row: Any, weights: Weights) -> str:
    """The parts that count, out of 100, each with its weight; a question mark where unknown."""
    said = []
    each = [*zip(PARTS, weights.values(), strict=True), ("cloud", weights.cloud)]
    for part, weight in each:
        if not weight or f"part_{part}" not in row:
            continue
        value = row[f"part_{part}"]
        shown = "?" if np.isnan(value) else f"{num(100.0 * value, 0)}"
        said.append(f"{part.replace('_', ' ')} {shown} (x{num(weight)})")
    return ", ".join(said)


def _print_failures(out: Screen, ranking: Ranking) -> None:

    failed = ranking.frame[ranking.frame["failure"] != ""]
    if not len(failed):
        return
    out.title(f"{len(failed)} ruled out:")
    for said, rows in list(_by_reason(failed).items())[:MOST_FAILURES]:
        names = ", ".join(_name(row) for _, row in rows.head(3).iterrows())
        more = f" and {len(rows) - 3} more" if len(rows) > 3 else ""
        out.say(f" {terminal_safe(said)} {names}{more}.", indent=2)


def _by_reason(failed: Any) -> dict[str, Any]:
    """Group failures by their sentence, its numbers left out, commonest first."""
    sentence = failed["failure"].str.split(":").str[0]
    groups = {str(said): rows for said, rows in failed.groupby(sentence)}
    ordered = sorted(groups.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return {f"{said.rstrip('.')}:": rows for said, rows in ordered}


def _print_rejected(out: Screen, ranking: Ranking) -> None:

    if not ranking.rejected:
        return
    count = len(ranking.rejected)
    out.title(f"{counted(count, 'rows')} of the file left out:")
    for one in ranking.rejected[:MOST_FAILURES]:
        out.say(f" {terminal_safe(one.reason)}", indent=2)
    if count > MOST_FAILURES:
        out.say(f" and {count - MOST_FAILURES} more.", indent=2)
