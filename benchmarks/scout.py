"""Measure scouting: cost against size, and beside a straightforward minute scan.

Run ``python benchmarks/scout.py``; it takes a few minutes (``--full`` goes on to 100,000
candidates). Candidates of all sizes are scattered over invented ground of 3601 x 3601 cells
of one arc second; four lenses, 180 nights, two processes. The straightforward way knows no
hour angles: for every minute of every night it asks Skyfield for Sun, Moon and core, solves
the distance for each lens by bisection, projects the core, and marches along the ridge in
steps of half a cell. It is run on a few candidates and nights, and its time is multiplied
up; the ratio says so.
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
import os
import platform
import resource
import time
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import geopandas
import numpy as np
from affine import Affine
from pyproj import Geod

from backbearing.alignment import Subject, plan_night
from backbearing.outing.load import load_outing
from backbearing.scouting import Candidates, ScoutRequest, scout
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from backbearing.outing.request import Outing

SAMPLE = Path(__file__).parents[1] / "sample_terrain" / "outing.toml"
EARTH_M = 6_371_008.8
GEOD = Geod(ellps="WGS84")
FIRST, NIGHTS = dt.date(2027, 4, 10), 180
WEST, NORTH, STEP = -84.5, 37.0, 1.0 / 3600.0


def ground(rows: int = 3601) -> Elevation:
    """Make hills of all sizes, 2,400 m from the lowest to the highest."""
    rng = np.random.default_rng(7)
    k = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(rows)[None, :])
    k[0, 0] = np.inf
    z = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((rows, rows))) / k**2.0, s=(rows, rows))
    z = 200.0 + 2400.0 * (z - z.min()) / (z.max() - z.min())
    transform = Affine(STEP, 0, WEST, 0, -STEP, NORTH)
    return Elevation.from_array(z.astype(np.float32), transform, "EPSG:4326")


def scattered(n: int, seed: int = 1) -> Candidates:
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(NORTH - 0.95, NORTH - 0.05, n), rng.uniform(WEST + 0.05, WEST + 0.95, n)
    table = {
        "id": [f"row {i}" for i in range(n)],
        "name": "",
        "kind": "tree",
        "height_m": rng.uniform(3.0, 14.0, n),
        "width_m": rng.uniform(2.0, 8.0, n),
        "height_is_guess": False,
        "width_is_guess": False,
        "access": "unknown",
        "note": "",
    }
    points = geopandas.points_from_xy(lon, lat)
    frame = geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
    return Candidates(frame, frame.iloc[:0], (), "scattered")


def asked() -> Outing:
    outing = load_outing(SAMPLE)
    return replace(
        outing,
        ground=replace(outing.ground, places=None),
        night=replace(outing.night, time_zone="America/New_York"),
        session=None,
        scouting=ScoutRequest(),
    )


def peak_mb() -> float:
    """Largest memory of this process and of the largest child so far, MB."""
    own, child = (
        resource.getrusage(who).ru_maxrss
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return (own + child) / 1024.0


def cpu_s() -> float:
    """Seconds of processor time of this process and its ended children."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def cost(outing: Outing, dem: Elevation, sizes: list[int], processes: int) -> float:
    """Print the seconds of every size; give those of one candidate of the last."""
    scout(outing, scattered(20), first_night=FIRST, nights=2, processes=1, elevation=dem)
    each = math.nan
    for n in sizes:
        candidates = scattered(n)
        start, spent = time.perf_counter(), cpu_s()
        found = scout(
            outing, candidates, first_night=FIRST, nights=NIGHTS, processes=processes,
            elevation=dem,
        )  # fmt: skip
        taken = time.perf_counter() - start
        each = taken / n
        print(
            f"  {n:7,} candidates  {taken:7.1f} s  {1e3 * each:6.2f} ms each  "
            f"({1e3 * (cpu_s() - spent) / n:6.2f} ms of processor)  "
            f"{found.ranked:7,} ranked  peak {peak_mb():6.0f} MB"
        )
    return each


class MinuteScan:
    """The straightforward way: everything anew at every minute."""

    def __init__(self, outing: Outing, dem: Elevation) -> None:
        from skyfield.api import load, load_file

        spec = find_spec("skyfield_data")
        assert spec is not None
        assert spec.origin is not None
        self.outing, self.z = outing, dem.heights_m.astype(np.float64)
        self.planets = load_file(str(Path(spec.origin).parent / "data" / "de421.bsp"))
        self.scale = load.timescale(builtin=True)

    def height(self, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
        """Bilinear heights, metres."""
        row, col = (NORTH - lat) / STEP - 0.5, (lon - WEST) / STEP - 0.5
        i, j = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
        ok = (i >= 0) & (j >= 0) & (i < self.z.shape[0] - 1) & (j < self.z.shape[1] - 1)
        i, j, u, v = np.where(ok, i, 0), np.where(ok, j, 0), row - i, col - j
        upper = self.z[i, j] * (1 - v) + self.z[i, j + 1] * v
        lower = self.z[i + 1, j] * (1 - v) + self.z[i + 1, j + 1] * v
        return np.where(ok, upper * (1 - u) + lower * u, np.nan)

    def at(self, lat: float, lon: float) -> float:
        """Height at one place, metres."""
        return float(self.height(np.array([lat]), np.array([lon]))[0])

    def minutes(self, lat: float, lon: float, height_m: float, nights: int) -> np.ndarray:
        """Good minutes of the nights for each lens, shape (nights, lenses)."""
        from skyfield.api import Star, wgs84

        noon = dt.datetime.combine(FIRST, dt.time(12), tzinfo=ZoneInfo("America/New_York"))
        start, at_m = noon.astimezone(dt.UTC), self.at(lat, lon)
        here = self.planets["earth"] + wgs84.latlon(lat, lon, elevation_m=at_m)
        core = Star(ra_hours=266.4168371 / 15.0, dec_degrees=-29.0078106)
        good = np.zeros((nights, len(self.outing.lenses)), dtype=int)
        for night in range(nights):
            for minute in range(1440):
                offset = night * 1440 + minute + 0.5
                t = self.scale.utc(
                    start.year, start.month, start.day, start.hour, start.minute + offset
                )
                seen = here.at(t)
                if seen.observe(self.planets["sun"]).apparent().altaz()[0].degrees >= -18.0:
                    continue
                moon, _, away = seen.observe(self.planets["moon"]).apparent().altaz()
                if moon.degrees + math.degrees(math.asin(1737.4 / away.km)) >= -34.0 / 60.0:
                    continue
                up, azimuth, _ = seen.observe(core).apparent().altaz("standard")
                if up.degrees < 0.0:
                    continue
                for k in range(len(self.outing.lenses)):
                    good[night, k] += self.works(
                        k, lat, lon, at_m, height_m, azimuth.degrees, up.degrees
                    )
        return good

    def works(
        self, k: int, lat: float, lon: float, at_m: float, tall_m: float, azimuth: float, up: float
    ) -> bool:
        """Whether one lens holds both and the core clears the ridge."""
        framing, focal = self.outing.framing, self.outing.lenses[k].lens.focal_length_mm
        frame_mm, eye_m = self.outing.camera.frame_height_mm, framing.eye_height_m
        low = (framing.base_margin - 0.5) * frame_mm
        base_off = math.atan2(low, focal)
        wanted = math.atan2(low + framing.share * frame_mm, focal) - base_off

        def base_and_top(s: float) -> tuple[float, float]:
            x, y, _ = GEOD.fwd(lon, lat, azimuth + 180.0, s)
            rise = at_m - eye_m - self.at(y, x)
            return math.atan2(rise, s), math.atan2(rise + tall_m, s)

        near, far = 1.2 * eye_m, 50.0 * tall_m / wanted
        for _ in range(50):
            middle = 0.5 * (near + far)
            base, top = base_and_top(middle)
            near, far = (middle, far) if top - base > wanted else (near, middle)
        pitch = base_and_top(near)[0] - base_off
        ahead = math.radians(up) - pitch
        if not abs(ahead) < 0.5 * math.pi:
            return False
        y = 0.5 + focal * math.tan(ahead) / frame_mm
        edge = framing.edge_margin
        if not edge <= y <= 1.0 - edge:
            return False
        x0, y0, _ = GEOD.fwd(lon, lat, azimuth + 180.0, near)
        return up - self.ridge(y0, x0, azimuth) >= self.outing.night.clear_by_deg

    def ridge(self, lat: float, lon: float, azimuth: float) -> float:
        """Skyline's altitude, degrees."""
        s = np.arange(15.0, self.outing.ground.reach_m, 15.0)
        lons, lats, _ = GEOD.fwd(*(np.full_like(s, v) for v in (lon, lat, azimuth)), s)
        eye = self.at(lat, lon) + self.outing.framing.eye_height_m
        tangent = (self.height(lats, lons) - eye - 0.87 * s * s / (2.0 * EARTH_M)) / s
        return math.degrees(math.atan(np.nanmax(tangent)))


def beside(outing: Outing, dem: Elevation, count: int, nights: int, each_s: float) -> None:
    """Time the straightforward way on a few, and hold the minutes against ours."""
    candidates, scan = scattered(count, seed=5), MinuteScan(outing, dem)
    ours = scout(outing, candidates, first_night=FIRST, nights=nights, processes=1, elevation=dem)
    row = {name: i for i, name in enumerate(ours.frame["id"])}
    start, off = time.perf_counter(), []
    for one in candidates.frame.itertuples():
        plain = scan.minutes(one.geometry.y, one.geometry.x, one.height_m, nights)
        if ours.frame["failure"].iloc[row[one.id]]:
            continue
        off.append(np.abs(ours.minutes[row[one.id]].astype(int) - plain))
    taken = time.perf_counter() - start
    whole = taken / count / nights * NIGHTS
    print(
        f"  minute scan: {count} candidates x {nights} nights in {taken:.1f} s; {NIGHTS} nights "
        f"would take {whole:.0f} s a candidate, {whole / each_s:,.0f} times ours (two processes)"
    )
    if off:
        gap = np.concatenate(off).ravel()
        print(
            f"  minutes of {gap.size} nights and lenses beside it: median off "
            f"{np.median(gap):.0f}, 95 % {np.percentile(gap, 95):.0f}, worst {gap.max()}"
        )


def beside_plans(outing: Outing, dem: Elevation, count: int) -> None:
    """Hold the minutes of one night against the stretches of whole plans."""
    candidates = scattered(count, seed=9)
    evening = outing.night.evening
    ours = scout(outing, candidates, first_night=evening, nights=1, processes=1, elevation=dem)
    row = {name: i for i, name in enumerate(ours.frame["id"])}
    off, start = [], time.perf_counter()
    for one in candidates.frame.itertuples():
        subject = Subject(
            lat=one.geometry.y, lon=one.geometry.x, height_m=one.height_m, width_m=one.width_m
        )
        plan = plan_night(replace(outing, subject=subject), dem)
        for j, lens in enumerate(plan.lenses):
            plain = sum((s.end - s.start).total_seconds() / 60.0 for s in lens.usable)
            off.append(abs(float(ours.minutes[row[one.id], 0, j]) - plain))
    taken = time.perf_counter() - start
    print(
        f"  {count} plans of one night ({taken / count:.1f} s each): minutes off by "
        f"{np.median(off):.1f} in the median, {np.percentile(off, 95):.1f} at 95 %, "
        f"{max(off):.1f} at worst, over {len(off)} lenses"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--full", action="store_true", help="up to 100,000 candidates")
    parser.add_argument("--sizes", type=int, nargs="*", help="numbers of candidates instead")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--scan", type=int, default=2, help="candidates of the minute scan")
    parser.add_argument("--scan-nights", type=int, default=2)
    parser.add_argument("--plans", type=int, default=10, help="plans to hold minutes against")
    given = parser.parse_args()
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores")
    outing, dem = asked(), ground()
    sizes = given.sizes or [100, 1000, 10_000, *([30_000, 100_000] if given.full else [])]
    print(f"Cost, {NIGHTS} nights, {len(outing.lenses)} lenses, {given.processes} processes:")
    each_s = cost(outing, dem, sizes, given.processes)
    print("Beside the straightforward way:")
    if given.scan:
        beside(outing, dem, given.scan, given.scan_nights, each_s)
    if given.plans:
        beside_plans(outing, dem, given.plans)


if __name__ == "__main__":
    main()
