"""Rows of `explain` for what the air takes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from backbearing.explain.optics import Row

AIR_ROWS: Final[dict[str, Row]] = {
    "air_mass": (
        "", "path through the air to the target, 1 at the zenith",
        "1 / (sin h + 0.50572 (h + 6.07995)^-1.6364)", ("target_altitude_deg",), ("Kasten1989",),
    ),
    "haze_mag": (
        "mag", "what haze costs a unit of air mass, V",
        "aerosol_mag as asked, else 0.1 exp(-site / 1500 m)", ("subject_ground_m",),
        ("Schaefer1998",),
    ),
    "lost_mag": (
        "mag", "what the air takes from the target, V",
        "(0.1066 exp(-site / 8200 m) + haze + 0.031) x air mass",
        ("air_mass", "haze_mag", "subject_ground_m"), ("Schaefer1998", "Kasten1989"),
    ),
    "dimmer_mag": (
        "mag", "how much dimmer that makes it than at the zenith",
        "the same with air mass less 1", ("air_mass", "haze_mag", "subject_ground_m"),
        ("Schaefer1998", "Kasten1989"),
    ),
    "redder_mag": (
        "mag", "how much redder, B - V, than above the air",
        "(extinction at 0.44 less that at 0.55 um) x air mass; molecules w^-4, haze w^-1.3",
        ("air_mass", "haze_mag", "subject_ground_m"), ("Schaefer1998", "Kasten1989"),
    ),
    "air_sigma_mag": (
        "mag", "one standard deviation of what the air takes",
        "half of the haze (judgement, no source) x air mass", ("air_mass", "haze_mag"), (),
    ),
}  # fmt: skip
"""What ``LENS_FACTS`` says of these numbers."""
