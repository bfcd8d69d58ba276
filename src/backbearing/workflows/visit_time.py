"""When and where a shadow was marked."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import MeasureError
from backbearing.base.limits import shown
from backbearing.sky.zones import resolve_zone

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.outing.request import Outing


def place_asked(answers: Mapping[str, Any], outing: Outing | None) -> tuple[float, float]:
    """Where: as told, else where the outing's subject stands.

    Raises
    ------
    MeasureError
        Where neither tells.
    """
    if "at" in answers:
        lat, lon = answers["at"]
        return float(lat), float(lon)
    if outing is None:
        raise MeasureError("the Sun's altitude needs a place", hint="give it with at, or an outing")
    return outing.subject.lat, outing.subject.lon


def moment_of(text: Any, *, lat: float, lon: float) -> dt.datetime:
    """Read a moment as ISO 8601 writes it; without a zone it is the place's wall time.

    Raises
    ------
    MeasureError
        For what is none, or a wall time that the clocks skip or show twice.
    """
    try:
        moment = text if isinstance(text, dt.datetime) else dt.datetime.fromisoformat(text)
        if moment.tzinfo is not None:
            return moment
    except (TypeError, ValueError):
        raise MeasureError(
            f"time is {shown(text)}",
            hint="write date and time, such as 2027-03-04 16:30 or 2027-03-04T16:30-05:00",
            key="time",
        ) from None
    local = moment.replace(tzinfo=resolve_zone(None, lat=lat, lon=lon))
    if local.utcoffset() != local.replace(fold=1).utcoffset():
        raise MeasureError(
            f"the clocks skip {moment} there, or show it twice",
            hint="write its offset from UTC with it, such as 2027-11-07T01:30-05:00",
            key="time",
        )
    return local
