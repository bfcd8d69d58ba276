"""When a body that moves among the stars stands on an azimuth or at an altitude."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.errors import SkyError
from backbearing.sky.directions import direction
from backbearing.sky.events import toggles
from backbearing.sky.grids import EvenGrid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.sky.events import When
    from backbearing.sky.targets import Target

_SAMPLE = np.timedelta64(600, "s")


class RiseAndSet(NamedTuple):
    """Instants of passing an altitude, ``datetime64[us]`` in UTC, NaT-padded (..., m).

    ``always`` is "above" or "below" where no day has a passage, "" elsewhere (...).
    """

    rising: NDArray[np.datetime64]
    setting: NDArray[np.datetime64]
    always: NDArray[np.str_]


def body_azimuth(
    target: Target,
    place: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    azimuth: NDArray[np.float64],
    first: np.datetime64,
    last: np.datetime64,
) -> NDArray[np.datetime64]:
    """Instants in [first, last) at which a body stands on an azimuth (degrees) at one place."""
    lat, lon, height = _single(target, *place)

    def offset(when: When) -> NDArray[np.float64]:
        az, _ = direction(
            target, lat=lat, lon=lon, height_m=height, times=_utc(when), refraction=False
        )
        return wrap_180_deg(az - azimuth)

    crossed = toggles(lambda when: np.sin(np.radians(offset(when))), _samples(first, last)).utc
    inside = crossed[(crossed >= first) & (crossed < last)]
    return inside[np.abs(offset(inside)) < 90.0]


def body_altitude(
    target: Target,
    place: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    true_altitude: NDArray[np.float64],
    first: np.datetime64,
    last: np.datetime64,
) -> RiseAndSet:
    """Instants in [first, last) at which a body passes an airless altitude (degrees)."""
    lat, lon, height = _single(target, *place)

    def margin(when: When) -> NDArray[np.float64]:
        _, altitude = direction(
            target, lat=lat, lon=lon, height_m=height, times=_utc(when), refraction=False
        )
        return np.asarray(altitude - true_altitude)

    found = toggles(margin, _samples(first, last))
    inside = (found.utc >= first) & (found.utc < last)
    when, rises = found.utc[inside], found.begins()[inside]
    state = "above" if bool(found.holds(np.asarray(first))) else "below"
    return RiseAndSet(when[rises], when[~rises], np.asarray("" if when.size else state))


def _single(target: Target, *place: NDArray[np.float64]) -> tuple[float, ...]:
    if any(v.size != 1 for v in place):
        raise SkyError(f"{target.name} moves among the stars", hint="ask for one place at a time")
    return tuple(float(v.reshape(())) for v in place)


def _samples(first: np.datetime64, last: np.datetime64) -> NDArray[np.datetime64]:
    count = int(np.ceil((last - first) / _SAMPLE)) + 1
    out: NDArray[np.datetime64] = first + np.arange(max(count, 3)) * _SAMPLE
    return out


def _utc(when: When) -> NDArray[np.datetime64]:
    return when.utc if isinstance(when, EvenGrid) else when
