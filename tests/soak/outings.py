"""Random valid outings: grounds, grids, latitudes, targets, lenses, dates, each from a seed."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Final, get_args

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.camera.bodies_and_lenses import check_pair
from backbearing.outing.load import load_outing
from backbearing.outing.schema import TargetShape
from backbearing.sky.stars import STARS
from backbearing.sky.targets import BODIES
from backbearing.sky.zones import zone_at
from invented import CAMERA, toml
from soak.grounds import write_ground, write_places

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing

    Floats = np.ndarray[Any, np.dtype[np.float64]]
    Rng = np.random.Generator

NATIONAL: Final = (27700, 2154, 25832, 3035, 2056, 28355, 2193, 5070, 3338, 6675)
POLAR: Final = (3413, 3995, 3976, 32661)
BEYOND: Final = ("sun", "uranus", "neptune")
"""Bodies that nobody asks for as a target at night."""

MOST_TRIES: Final = 40


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
        write_ground(folder / "ground.tif", rng, crs, lat, lon)
        if rng.random() < 0.3:
            sections["ground"]["places"] = "places.geojson"
            write_places(folder / "places.geojson", rng, lat, lon)
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
        except BackbearingError as problem:
            refused = problem
        else:
            return outing
    raise AssertionError(f"seed {seed}: no valid outing in {MOST_TRIES} tries: {refused}")


def _place(rng: Rng) -> tuple[str, float, float]:
    """A reference system and a place in it, with a time zone."""
    while True:
        kind = rng.choice(["geographic", "utm", "national", "polar"], p=[0.4, 0.25, 0.25, 0.1])
        low, high = np.sin(np.radians((-68.0, 72.0)))
        lat, lon = float(np.degrees(np.arcsin(rng.uniform(low, high)))), rng.uniform(-180, 180)
        crs = "EPSG:4326"
        if kind == "utm" and -79.0 < lat < 83.0:
            zone = int((lon + 180.0) // 6.0) % 60 + 1
            crs = f"EPSG:{(32600 if lat >= 0.0 else 32700) + zone}"
        elif kind == "national":
            crs, lat, lon = _national(rng)
        elif kind == "polar":
            code = int(rng.choice(POLAR))
            crs = f"EPSG:{code}"
            lat = float(rng.uniform(60.0, 72.0)) * (-1.0 if code == 3976 else 1.0)
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


def _sections(
    rng: Rng, lat: float, lon: float
) -> tuple[dict[str, dict[str, Any]], list[dict[str, Any]]]:
    evening = _evening(rng)
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


def _evening(rng: Rng) -> dt.date:
    """Any evening of ten years; one in seven before a Sunday on which clocks change somewhere."""
    if rng.random() < 0.85:
        return dt.date(2025, 1, 1) + dt.timedelta(days=int(rng.integers(0, 10 * 365)))
    month, after = ((3, 8), (3, 25), (4, 1), (10, 1), (10, 25), (11, 1))[int(rng.integers(6))]
    first = dt.date(2025 + int(rng.integers(0, 10)), month, after)
    return first + dt.timedelta(days=6 - first.weekday() - 1)


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
        return {"name": str(rng.choice(_named()))}
    if kind == "star":
        return {"star": str(rng.choice([star.name for star in STARS.values()]))}
    if kind == "body":
        return {"body": str(rng.choice([name for name in BODIES if name not in BEYOND]))}
    if kind == "galactic":
        return {
            "galactic_l_deg": round(float(rng.uniform(0.0, 360.0)), 2),
            "galactic_b_deg": round(float(rng.uniform(-30.0, 30.0)), 2),
        }
    return {
        "ra_deg": round(float(rng.uniform(0.0, 360.0)), 2),
        "dec_deg": round(float(rng.uniform(-85.0, 85.0)), 2),
    }


def _named() -> list[str]:
    """Every name that the file knows for a target."""
    of_name = get_args(TargetShape.model_fields["name"].annotation)[0]
    return list(get_args(of_name) or ["core"])


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
    elif rng.random() < 0.15:
        camera["crop_px"] = [int(rng.integers(2400, 6000)), int(rng.integers(1600, 4000))]
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
    if rng.random() < 0.2:
        session["not_after"] = f"0{int(rng.integers(1, 6))}:15"
    if rng.random() < 0.2:
        session["breaks"] = [{"at": f"{int(rng.integers(21, 24))}:10", "minutes": 10}]
    if rng.random() < 0.3:
        session |= {"light_width_m": round(float(rng.uniform(0.1, 2.0)), 2)}
        session |= {"light_height_m": round(float(rng.uniform(0.1, 2.5)), 2)}
    return session | _maybe(rng, 0.2, "wait_costs_m", 0.0, 20.0)
