"""Instants in: datetime64 in UTC or aware datetimes; time scales out.

Everything inside runs on UTC as ``datetime64[us]``; Terrestrial Time is counted in
days since MJD 0 and carried as whole days and a fraction.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.errors import SkyError

if TYPE_CHECKING:
    from numpy.typing import NDArray

MJD_EPOCH = np.datetime64("1858-11-17T00:00:00", "us")
MICROSECONDS_A_DAY = 86_400_000_000


def utc_array(times: Any) -> NDArray[np.datetime64]:
    """Turn instants into a ``datetime64[us]`` array in UTC of the same shape.

    Parameters
    ----------
    times : datetime64 array, aware datetime, or nested sequence of aware datetimes
        A ``datetime64`` is UTC by definition.

    Raises
    ------
    SkyError
        A naive datetime, a missing instant (NaT), or something that is not a time.
    """
    if isinstance(times, datetime):
        return np.asarray(_naive_utc(times), dtype="datetime64[us]")
    raw = np.asarray(times)
    if raw.size == 0:
        return np.empty(raw.shape, dtype="datetime64[us]")
    if raw.dtype.kind == "M":
        if np.isnat(raw).any():
            raise SkyError("one of the instants is missing (NaT)", hint="drop it or fill it in")
        return raw.astype("datetime64[us]")
    if raw.dtype.kind != "O":
        raise SkyError(
            f"times of type {raw.dtype} are not instants",
            hint="give datetime64 in UTC or datetimes with a time zone",
        )
    flat = [_naive_utc(t) for t in raw.ravel()]
    return np.array(flat, dtype="datetime64[us]").reshape(raw.shape)


def _naive_utc(moment: Any) -> datetime:
    if not isinstance(moment, datetime):
        raise SkyError(f"{moment!r} is not an instant", hint="give a datetime with a time zone")
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise SkyError(
            f"the time {moment.isoformat(sep=' ')} has no time zone",
            hint='add one, for example tzinfo=ZoneInfo("America/New_York")',
            time=moment,
        )
    return moment.astimezone(UTC).replace(tzinfo=None)


def mjd_parts(utc: NDArray[np.datetime64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Split UTC instants into whole Modified Julian Days and the fraction of the day."""
    micro = (utc - MJD_EPOCH).astype(np.int64)
    day = micro // MICROSECONDS_A_DAY
    return day, (micro - day * MICROSECONDS_A_DAY) / MICROSECONDS_A_DAY


def utc_from_mjd(mjd: Any) -> NDArray[np.datetime64]:
    """UTC instants of Modified Julian Dates, to the microsecond that a float carries."""
    micro = np.rint(np.asarray(mjd, dtype=np.float64) * MICROSECONDS_A_DAY).astype(np.int64)
    out: NDArray[np.datetime64] = MJD_EPOCH + micro.astype("timedelta64[us]")
    return out


def aware(utc: np.datetime64) -> datetime:
    """One UTC instant as an aware datetime."""
    moment = utc.astype("datetime64[us]").item()
    assert isinstance(moment, datetime)  # noqa: S101 - narrows numpy's item() for the type checker
    return moment.replace(tzinfo=UTC)
