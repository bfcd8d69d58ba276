"""The place of a receiver that lay still, by averaging its track, without believing it too much.

Fixes a second apart err together: a thousand of them are not a thousand readings. Their scatter
is counted by the effective number of fixes [Bayley1946]_, from the autocorrelation that the track
itself shows. And the receiver errs as a whole, by the air and by echoes, for longer than anyone
waits: that shows in no scatter, and stands as a floor.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import MeasureError
from backbearing.base.input_files import check_readable, checked_path
from backbearing.base.local_plane import LocalPlane
from backbearing.base.numbers import counted, num
from backbearing.base.xml_stream import XmlStream
from backbearing.measuring.places import MeasuredPlace, place_of

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

FLOOR_SIGMA_M: Final = 3.2
"""Error of east and of north that all fixes of a sitting share, metres: a phone under an open sky
stands within a radius of 4.9 m [VanDiggelen2015]_ (at second hand), taken for that of one standard
deviation, 4.9 / 1.515. Under trees and beside walls it is more."""

FLOOR_HOURS: Final = 1.0
"""After so long that error is thought of as another one, to 1/e (our own choice)."""

MOST_FIXES: Final = 200_000
LARGEST_BYTES: Final = 100_000_000
FEWEST_FIXES: Final = 10
STILL_M: Final = 20.0
"""A track whose fixes scatter by more has moved (our own choice)."""

OUTLIER_SIGMAS: Final = 5.0


@dataclass(frozen=True)
class Track:
    """Fixes of a receiver.

    Attributes
    ----------
    lat, lon : ndarray, shape (n,)
        WGS84 degrees.
    time_s : ndarray, shape (n,)
        Seconds from the first; NaN where a fix has no time.

    Examples
    --------
    >>> import numpy as np
    >>> from backbearing.measuring import Track
    >>> track = Track(np.full(3, 36.37), np.full(3, -84.36), np.arange(3.0))
    >>> track.lat.size
    3
    """

    lat: Floats
    lon: Floats
    time_s: Floats


class _Fixes:
    """Gathers the points of tracks while a file streams by."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.rows: list[tuple[float, float, float]] = []
        self._here: tuple[float, float] | None = None
        self._time = math.nan
        self.stream = XmlStream(file, "gpx", self._start, self._end)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "trkpt":
            self._here = (
                self._degrees(attributes, "lat", 90.0),
                self._degrees(attributes, "lon", 180.0),
            )
            self._time = math.nan

    def _end(self, name: str, text: str) -> None:
        if self._here is None:
            return
        if name == "time":
            self._time = _seconds(text)
        elif name == "trkpt":
            self.rows.append((*self._here, self._time))
            self._here = None
            if len(self.rows) > MOST_FIXES:
                raise MeasureError(
                    f"{self.file.name} has more than {MOST_FIXES:,} fixes",
                    hint="cut out the minutes in which the receiver lay still",
                )

    def _degrees(self, attributes: dict[str, str], key: str, most: float) -> float:
        written = attributes.get(key, "")
        try:
            value = float(written)
        except ValueError:
            value = math.nan
        if not abs(value) <= most:
            shown = written[:20] or "missing"
            raise MeasureError(
                f"{self.file.name} has a fix whose {key} is {shown!r} (line {self.stream.line})",
                hint="export the track again as GPX 1.1",
            )
        return value


def read_track(path: str | Path) -> Track:
    """Read the fixes of all tracks in a GPX 1.1 file [GPX11]_.

    No document type and no entity is followed; the size and the number of fixes are bounded.

    Raises
    ------
    MeasureError
        For a file that is missing, too large, or without fixes that can be believed.
    OutingError
        For what is not well-formed XML, has a document type, or is no GPX.

    Examples
    --------
    Into ``folder``:

    >>> from backbearing.measuring import read_track
    >>> text = '<gpx><trk><trkseg><trkpt lat="36.37" lon="-84.36"/></trkseg></trk></gpx>'
    >>> _ = (folder / "still.gpx").write_text(text)
    >>> read_track(folder / "still.gpx").lat.tolist()
    [36.37]
    """
    file = checked_path(path, MeasureError)
    check_readable(file, "a GPX track", largest_bytes=LARGEST_BYTES, error=MeasureError)
    found = _Fixes(file)
    found.stream.read()
    if not found.rows:
        raise MeasureError(
            f"{file.name} holds no track", hint="record one while the receiver lies still"
        )
    lat, lon, time = np.array(found.rows).T
    known = time[np.isfinite(time)]
    return Track(lat, lon, time - (known[0] if known.size else 0.0))


def place_of_track(
    track: Track, *, floor_sigma_m: float = FLOOR_SIGMA_M, floor_hours: float = FLOOR_HOURS
) -> MeasuredPlace:
    """Average the fixes of a receiver that lay still.

    Fixes farther than five robust standard deviations from the median are left out. The mean's
    covariance is ``C / (n_eff - 1)``, C that of the fixes and ``n_eff = n / (1 + 2 sum (1 - k/n)
    rho_k)`` [Bayley1946]_ with the track's autocorrelations up to the first below zero, plus the
    floor's variance times the mean of ``exp(-|t_i - t_j| / floor_hours)`` over all pairs: sittings
    on other days make it smaller, more minutes hardly.

    Parameters
    ----------
    track : Track
    floor_sigma_m : float
        Error that the fixes of a sitting share, of east and of north, metres.
    floor_hours : float
        How long it holds together.

    Returns
    -------
    MeasuredPlace

    Raises
    ------
    MeasureError
        For fewer than ten fixes, or a receiver that moved.

    Examples
    --------
    >>> import numpy as np
    >>> from backbearing.measuring import Track, place_of_track
    >>> noise = np.random.default_rng(1).normal(0.0, 1e-5, (2, 600))
    >>> found = place_of_track(Track(36.37 + noise[0], -84.36 + noise[1], np.arange(600.0)))
    >>> f"{found.lat:.4f}, {found.lon:.4f} within {found.sigma_m:.1f} m"
    '36.3700, -84.3600 within 3.1 m'
    """
    if track.lat.size < FEWEST_FIXES:
        raise MeasureError(
            f"the track has {counted(track.lat.size, 'fixes', 'fix')}",
            hint=f"let the receiver lie still for ten minutes; {FEWEST_FIXES} fixes is the least",
        )
    plane = LocalPlane(float(np.median(track.lat)), _middle_lon(track.lon))
    points = plane.points(lat=track.lat, lon=track.lon)
    kept = _believed(points)
    fixes, times = points[kept], _times(track.time_s)[kept]
    _check_still(fixes)
    order = np.argsort(times, kind="stable")
    fixes, times = fixes[order], times[order]
    covariance = np.cov(fixes.T)
    effective = effective_number(fixes)
    shared = _held_together(times, 3600.0 * floor_hours)
    whole = covariance / max(effective - 1.0, 1.0) + floor_sigma_m**2 * shared * np.eye(2)
    lat, lon = plane.places(east_m=fixes[:, 0].mean(), north_m=fixes[:, 1].mean())
    scatter = math.sqrt(float(np.trace(covariance)) / 2.0)
    alike = num(floor_sigma_m * math.sqrt(shared), 1)
    said = f"{counted(fixes.shape[0], 'fixes', 'fix')} scatter by {num(scatter, 1)} m and count as "
    said += f"{num(effective, 0)}; what all of them err by alike, {alike} m, no scatter shows"
    notes = [said]
    out = int(track.lat.size - fixes.shape[0])
    if out:
        notes.append(f"{counted(out, 'fixes', 'fix')} far from the others left out")
    if not np.isfinite(track.time_s).all():
        notes.append("fixes without a time were taken as a second apart")
    return place_of(float(lat), float(lon), whole, "a receiver's track", tuple(notes))


def effective_number(fixes_m: Floats) -> float:
    """How many independent fixes a row of them (n, 2) is worth: 1 to n.

    ``n / (1 + 2 sum (1 - k/n) rho_k)`` [Bayley1946]_ up to the first autocorrelation below zero.
    """
    n = fixes_m.shape[0]
    off = fixes_m - fixes_m.mean(axis=0)
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.abs(np.fft.rfft(off, size, axis=0)) ** 2
    lagged = np.fft.irfft(spectrum.sum(axis=1), size)[:n]
    if not lagged[0] > 0.0:
        return 1.0
    rho = lagged / lagged[0] * (n / np.arange(n, 0, -1))
    below = np.flatnonzero(rho[1:] <= 0.0)
    last = int(below[0]) + 1 if below.size else n
    lag = np.arange(1, last)
    worth = n / (1.0 + 2.0 * float(np.sum((1.0 - lag / n) * rho[1:last])))
    return float(min(max(worth, 1.0), float(n)))


def _held_together(times_s: Floats, hold_s: float) -> float:
    """Mean of ``exp(-|t_i - t_j| / hold)`` over all pairs of sorted times, in one pass."""
    n = times_s.size
    within, carried, before = 0.0, 0.0, float(times_s[0])
    for time in times_s.tolist():
        carried *= math.exp(-(time - before) / hold_s)
        within += carried
        carried += 1.0
        before = time
    return (n + 2.0 * within) / n**2


def _believed(points: Floats) -> Flags:
    """Which fixes lie near the others, by the median and the median deviation from it."""
    off = np.abs(points - np.median(points, axis=0))
    # 1.4826 makes a median deviation a standard deviation where errors are Gaussian.
    spread = np.maximum(1.4826 * np.median(off, axis=0), 0.05)
    return np.asarray((off <= OUTLIER_SIGMAS * spread).all(axis=1))


def _check_still(fixes: Floats) -> None:
    scatter = float(np.sqrt(fixes.var(axis=0).max()))
    if scatter > STILL_M:
        raise MeasureError(
            f"the track is spread over {num(2.0 * scatter, 0)} m and more, so that the receiver "
            "moved",
            hint="cut out the minutes in which it lay at the subject",
        )


def _times(time_s: Floats) -> Floats:
    """Times, a second apart where any is missing."""
    return time_s if np.isfinite(time_s).all() else np.arange(time_s.size, dtype=np.float64)


def _middle_lon(lon: Floats) -> float:
    """Median longitude, also across the 180th meridian."""
    near = float(lon[0])
    turn = (lon - near + 180.0) % 360.0 - 180.0
    return float((near + np.median(turn) + 180.0) % 360.0 - 180.0)


def _seconds(text: str) -> float:
    """Seconds since 1970 of a time as XML writes it; NaN for anything else."""
    try:
        moment = dt.datetime.fromisoformat(text[:40])
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=dt.UTC)
        return moment.timestamp()
    except (ValueError, OverflowError):
        return math.nan
