"""Value objects as dictionaries, lists, numbers and text: what JSON can hold."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from typing import Any


def plain(value: Any) -> Any:  # noqa: PLR0911  # one return for each kind of value
    """Turn value objects into JSON's own types; NaN and infinity become null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
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
    if hasattr(value, "item"):
        return plain(value.item())
    return value
