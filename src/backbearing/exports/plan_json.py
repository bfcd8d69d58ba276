"""The plan as JSON: versioned, complete, with unknown numbers as null.

The shape is documented in ``docs/plan-json.md``; ``version`` rises when a key changes
its meaning or goes away, not when one is added.
"""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

from backbearing.base.plain import plain
from backbearing.exports.file_text import DIRECTION, NOT_UTF8, visible
from backbearing.exports.rows import stand_row
from backbearing.plan.comparison import compare_lenses
from backbearing.plan.turns import as_walked, turn_of_each

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan

FORMAT = "backbearing-plan"
VERSION = 1


def plan_document(plan: Plan) -> dict[str, Any]:
    """Give the plan as plain dictionaries, lists, numbers and text."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "plan": plain(plan),
        "stands": _stands(plan),
        "comparison": plain(compare_lenses(plan)),
    }


def _stands(plan: Plan) -> list[dict[str, Any]]:
    """One stand a lens, as a tripod is put there: of its turn where it has one, turns first."""
    turns = turn_of_each(plan)
    lenses = as_walked(plan).lenses
    order = sorted(
        range(len(lenses)),
        key=lambda i: math.inf if (shot := turns[i]) is None else shot.number,
    )
    return [
        {
            "lens": lenses[i].lens.label,
            "turn": None if (shot := turns[i]) is None else shot.number,
            **stand_row(plan, lenses[i], plan.ground.vertical_datum),
        }
        for i in order
    ]


def plan_json(plan: Plan) -> str:
    """Give the plan as JSON text (RFC 8259)."""
    return dumps(plan_document(plan))


def dumps(document: Any) -> str:
    """Write JSON as this package does everywhere: UTF-8, no NaN, a line end at the end."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    # JSON escapes controls itself; what turns the writing direction of its neighbours is escaped
    # here, and half a surrogate pair cannot be written as UTF-8.
    text = DIRECTION.sub(lambda found: f"\\u{ord(found.group()):04x}", text)
    return visible(text, NOT_UTF8)
