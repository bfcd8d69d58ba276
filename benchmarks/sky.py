"""Time the sky against the general libraries' own full reductions, in one run.

Run ``python benchmarks/sky.py`` (half a minute) or add ``--full`` to let the peers reduce
every instant too (minutes, and gigabytes for one that cannot be cut up). Without it a peer
reduces every 20th instant and its time is scaled, as the table says.
"""

from __future__ import annotations

import argparse
import time
import tracemalloc
import warnings
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.sky import CORE, Target, dark_windows, direction, earth, places
from backbearing.sky.hour_angles import azimuth_passages

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

LAT, LON, HEIGHT_M = 36.3, -84.2, 400.0
MINUTES = 525_600
PEER_CHUNK = 4096

Pair = tuple["NDArray[np.float64]", "NDArray[np.float64]"]


def best_of(run: Callable[[], Any], times: int = 5) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        spent.append(time.perf_counter() - start)
    return min(spent)


def peak_mb(run: Callable[[], Any]) -> float:
    tracemalloc.start()
    run()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def ours(target: Target, utc: NDArray[np.datetime64]) -> Pair:
    return direction(target, lat=LAT, lon=LON, height_m=HEIGHT_M, times=utc, refraction=False)


def by_skyfield(target: Target, utc: NDArray[np.datetime64]) -> Pair:
    """Skyfield's topocentric path on the same Earth orientation, in chunks that fit memory."""
    from skyfield.api import Star, load, wgs84
    from skyfield.timelib import Timescale

    builtin, o = load.timescale(builtin=True), earth.orientation()

    def delta_t(tt_jd: Any) -> Any:
        mjd = np.asarray(tt_jd) - 2_400_000.5
        return np.interp(mjd - o.tt_minus_utc_s(mjd) / 86_400.0, o.mjd, o.delta_t_s)

    ts = Timescale(delta_t, builtin.leap_dates, builtin.leap_offsets)
    pole = (o.pole_mjd + 2_400_000.5, o.pole_x / earth.ARCSECOND, o.pole_y / earth.ARCSECOND)
    ts.polar_motion_table = pole
    kernel = places.ephemeris()
    thing: Any = (
        Star(ra_hours=(target.ra_deg or 0.0) / 15.0, dec_degrees=target.dec_deg)
        if target.is_fixed
        else kernel[target.body_name]
    )
    site = kernel["earth"] + wgs84.latlon(LAT, LON, HEIGHT_M)
    az, alt = [], []
    for i in range(0, utc.size, PEER_CHUNK):
        days = utc[i : i + PEER_CHUNK]
        seconds = (days - days.astype("datetime64[D]")) / np.timedelta64(1, "s")
        calendar = days.astype("datetime64[D]").astype(object)
        year, month, day = np.array([(d.year, d.month, d.day) for d in calendar]).T
        t = ts.utc(year, month, day, 0, 0, seconds)
        altitude, azimuth, _ = site.at(t).observe(thing).apparent().altaz()
        az.append(azimuth.degrees)
        alt.append(altitude.degrees)
    return np.concatenate(az), np.concatenate(alt)


def by_astropy(target: Target, utc: NDArray[np.datetime64]) -> Pair:
    """Reduce by astropy's AltAz on the same ephemeris, offline."""
    from astropy import units as u
    from astropy.coordinates import (
        AltAz,
        EarthLocation,
        SkyCoord,
        get_body,
        solar_system_ephemeris,
    )
    from astropy.time import Time
    from astropy.utils import iers

    iers.conf.auto_max_age, iers.conf.auto_download = None, False
    iers.conf.iers_degraded_accuracy = "ignore"
    site = EarthLocation.from_geodetic(LON, LAT, HEIGHT_M)
    t = Time(np.datetime_as_string(utc), scale="utc")
    with solar_system_ephemeris.set(f"file://{places.ephemeris().path}"):
        place = (
            SkyCoord(target.ra_deg * u.deg, target.dec_deg * u.deg)
            if target.is_fixed
            else get_body(target.body_name, t, site)
        )
        there = place.transform_to(AltAz(obstime=t, location=site))
    return there.az.deg, there.alt.deg


def apart_arcsec(a: Pair, b: Pair) -> float:
    along = ((a[0] - b[0] + 180.0) % 360.0 - 180.0) * np.cos(np.radians(b[1]))
    return float(np.hypot(along, a[1] - b[1]).max() * 3600.0)


def against_peers(full: bool) -> None:
    utc = np.datetime64("2026-06-01", "us") + np.arange(MINUTES) * np.timedelta64(60, "s")
    step = 1 if full else 20
    note = "" if full else f" (peer: every {step}th instant, time scaled)"
    print(f"A year of minutes at one site, {MINUTES} instants{note}")
    print("target     ours s  peak MB       peer   peer s   ratio  apart ″")
    for target in (CORE, Target.body("sun"), Target.body("moon")):
        spent = best_of(lambda target=target: ours(target, utc))
        peak = peak_mb(lambda target=target: ours(target, utc))
        mine = ours(target, utc[::step])
        for name, peer in (("skyfield", by_skyfield), ("astropy", by_astropy)):
            peer(target, utc[:10])
            start = time.perf_counter()
            theirs = peer(target, utc[::step])
            peer_s = (time.perf_counter() - start) * step
            label = "core" if target is CORE else target.name
            print(
                f"{label:8}{spent:9.3f}{peak:9.0f}{name:>11}{peer_s:9.1f}"
                f"{peer_s / spent:8.0f}{apart_arcsec(mine, theirs):9.4f}"
            )


def windows_of(lat: float) -> int:
    found = dark_windows(
        lat=lat, lon=LON, height_m=HEIGHT_M, first_night=date(2027, 1, 1), nights=365
    )
    return len(found)


def many_sites() -> None:
    lat = np.linspace(35.0, 37.0, 1000)
    start = time.perf_counter()
    found = azimuth_passages(
        CORE,
        lat=lat,
        lon=LON,
        azimuth_deg=np.linspace(130.0, 230.0, 1000),
        start=np.datetime64("2027-01-01"),
        end=np.datetime64("2028-01-01"),
    )
    crossings_s = time.perf_counter() - start
    start = time.perf_counter()
    with ProcessPoolExecutor(2) as pool:
        windows = sum(pool.map(windows_of, lat, chunksize=50))
    windows_s = time.perf_counter() - start
    print("\n1,000 sites, 365 nights")
    print(f"crossings of a bearing: {(~np.isnat(found)).sum()} in {crossings_s:.2f} s, one process")
    print(f"dark windows: {windows} in {windows_s:.2f} s, two processes")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="let the peers reduce every instant")
    warnings.simplefilter("ignore")
    against_peers(parser.parse_args().full)
    many_sites()


if __name__ == "__main__":
    main()
