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
"""What ``LENS_FACTS`` says of what the air takes."""

_SKY_SOURCES: Final = (
    *("Garstang1986", "Garstang1989", "Garstang1991", "Cinzano2000"),
    *("Walker1977", "Patat2003", "Falchi2016"),
)

BEHIND_ROWS: Final[dict[str, Row]] = {
    "behind_mag_arcsec2": (
        "mag/arcsec2", "the dark sky behind the target, without Moon, twilight and Milky Way",
        "as asked, or the raster's zenith, or -2.5 log10((natural + towns) / 108000 cd/m2)",
        ("behind_from", "behind_natural_cd_m2", "behind_towns_cd_m2"), _SKY_SOURCES,
    ),
    "behind_cd_m2": (
        "cd/m2", "the same as luminance", "108000 x 10^(-0.4 m)", ("behind_mag_arcsec2",),
        ("Falchi2016",),
    ),
    "behind_natural_cd_m2": (
        "cd/m2", "of it natural; not known of a number that was asked",
        "0.174 mcd/m2 x (0.4 + 0.6 X) 10^(-0.4 k (X - 1)), X = (1 - 0.96 cos^2 h)^-0.5",
        ("target_altitude_deg", "haze_mag", "subject_ground_m"), ("Patat2003", "Falchi2016"),
    ),
    "behind_towns_cd_m2": (
        "cd/m2", "of it from towns, scattered towards the camera",
        (
            "sum over towns of 500 lm a head x Garstang's integral along the line of sight; with a "
            "raster its zenith's artificial light x the towns' light there over that overhead"
        ),
        ("target_altitude_deg", "target_azimuth_deg", "haze_mag", "subject_ground_m"),
        _SKY_SOURCES,
    ),
    "behind_sigma_mag": (
        "mag", "one standard deviation of the sky behind the target",
        (
            "0.5 of one number; else 0.4 of the natural and 0.9 of the towns' light by their "
            "shares, 0.7 where a raster gives its level (judgement, no source)"
        ),
        ("behind_natural_cd_m2", "behind_towns_cd_m2"), (),
    ),
    "behind_from": ("", "where that comes from", "brightness_from as asked", (), ()),
    "behind_town": (
        "", "the town that adds the most", "largest of the sum", ("behind_towns_cd_m2",), (),
    ),
}  # fmt: skip
"""What ``LENS_FACTS`` says of these numbers."""
