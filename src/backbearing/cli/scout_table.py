"""The ranking on a terminal: the best candidates, their reasons, and what failed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.numbers import counted, num
from backbearing.base.text import length, night_label, terminal_safe
from backbearing.outing.scouting_request import PARTS

if TYPE_CHECKING:
    from rich.console import Console

    from backbearing.outing.scouting_request import Weights
    from backbearing.plan.ranking import Ranking

MOST_FAILURES: Final = 8


def print_ranking(out: Console, ranking: Ranking, *, top: int) -> None:
    """Print the first candidates with their parts and reasons, then what failed and why."""
    from rich.text import Text

    nights = "one night" if ranking.nights == 1 else f"{ranking.nights} nights"
    out.print(
        Text(
            f"{ranking.ranked} of {len(ranking)} candidates ranked over {nights} from "
            f"{night_label(ranking.first_night)}; times in {ranking.zone}.",
            style="bold",
        )
    )
    shown = ranking.top(top)
    if len(shown):
        out.print(_table(shown))
        for _, row in shown.iterrows():
            _print_reasons(out, row, ranking.weights)
    _print_failures(out, ranking)
    _print_rejected(out, ranking)
    for note in ranking.notes:
        out.print(Text(f"· {terminal_safe(note)}"))


def _table(shown: Any) -> Any:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    left = ("candidate", "best night")
    for head in ("", "candidate", "score", "best night", "at", "lens", "stand", "good nights"):
        table.add_column(head, justify="left" if head in left else "right")
    for _, row in shown.iterrows():
        table.add_row(
            str(row["rank"]),
            _name(row),
            num(row["score"], 0),
            str(row["night_label"]),
            str(row["best_time"])[11:16],
            f"{num(row['best_lens_mm'])} mm",
            length(float(row["distance_m"])),
            f"{row['good_nights']}",
        )
    return table


def _name(row: Any) -> str:
    named = row["name"] or row["id"]
    return terminal_safe(f"{named} ({row['kind']})")


def _print_reasons(out: Console, row: Any, weights: Weights) -> None:
    from rich.padding import Padding
    from rich.text import Text

    where = f"{num(row.geometry.y, 5)}, {num(row.geometry.x, 5)}"
    out.print(Text(f"{row['rank']}. {_name(row)}, {where}", style="bold"))
    said = Text(terminal_safe(f"{row['reasons']}."))
    said.append(f"\nScore {num(row['score'], 0)}: {_parts(row, weights)}.")
    if row["cautions"]:
        said.append(f"\nCare: {terminal_safe(row['cautions'])}.", style="yellow")
    out.print(Padding(said, (0, 0, 0, 3)))


def _parts(row: Any, weights: Weights) -> str:
    """Every part of a score out of 100 with its weight; a question mark where unknown."""
    said = []
    for part, weight in zip(PARTS, weights.values(), strict=True):
        value = row[f"part_{part}"]
        shown = "?" if np.isnan(value) else f"{num(100.0 * value, 0)}"
        said.append(f"{part.replace('_', ' ')} {shown} (x{num(weight)})")
    return ", ".join(said)


def _print_failures(out: Console, ranking: Ranking) -> None:
    from rich.text import Text

    failed = ranking.frame[ranking.frame["failure"] != ""]
    if not len(failed):
        return
    out.print(Text(f"{len(failed)} ruled out:", style="bold"))
    for said, rows in list(_by_reason(failed).items())[:MOST_FAILURES]:
        names = ", ".join(_name(row) for _, row in rows.head(3).iterrows())
        more = f" and {len(rows) - 3} more" if len(rows) > 3 else ""
        out.print(Text(f"   {terminal_safe(said)} {names}{more}."))


def _by_reason(failed: Any) -> dict[str, Any]:
    """Group failures by their sentence, its numbers left out, commonest first."""
    sentence = failed["failure"].str.split(":").str[0]
    groups = {str(said): rows for said, rows in failed.groupby(sentence)}
    ordered = sorted(groups.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return {f"{said.rstrip('.')}:": rows for said, rows in ordered}


def _print_rejected(out: Console, ranking: Ranking) -> None:
    from rich.text import Text

    if not ranking.rejected:
        return
    count = len(ranking.rejected)
    out.print(Text(f"{counted(count, 'rows')} of the file left out:", style="bold"))
    for one in ranking.rejected[:MOST_FAILURES]:
        out.print(Text(f"   {terminal_safe(one.reason)}"))
    if count > MOST_FAILURES:
        out.print(Text(f"   and {count - MOST_FAILURES} more."))
