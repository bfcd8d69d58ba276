"""Value objects as dictionaries, lists, numbers and text: what JSON can hold."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from typing import Any

from backbearing.base.grouped import flat_values
from backbearing.base.numbers import unsigned


def plain(value: Any) -> Any:  # noqa: PLR0911  # one return for each kind of value
    """Turn value objects and arrays into JSON's own types; NaN and infinity become null.

    Zero has no sign. A value made of parts shows their fields by their flat names.
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
        return unsigned(value) if math.isfinite(value) else None
    if hasattr(value, "__geo_interface__"):
        return plain(dict(value.__geo_interface__))
    if hasattr(value, "tolist"):  # numpy's arrays and numbers
        return plain(value.tolist())
    return value
