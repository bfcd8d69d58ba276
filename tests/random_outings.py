"""Random valid outings: grounds, grids, latitudes, targets, lenses, dates, each from a seed."""

from __future__ import annotations

import datetime as dt
import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.camera.bodies_and_lenses import check_pair
from backbearing.outing.load import load_outing
from backbearing.sky.zones import zone_at
from invented import CAMERA, toml

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing

    Floats = np.ndarray[Any, np.dtype[np.float64]]
    Rng = np.random.Generator

NATIONAL = (27700, 2154, 25832, 3035, 2056, 28355, 2193, 5070, 3338, 6675)
STARS = ("Sirius", "Canopus", "Vega", "Antares", "Capella", "Achernar", "Fomalhaut", "Deneb")
BODIES = ("moon", "venus", "mars", "jupiter", "saturn")
MOST_TRIES = 40


def random_outing(folder: Path, seed: int) -> Outing:
    """Write an outing and its ground to a folder and read it; the same for the same seed.

    What the outing file refuses (two lengths that do not fit in one frame, a fisheye that
    cannot fill it) is drawn anew: only valid outings come back.
    """
    folder.mkdir(parents=True, exist_ok=True)
    refused: BackbearingError | None = None
    for attempt in range(MOST_TRIES):
        rng = np.random.default_rng([seed, attempt])
        crs, lat, lon = _place(rng)
        written = folder / "outing.toml"
        sections, lenses = _sections(rng, lat, lon)
        _write_ground(folder / "ground.tif", rng, crs, lat, lon)
        if rng.random() < 0.3:
            sections["ground"]["places"] = "places.geojson"
            _write_places(folder / "places.geojson", rng, lat, lon)
        lines = ["format = 1", f'name = "Random {seed}"']
        for name, keys in sections.items():
            lines += [f"[{name}]", *(f"{key} = {toml(value)}" for key, value in keys.items())]
        for lens in lenses:
            lines += ["[[lens]]", *(f"{key} = {toml(value)}" for key, value in lens.items())]
        written.write_text("\n".join(lines) + "\n", encoding="utf-8")
        try:
            outing = load_outing(written)
            for asked in outing.lenses:
                check_pair(outing.camera, asked.lens)
            return outing
        except BackbearingError as problem:
            refused = problem
    raise AssertionError(f"seed {seed}: no valid outing in {MOST_TRIES} tries: {refused}")


def _place(rng: Rng) -> tuple[str, float, float]:
    """A reference system and a place in it, with a time zone."""
    while True:
        kind = rng.choice(["geographic", "utm", "national"], p=[0.4, 0.3, 0.3])
        lat, lon = float(np.degrees(np.arcsin(rng.uniform(-0.95, 0.97)))), rng.uniform(-180, 180)
        crs = "EPSG:4326"
        if kind == "utm" and -79.0 < lat < 83.0:
            zone = int((lon + 180.0) // 6.0) % 60 + 1
            crs = f"EPSG:{(32600 if lat >= 0.0 else 32700) + zone}"
        elif kind == "national":
            crs, lat, lon = _national(rng)
        try:
            zone_at(lat=lat, lon=lon)
        except BackbearingError:
            continue
        return crs, round(lat, 5), round(float(lon), 5)


def _national(rng: Rng) -> tuple[str, float, float]:
    from pyproj import CRS

    code = int(rng.choice(NATIONAL))
    west, south, east, north = CRS.from_epsg(code).area_of_use.bounds
    east += 360.0 if east < west else 0.0
    # At the edges as often as within.
    share = rng.choice([0.0, 1.0, rng.random()], size=2)
    lon = west + (east - west) * share[0]
    return f"EPSG:{code}", south + (north - south) * share[1], (lon + 180.0) % 360.0 - 180.0


def _write_ground(path: Path, rng: Rng, crs: str, lat: float, lon: float) -> None:
    import rasterio
    from affine import Affine
    from pyproj import CRS, Transformer

    cell = float(rng.choice([5.0, 10.0, 30.0, 90.0], p=[0.2, 0.2, 0.45, 0.15]))
    half = int(rng.integers(60, 110))
    off_east, off_north = rng.uniform(-0.4, 0.4, 2) * half * cell
    n = 2 * half + 1
    east, north = np.meshgrid(
        (np.arange(n) - half) * cell + off_east, (half - np.arange(n)) * cell + off_north
    )
    heights = _heights(rng, east, north, cell)
    if rng.random() < 0.25:
        heights = _holed(rng, heights, east, north)
    if crs == "EPSG:4326":
        step = cell / 111_195.0
        wide = step / max(math.cos(math.radians(lat)), 0.05)
        transform = Affine(
            wide, 0, lon + east[0, 0] / cell * wide - wide / 2,
            0, -step, lat + north[0, 0] / cell * step + step / 2,
        )  # fmt: skip
    else:
        own = CRS.from_user_input(crs)
        x, y = Transformer.from_crs("EPSG:4326", own, always_xy=True).transform(lon, lat)
        transform = Affine(cell, 0, x + east[0, 0] - cell / 2, 0, -cell, y + north[0, 0] + cell / 2)
    with rasterio.open(
        path, "w", driver="GTiff", width=n, height=n, count=1, dtype="float32", crs=crs,
        nodata=-9999.0, transform=transform,
    ) as out:  # fmt: skip
        out.write(heights.astype(np.float32), 1)


def _heights(rng: Rng, east: Floats, north: Floats, cell: float) -> Floats:
    kind = rng.choice(["flat", "slope", "hill", "valley", "rough", "steps"])
    base = rng.uniform(0.0, 2500.0)
    if kind == "flat":
        return np.asarray(base + 0.0 * east)
    away, relief = np.hypot(east, north), rng.uniform(20.0, 900.0)
    if kind == "slope":
        turn, steep = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.01, 0.3)
        return np.asarray(base + 1000.0 + steep * (np.cos(turn) * east + np.sin(turn) * north))
    if kind in ("hill", "valley"):
        bump = relief * np.exp(-(away**2) / (2.0 * rng.uniform(150.0, 1500.0) ** 2))
        return np.asarray(base + relief + (bump if kind == "hill" else -bump))
    if kind == "steps":
        return np.asarray(base + relief * (np.floor((east + north) / (20.0 * cell)) % 3))
    spectrum = np.fft.rfft2(rng.standard_normal(east.shape))
    k = np.hypot(np.fft.fftfreq(len(east))[:, None], np.fft.rfftfreq(len(east))[None, :])
    k[0, 0] = np.inf
    z = np.fft.irfft2(spectrum / k ** rng.uniform(1.5, 2.2), s=east.shape)
    return np.asarray(base + relief * (z - z.min()) / np.ptp(z))


def _holed(rng: Rng, heights: Floats, east: Floats, north: Floats) -> Floats:
    """Voids here and there, none within 12 cells of the subject."""
    cell = abs(east[0, 1] - east[0, 0])
    out = heights.copy()
    for _ in range(int(rng.integers(1, 6))):
        row, col = rng.integers(0, len(heights), 2)
        reach = rng.uniform(1.0, 15.0) * cell
        near = np.hypot(east - east[row, col], north - north[row, col]) < reach
        out[near & (np.hypot(east, north) > 12.0 * cell)] = -9999.0
    return out


def _write_places(path: Path, rng: Rng, lat: float, lon: float) -> None:
    def around(reach_m: float) -> list[float]:
        e, n = rng.uniform(-reach_m, reach_m, 2)
        wide = 111_195.0 * max(math.cos(math.radians(lat)), 0.05)
        return [lon + e / wide, lat + n / 111_195.0]

    features = [
        ("Point", around(600.0), {"kind": "parking", "name": "Lay-by"}),
        ("LineString", [around(600.0) for _ in range(4)], {"kind": "track", "name": "Lane"}),
        ("Point", around(200.0), {"kind": "hazard", "name": "Old shaft"}),
    ]
    for access in ("closed", "ask first", "open"):
        corner, size = around(150.0), rng.uniform(1e-4, 1e-3)
        ring = [[corner[0] + a * size, corner[1] + b * size] for a, b in _SQUARE]
        kind = {"kind": "land", "name": f"{access} field", "access": access}
        features.append(("Polygon", [ring], kind))
    document = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "geometry": {"type": t, "coordinates": c}, "properties": p}
            for t, c, p in features
        ],
    }
    path.write_text(json.dumps(document), encoding="utf-8")


_SQUARE = ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))


def _sections(
    rng: Rng, lat: float, lon: float
) -> tuple[dict[str, dict[str, Any]], list[dict[str, Any]]]:
    evening = dt.date(2025, 1, 1) + dt.timedelta(days=int(rng.integers(0, 10 * 365)))
    sections: dict[str, dict[str, Any]] = {
        "ground": {"elevation": "ground.tif", **_maybe(rng, 0.6, "vertical_sigma_m", 0.3, 12.0)},
        "subject": _subject(rng, lat, lon),
        "target": _target(rng, lat, evening),
        "night": _night(rng, evening),
        "camera": _camera(rng),
        "framing": _framing(rng),
    }
    if rng.random() < 0.2:
        sections["ground"] |= {"canopy_m": float(rng.uniform(2.0, 25.0))}
    if rng.random() < 0.4:
        sections["session"] = _session(rng)
    return sections, [_lens(rng) for _ in range(int(rng.integers(1, 4)))]


def _maybe(rng: Rng, chance: float, key: str, low: float, high: float) -> dict[str, float]:
    value = round(float(rng.uniform(low, high)), 3)
    return {key: value} if rng.random() < chance else {}


def _subject(rng: Rng, lat: float, lon: float) -> dict[str, Any]:
    height = round(float(np.exp(rng.uniform(np.log(0.5), np.log(60.0)))), 2)
    subject = {"name": "Lone thing", "lat": lat, "lon": lon, "height_m": height}
    shape = rng.random()
    if shape < 0.6:
        subject |= _maybe(rng, 0.8, "width_m", 0.1 * height, 2.0 * height)
    elif shape < 0.8:
        ups = np.round(np.linspace(0.0, height, 5), 3)
        ups[-1] = height
        widths = np.round(rng.uniform(0.05, 1.5, 5) * height, 3)
        subject["widths_m"] = [[float(u), float(w)] for u, w in zip(ups, widths, strict=True)]
    return subject | _maybe(rng, 0.2, "base_height_m", 0.0, 4.0)


def _target(rng: Rng, lat: float, evening: dt.date) -> dict[str, Any]:
    """As people ask; half of them where the sky is dark and high that night."""
    kinds = ["core", "star", "body", "galactic", "radec", "high"]
    kind = rng.choice(kinds, p=[0.2, 0.1, 0.1, 0.05, 0.05, 0.5])
    if kind == "high":
        # Opposite the Sun, which stands at right ascension 0 about 20 March.
        since = (evening - dt.date(evening.year, 3, 20)).days
        opposite = 180.0 + since * 360.0 / 365.25
        return {
            "ra_deg": round(float(opposite + rng.uniform(-50.0, 50.0)) % 360.0, 2),
            "dec_deg": round(float(np.clip(lat + rng.uniform(-60.0, 60.0), -89.0, 89.0)), 2),
        }
    if kind == "core":
        return {"name": "core"}
    if kind == "star":
        return {"star": str(rng.choice(STARS))}
    if kind == "body":
        return {"body": str(rng.choice(BODIES))}
    if kind == "galactic":
        return {
            "galactic_l_deg": round(float(rng.uniform(0.0, 360.0)), 2),
            "galactic_b_deg": round(float(rng.uniform(-30.0, 30.0)), 2),
        }
    return {
        "ra_deg": round(float(rng.uniform(0.0, 360.0)), 2),
        "dec_deg": round(float(rng.uniform(-85.0, 85.0)), 2),
    }


def _night(rng: Rng, evening: dt.date) -> dict[str, Any]:
    night: dict[str, Any] = {
        "evening": evening,
        "sun_below_deg": float(rng.choice([-18.0, -15.0, -12.0, -6.0])),
        "moon": "any" if rng.random() < 0.6 else "down",
        "clear_by_deg": float(rng.choice([0.0, 1.0, 3.0, -2.0], p=[0.4, 0.4, 0.1, 0.1])),
    }
    if rng.random() < 0.2:
        night |= {"moon": "down", "moon_adds_mag": round(float(rng.uniform(0.05, 2.0)), 2)}
    if rng.random() < 0.1:
        night["at"] = f"{int(rng.integers(20, 24))}:{int(rng.integers(0, 60)):02d}"
    return night


def _camera(rng: Rng) -> dict[str, Any]:
    camera: dict[str, Any] = dict(CAMERA)
    if rng.random() < 0.3:
        name = str(rng.choice(["135", "APS-C", "Four Thirds", "44x33"]))
        camera = {"sensor_format": name, "width_px": 6000}
    return camera | {"orientation": str(rng.choice(["landscape", "portrait"], p=[0.7, 0.3]))}


def _framing(rng: Rng) -> dict[str, Any]:
    framing: dict[str, Any] = {
        "share": round(float(rng.uniform(0.05, 0.75)), 3),
        "base_margin": round(float(rng.uniform(0.0, 0.2)), 3),
        "eye_height_m": round(float(rng.uniform(0.2, 2.2)), 2),
        "play_deg": round(float(rng.uniform(0.3, 3.0)), 2),
    }
    if rng.random() < 0.2:
        framing["share_of"] = "width"
    if rng.random() < 0.2:
        framing["level"] = True
    framing |= _maybe(rng, 0.15, "offset_deg", -8.0, 8.0)
    framing |= _maybe(rng, 0.1, "stand_drop_m", -3.0, 3.0)
    framing |= _maybe(rng, 0.1, "above_top_deg", 0.0, 15.0)
    return framing


def _lens(rng: Rng) -> dict[str, Any]:
    focal = round(float(np.exp(rng.uniform(np.log(8.0), np.log(220.0)))), 1)
    lens: dict[str, Any] = {
        "focal_length_mm": focal,
        "f_number": float(rng.choice([1.4, 2.0, 2.8, 4.0])),
    }
    if focal < 18.0 and rng.random() < 0.5:
        lens["projection"] = "equisolid"
    return lens | _maybe(rng, 0.1, "rise_mm", -4.0, 8.0) | _maybe(rng, 0.15, "share", 0.05, 0.6)


def _session(rng: Rng) -> dict[str, Any]:
    session: dict[str, Any] = {"light_reach_m": 30.0}
    if rng.random() < 0.8:
        session["frames_minutes"] = int(rng.integers(1, 15))
    session |= _maybe(rng, 0.5, "pace_m", 0.5, 0.9)
    if rng.random() < 0.3:
        session["not_before"] = f"{int(rng.integers(20, 24))}:30"
    return session
