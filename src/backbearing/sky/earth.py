"""How the Earth stands: its rotation angle, its pole, and sites upon it.

UT1 and the pole come from the IERS table that an installed package carries; nothing is
fetched. Beyond the table's last prediction UT1 - UTC is held at its last value and the
pole goes to its mean place: an error that `orientation_note` puts into words.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.base.constants import SECONDS_A_DAY, WGS84_A_M, WGS84_E2
from backbearing.base.errors import SkyError
from backbearing.base.numbers import num
from backbearing.sky.instants import mjd_parts

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import ArrayLike, NDArray

TT_MINUS_TAI_S = 32.184
J2000_MJD = 51_544.5
ARCSECOND = np.pi / 648_000.0

_TABLES = (
    ("astropy_iers_data", "data/finals2000A.all"),
    ("skyfield_data", "data/finals2000A.all"),
)
_RECORD_BYTES = 188


@dataclass(frozen=True)
class Orientation:
    """Delta T and pole by date, with where they come from.

    Attributes
    ----------
    mjd, delta_t_s : (n,)
        TT - UT1 in seconds at Modified Julian Dates.
    pole_mjd, pole_x, pole_y : (m,)
        Coordinates of the pole, radians.
    leap_mjd, tai_minus_utc_s : (k,)
        Steps of TAI - UTC.
    source : str
        The table used.
    last_measured_mjd, last_predicted_mjd : float
        Where measurement and prediction end.
    """

    mjd: NDArray[np.float64]
    delta_t_s: NDArray[np.float64]
    pole_mjd: NDArray[np.float64]
    pole_x: NDArray[np.float64]
    pole_y: NDArray[np.float64]
    leap_mjd: NDArray[np.float64]
    tai_minus_utc_s: NDArray[np.float64]
    source: str
    last_measured_mjd: float
    last_predicted_mjd: float

    def tt_minus_utc_s(self, mjd: ArrayLike) -> NDArray[np.float64]:
        """TT - UTC in seconds at UTC dates; 42.184 before leap seconds began in 1972."""
        at = np.asarray(mjd, dtype=np.float64)
        if at.size:
            ends = np.searchsorted(self.leap_mjd, [at.min(), at.max()], side="right")
            if ends[0] == ends[1]:
                return np.full(at.shape, TT_MINUS_TAI_S + self.tai_minus_utc_s[ends[0]])
        step = np.searchsorted(self.leap_mjd, at, side="right")
        return np.asarray(TT_MINUS_TAI_S + self.tai_minus_utc_s[step])


class Turned(NamedTuple):
    """Time-dependent part of the rotation to Earth-fixed axes."""

    tt_mjd: NDArray[np.float64]
    cos_era: NDArray[np.float64]
    sin_era: NDArray[np.float64]
    pole_x: NDArray[np.float64]
    pole_y: NDArray[np.float64]


class Sites(NamedTuple):
    """Places on WGS84 with what the rotation to local axes needs; shapes broadcast."""

    sin_lat: NDArray[np.float64]
    cos_lat: NDArray[np.float64]
    sin_lon: NDArray[np.float64]
    cos_lon: NDArray[np.float64]
    axis_m: NDArray[np.float64]
    equator_m: NDArray[np.float64]


@cache
def orientation() -> Orientation:
    """Read the newest IERS table that an installed package carries [IERS2010]_."""
    from skyfield.api import load

    builtin = load.timescale(builtin=True)
    leap_mjd = np.asarray(builtin.leap_dates, dtype=np.float64)
    offsets = np.asarray(builtin.leap_offsets, dtype=np.float64)
    keep = np.isfinite(leap_mjd)
    leap_mjd, offsets = leap_mjd[keep] - 2_400_000.5, offsets[keep]
    tai = np.concatenate(([10.0], offsets))
    mjd, dut1, x, y, measured, source = _read_finals()
    tai_at = tai[np.searchsorted(leap_mjd, mjd, side="right")]
    delta_t = TT_MINUS_TAI_S + tai_at - dut1
    early = np.arange(14_800.0, mjd[0] - 15.0, 30.0)
    early_delta_t = np.asarray(builtin.delta_t_function(early + 2_400_000.5))
    end = mjd[-1] + 30.0
    mean_x, mean_y = _mean_pole(end)
    return Orientation(
        mjd=np.concatenate((early, mjd)),
        delta_t_s=np.concatenate((early_delta_t, delta_t)),
        pole_mjd=np.concatenate((mjd, [end])),
        pole_x=np.concatenate((x, [mean_x])) * ARCSECOND,
        pole_y=np.concatenate((y, [mean_y])) * ARCSECOND,
        leap_mjd=leap_mjd,
        tai_minus_utc_s=tai,
        source=source,
        last_measured_mjd=float(mjd[measured][-1]),
        last_predicted_mjd=float(mjd[-1]),
    )


def _read_finals() -> tuple[
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.bool_],
    str,
]:
    for package, inside in _TABLES:
        spec = find_spec(package)
        if spec is None or spec.origin is None:
            continue
        path = Path(spec.origin).parent / inside
        if path.is_file():
            return (*_parse_finals(path.read_text("ascii")), f"IERS finals2000A in {package}")
    raise SkyError("no table of the Earth's rotation is installed", hint="install skyfield-data")


def _parse_finals(
    text: str,
) -> tuple[
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.bool_],
]:
    # Fixed columns of the IERS readme: MJD 8-15, x 19-27, y 38-46, flag 58, UT1-UTC 59-68.
    rows = [line for line in text.splitlines() if line[58:68].strip()]
    table = np.array(
        [(line[7:15], line[18:27], line[37:46], line[58:68]) for line in rows], dtype=np.float64
    )
    measured = np.array([line[57] == "I" for line in rows])
    return table[:, 0], table[:, 3], table[:, 1], table[:, 2], measured


def _mean_pole(mjd: float) -> tuple[float, float]:
    """Secular pole in arcseconds, IERS Conventions 2010 as updated in 2018, eq. 21."""
    years = (mjd - J2000_MJD) / 365.25
    return 0.0550 + 0.001677 * years, 0.3205 + 0.003460 * years


def orientation_note(day: date) -> str:
    """Say how well the Earth's rotation is known on a date, and what that does on the sky.

    Growth of a prediction's error by the rule that every IERS Bulletin A prints,
    ``S t = 0.00025 (MJD - today)**0.75`` seconds.
    """
    o = orientation()
    mjd = float((np.datetime64(day, "D") - np.datetime64("1858-11-17", "D")).astype(int))
    if mjd <= o.last_measured_mjd:
        return f"Earth rotation measured ({o.source}): under 0.01 arcsecond."
    error_s = 0.00025 * (mjd - o.last_measured_mjd) ** 0.75
    kind = "predicted" if mjd <= o.last_predicted_mjd else "held after the last prediction"
    return (
        f"UT1 - UTC {kind} ({o.source}): about {num(error_s, 3)} s, "
        f"or {num(15.0 * error_s, 1)} arcseconds of azimuth and hour angle."
    )


def clock_notes(day: date) -> tuple[str, ...]:
    """Say what a clock time on a date rests on: rotation, leap seconds, zone rules."""
    from importlib import metadata

    o = orientation()
    mjd = float((np.datetime64(day, "D") - np.datetime64("1858-11-17", "D")).astype(int))
    notes = [orientation_note(day)]
    if mjd > o.last_measured_mjd:
        notes.append(
            f"UTC is taken to keep TAI - UTC = {num(o.tai_minus_utc_s[-1], 0)} s; a leap second "
            "announced later moves every clock time after it by 1 s."
        )
        notes.append(
            f"Local times follow the time zone rules of tzdata {metadata.version('tzdata')}; a "
            "law may change them by an hour."
        )
    return tuple(notes)


def turn(utc: NDArray[np.datetime64]) -> Turned:
    """Earth rotation angle [IERS2010]_ eq. 5.15 and pole at UTC instants."""
    o = orientation()
    day, fraction = mjd_parts(utc)
    mjd = day + fraction
    tt_minus_utc = o.tt_minus_utc_s(mjd)
    ut1_minus_utc = tt_minus_utc - _between(mjd, o.mjd, o.delta_t_s)
    since = fraction + ut1_minus_utc / SECONDS_A_DAY
    turns = 0.7790572732640 + 0.00273781191135448 * ((day - 51_544) - 0.5 + since) + since - 0.5
    angle = 2.0 * np.pi * (turns - np.floor(turns))
    return Turned(
        mjd + tt_minus_utc / SECONDS_A_DAY,
        np.cos(angle),
        np.sin(angle),
        _between(mjd, o.pole_mjd, o.pole_x),
        _between(mjd, o.pole_mjd, o.pole_y),
    )


def _between(
    at: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """`numpy.interp` on the part of the table that is needed: it searches faster."""
    if at.size == 0:
        return np.zeros(at.shape)
    first = max(int(np.searchsorted(x, at.min())) - 1, 0)
    last = int(np.searchsorted(x, at.max())) + 1
    return np.asarray(np.interp(at, x[first:last], y[first:last]))


def to_earth_fixed(place: NDArray[np.float64], turned: Turned) -> NDArray[np.float64]:
    """Rotate celestial intermediate vectors (3, ...) to Earth-fixed axes (3, ...)."""
    x = turned.cos_era * place[0] + turned.sin_era * place[1]
    y = turned.cos_era * place[1] - turned.sin_era * place[0]
    z = place[2]
    return np.stack(
        (
            x + turned.pole_x * z,
            y - turned.pole_y * z,
            z - turned.pole_x * x + turned.pole_y * y,
        )
    )


def sites(*, lat: ArrayLike, lon: ArrayLike, height_m: ArrayLike) -> Sites:
    """Precompute places given in degrees and metres above the ellipsoid."""
    phi = np.radians(np.asarray(lat, dtype=np.float64))
    lam = np.radians(np.asarray(lon, dtype=np.float64))
    h = np.asarray(height_m, dtype=np.float64)
    sin_lat, cos_lat = np.sin(phi), np.cos(phi)
    n = WGS84_A_M / np.sqrt(1.0 - WGS84_E2 * sin_lat**2)
    return Sites(
        sin_lat,
        cos_lat,
        np.sin(lam),
        np.cos(lam),
        np.asarray((n * (1.0 - WGS84_E2) + h) * sin_lat),
        np.asarray((n + h) * cos_lat),
    )
