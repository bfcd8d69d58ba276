"""The plan as JSON: versioned, complete, with unknown numbers as null.

The shape is documented in ``docs/plan-json.md``; ``version`` rises when a key changes
its meaning or goes away, not when one is added.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
from typing import TYPE_CHECKING, Any

from backbearing.base.grouped import flat_values
from backbearing.exports.words import NOT_UTF8, visible
from backbearing.plan.comparison import compare_lenses

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
        "comparison": plain(compare_lenses(plan)),
    }


def plan_json(plan: Plan) -> str:
    """Give the plan as JSON text (RFC 8259)."""
    return dumps(plan_document(plan))


def dumps(document: Any) -> str:
    """Write JSON as this package does everywhere: UTF-8, no NaN, a line end at the end."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    # JSON escapes U+0000 itself; half a surrogate pair it cannot write as UTF-8.
    return visible(text, NOT_UTF8)


def plain(value: Any) -> Any:  # noqa: PLR0911  # one return for each kind of value
    """Turn plan objects and arrays into JSON's own types; NaN and infinity become null.

    A value made of parts shows their fields by their flat names.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: plain(one) for name, one in flat_values(value).items()}
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "__geo_interface__"):
        return plain(dict(value.__geo_interface__))
    if hasattr(value, "tolist"):  # numpy's arrays and numbers
        return plain(value.tolist())
    return value
