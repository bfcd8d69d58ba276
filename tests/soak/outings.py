"""Random valid outings: grounds, grids, latitudes, targets, lenses, dates, each from a seed."""

from __future__ import annotations

import datetime as dt
import math
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

WEIGHTS: Final = (
    "above_top_costs_m_per_deg", "ridge_costs_m_per_deg", "skyline_break_costs_m_per_deg",
    "alike_costs_m_per_deg",
)  # fmt: skip
"""What pictures count in a session."""

LIKELY: Final = 0.8
"""Share of the outings drawn so that stands can be expected; the rest are drawn from anything."""

LEANS_DEG: Final = 23.44
"""The Earth's axis against its way about the Sun."""


def random_outing(folder: Path, seed: int) -> Outing:
    """Write an outing and its ground to a folder and read it; the same for the same seed.

    What the outing file refuses (two lengths that do not fit in one frame, a fisheye that
    cannot fill it) is drawn anew: only valid outings come back.
    """
    folder.mkdir(parents=True, exist_ok=True)
    refused: BackbearingError | None = None
    for attempt in range(MOST_TRIES):
        rng = np.random.default_rng([seed, attempt])
        likely = bool(rng.random() < LIKELY)
        crs, lat, lon = _place(rng)
        written = folder / "outing.toml"
        sections, lenses = _sections(rng, lat, lon, likely=likely)
        band = sections["ground"].get("band", 1)
        write_ground(folder / "ground.tif", rng, crs, lat, lon, band=band)
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
    rng: Rng, lat: float, lon: float, *, likely: bool
) -> tuple[dict[str, dict[str, Any]], list[dict[str, Any]]]:
    evening = _evening(rng, lat) if likely else _any_evening(rng)
    sections: dict[str, dict[str, Any]] = {
        "ground": _ground(rng),
        "subject": _subject(rng, lat, lon),
        "target": _low_target(rng, lat, evening) if likely else _target(rng, lat, evening),
        "night": _night(rng, evening),
        "camera": _camera(rng),
        "framing": _framing(rng, likely=likely),
    }
    if likely:
        sections["night"]["moon"] = str(rng.choice(["any", "down"], p=[0.85, 0.15]))
        if sections["night"]["moon"] == "any":
            sections["night"].pop("moon_adds_mag", None)
    lenses = [_lens(rng, likely=likely) for _ in range(int(rng.integers(2 if likely else 1, 5)))]
    if rng.random() < 0.75:
        sections["session"] = _session(rng)
        for lens in lenses:
            lens.update(_maybe(rng, 0.1, "setup_minutes", 1.0, 9.0))
            lens.update(_maybe(rng, 0.1, "walk_minutes", 0.0, 12.0))
    return sections, lenses


def _ground(rng: Rng) -> dict[str, Any]:
    ground: dict[str, Any] = {"elevation": "ground.tif"}
    ground |= _maybe(rng, 0.6, "vertical_sigma_m", 0.3, 12.0)
    if "vertical_sigma_m" in ground:
        # Neighbours differ by no more than two independent errors do.
        most = 1.4 * ground["vertical_sigma_m"]
        ground |= _maybe(rng, 0.4, "relative_sigma_m", 0.02 * most, most)
        ground |= _maybe(rng, 0.4, "error_range_m", 30.0, 3000.0)
    if rng.random() < 0.2:
        ground["canopy_m"] = float(rng.uniform(2.0, 25.0))
    if rng.random() < 0.15:
        ground["band"] = int(rng.integers(1, 4))
    return ground


def _evening(rng: Rng, lat: float) -> dt.date:
    """An evening whose midnight is dark, by the Sun's rough place among the stars."""
    for _ in range(60):
        evening = _any_evening(rng)
        of_year = evening.timetuple().tm_yday
        sun = -LEANS_DEG * math.cos(math.radians((of_year + 10) * 360.0 / 365.25))
        if 90.0 - abs(lat + sun) > 22.0:
            break
    return evening


def _any_evening(rng: Rng) -> dt.date:
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
    subject |= _maybe(rng, 0.2, "base_height_m", 0.0, 4.0)
    subject |= _maybe(rng, 0.4, "position_sigma_m", 0.0, 12.0)
    for key, letters in (("lat", "NS"), ("lon", "EW")):
        if rng.random() < 0.25:
            subject[key] = _as_text(rng, float(subject[key]), letters)
    return subject


def _as_text(rng: Rng, degrees: float, letters: str) -> str:
    """A coordinate as maps and receivers print it: to less than a millimetre."""
    letter, size = letters[int(degrees < 0.0)], abs(degrees)
    whole, minutes = int(size), (size - int(size)) * 60.0
    kind = int(rng.integers(3))
    if kind == 0:
        return f"{size:.9f}{letter}"
    if kind == 1:
        return f"{letter} {whole}\u00b0 {minutes:.7f}'"
    seconds = (minutes - int(minutes)) * 60.0
    return f"{whole}\u00b0{int(minutes)}'{seconds:.5f}\"{letter}"


def _low_target(rng: Rng, lat: float, evening: dt.date) -> dict[str, Any]:
    """What rises or sets that night and stays low enough for a frame to hold with the land."""
    if abs(lat) < 50.0 and 3 <= evening.month <= 9 and rng.random() < 0.6:
        return {"name": str(rng.choice(_named()))}
    if rng.random() < 0.15:
        return _target(rng, lat, evening)
    highest = float(rng.uniform(8.0, 55.0))
    towards = -1.0 if lat >= 0.0 else 1.0
    if abs(lat) > 30.0 and rng.random() < 0.2:
        # Beyond the pole, its lowest between both.
        towards = -towards
    dec = lat + towards * (90.0 - highest)
    return {
        "ra_deg": round(float(_opposite(evening) + rng.uniform(-60.0, 60.0)) % 360.0, 2),
        "dec_deg": round(float(np.clip(dec, -89.0, 89.0)), 2),
    }


def _opposite(evening: dt.date) -> float:
    """Right ascension opposite the Sun, which stands at 0 about 20 March; degrees."""
    return 180.0 + (evening - dt.date(evening.year, 3, 20)).days * 360.0 / 365.25


def _target(rng: Rng, lat: float, evening: dt.date) -> dict[str, Any]:
    """As people ask; half of them where the sky is dark and high that night."""
    kinds = ["core", "star", "body", "galactic", "radec", "high"]
    kind = rng.choice(kinds, p=[0.2, 0.1, 0.1, 0.05, 0.05, 0.5])
    if kind == "high":
        return {
            "ra_deg": round(float(_opposite(evening) + rng.uniform(-50.0, 50.0)) % 360.0, 2),
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


def _framing(rng: Rng, *, likely: bool) -> dict[str, Any]:
    framing: dict[str, Any] = {
        "share": round(float(rng.uniform(0.05, 0.45 if likely else 0.75)), 3),
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
    if rng.random() < 0.15:
        framing["behind_subject"] = True
    return framing


def _lens(rng: Rng, *, likely: bool) -> dict[str, Any]:
    longest = 85.0 if likely else 220.0
    focal = round(float(np.exp(rng.uniform(np.log(8.0), np.log(longest)))), 1)
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
    for key in WEIGHTS:
        if rng.random() < 0.5:
            session[key] = float(rng.choice([0.0, 1.0, 10.0, 40.0, 500.0]))
    session |= _maybe(rng, 0.3, "above_top_wanted_deg", -3.0, 20.0)
    session |= _maybe(rng, 0.3, "skyline_break_wanted_deg", -5.0, 5.0)
    session |= _maybe(rng, 0.4, "line_change_minutes", 0.0, 10.0)
    session |= _maybe(rng, 0.2, "room_minutes", 0.0, 40.0)
    return session | _maybe(rng, 0.2, "wait_costs_m", 0.0, 20.0)
