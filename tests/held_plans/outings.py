"""Invented outings whose plans were recorded: their files, their ground, and what is kept."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

CELL_M: Final = 60.0
HALF_CELLS: Final = 150

OUTINGS: Final[dict[str, dict[str, Any]]] = {
    "north": {
        "lat": 47.31, "lon": 9.42, "evening": "2026-06-13",
        "night": {"moon": "any"}, "framing": {"share": 0.3, "offset_deg": 7.0},
        "lenses": ({"focal_length_mm": 20.0}, {"focal_length_mm": 50.0, "share": 0.45}),
    },
    "south": {
        "lat": -33.52, "lon": 150.21, "evening": "2027-04-09",
        "night": {"at": "22:20", "clear_by_deg": 1.5}, "framing": {"offset_deg": -4.0},
        "lenses": ({"focal_length_mm": 35.0}, {"focal_length_mm": 105.0}),
    },
    "tropics": {
        "lat": 12.3, "lon": -61.4, "evening": "2026-07-10",
        "night": {"sun_below_deg": -15.0},
        "framing": {"share": 0.25, "eye_height_m": 0.4, "base_margin": 0.15, "offset_deg": 9.0},
        "lenses": ({"focal_length_mm": 15.0, "projection": "equisolid"},
                   {"focal_length_mm": 28.0, "share": 0.35}),
    },
}  # fmt: skip
"""Two lenses each. The ground is level for 400 m about the subject: the air over a stand was
taken for the subject's in the recorded plans, which over a slope moves altitudes by 1e-4 degree."""

OF_A_STAND: Final = (
    "lat", "lon", "ground_m", "distance_m", "bearing_deg", "bearing_magnetic_deg", "pitch_deg",
    "share", "base_margin", "target_azimuth_deg", "target_altitude_deg", "target_x", "target_y",
    "skyline_deg", "clearance_deg", "play_m", "play_minutes", "swing_m_per_minute", "time",
)  # fmt: skip
OF_A_LENS: Final = ("shutter_s", "trail_core_px", "hyperfocal_m", "infinity_blur_px")
OF_AN_ARC: Final = ("time", "lat", "lon", "distance_m", "clearance_deg")
EVERY: Final = 23
"""Which points of an arc are kept."""


def write(folder: Path, name: str) -> Path:
    """Write an outing and the raster it names; the same bytes in any checkout."""
    import rasterio
    from affine import Affine

    asked = OUTINGS[name]
    step = CELL_M / 111_195.0
    across = step / math.cos(math.radians(asked["lat"]))
    n = HALF_CELLS
    east, north = np.meshgrid(np.arange(-n, n + 1) * CELL_M, np.arange(n, -n - 1, -1) * CELL_M)
    away = np.hypot(east, north)
    heights = 0.01 * east + 45.0 * np.sin(east / 900.0) * np.cos(north / 1300.0)
    heights = 400.0 + np.clip((away - 400.0) / 600.0, 0.0, 1.0) * heights
    heights += 380.0 * np.exp(-((away - 6500.0) ** 2) / (2.0 * 700.0**2)) * (away > 1000.0)
    place = Affine(
        across, 0, asked["lon"] - (n + 0.5) * across, 0, -step, asked["lat"] + (n + 0.5) * step
    )
    with rasterio.open(
        folder / f"{name}.tif", "w", driver="GTiff", width=2 * n + 1, height=2 * n + 1, count=1,
        dtype="float32", crs="EPSG:4326", transform=place,
    ) as out:  # fmt: skip
        # Whole sixteenths of a metre: no last bit of a sine decides.
        out.write((np.round(heights * 16.0) / 16.0).astype(np.float32), 1)
    sections = {
        "ground": {"elevation": f"{name}.tif", "vertical_sigma_m": 3.0},
        "subject": {"name": "Old Mill", "lat": asked["lat"], "lon": asked["lon"],
                    "height_m": 9.0, "width_m": 4.0},
        "night": asked["night"],
        "camera": {"sensor_width_mm": 36.0, "sensor_height_mm": 24.0, "width_px": 6000,
                   "height_px": 4000},
        "framing": asked["framing"],
    }  # fmt: skip
    lines = ["format = 1", f'name = "{name}"']
    for section, keys in sections.items():
        lines += [f"[{section}]", *(f"{key} = {json.dumps(value)}" for key, value in keys.items())]
        if section == "night":
            lines.append(f"evening = {asked['evening']}")
    for lens in asked["lenses"]:
        lines += ["[[lens]]", *(f"{key} = {json.dumps(value)}" for key, value in lens.items())]
    path = folder / f"{name}.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def kept(document: dict[str, Any]) -> list[dict[str, Any]]:
    """Choose what is held of each lens, from what ``stand --json`` prints."""
    found = []
    for lens in document["plan"]["lenses"]:
        stand = lens["stand"] or {}
        found.append(
            {
                "stand": {key: stand[key] for key in OF_A_STAND if key in stand},
                "figures": {key: lens[key] for key in OF_A_LENS},
                "usable": [[one["start"], one["end"]] for one in lens["usable"]],
                "arc": [[at[key] for key in OF_AN_ARC] for at in lens["arc"][::EVERY]],
            }
        )
    return found
