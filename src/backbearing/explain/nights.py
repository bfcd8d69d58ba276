"""Where every number of `nights` comes from: the same kind of data as for a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.plain import plain
from backbearing.base.references import REFERENCES
from backbearing.explain.plan import Explanation, Fact

if TYPE_CHECKING:
    from backbearing.plan.season import Season

_PLACE = ("seen_from", "lat", "lon", "height_m")
_ENDS = ("start", "end")
_MOON = ("moon_lit", "moon_separation_deg", "moon_altitude_deg")
_ASKED = ("sun_below_deg", "moon", "moon_adds_mag_asked", "clear_by_deg")
_PLACE_OF_DATE = "apparent place of date turned to the local horizon, raised by refraction"

_STRETCH: Final[dict[str, Fact]] = {
    "start": Fact(
        "UTC", "when the last of the conditions begins to hold",
        "roots of Sun depth, Moon limb at -34 arcminutes (or as asked) and target less skyline "
        "less margin, sampled and polished on the full reduction",
        (*_ASKED, "target", *_PLACE), ("Skyfield", "DE421", "USNO", "Bennett1982", "Ghilani2012"),
    ),
    "end": Fact(
        "UTC", "when the first of the conditions stops holding", "as the start",
        (*_ASKED, "target", *_PLACE), ("Skyfield", "DE421", "USNO", "Bennett1982", "Ghilani2012"),
    ),
    "minutes": Fact("minutes", "length, as elapsed time", "end less start in UTC", _ENDS),
    "azimuth_start_deg": Fact(
        "degrees true", "azimuth of the target at the start", _PLACE_OF_DATE,
        ("start", "target", *_PLACE), ("Skyfield", "DE421"),
    ),
    "azimuth_end_deg": Fact(
        "degrees true", "azimuth of the target at the end", _PLACE_OF_DATE,
        ("end", "target", *_PLACE), ("Skyfield", "DE421"),
    ),
    "altitude_start_deg": Fact(
        "degrees", "apparent altitude of the target at the start", _PLACE_OF_DATE,
        ("start", "target", *_PLACE), ("Skyfield", "DE421", "Bennett1982", "USSA1976"),
    ),
    "altitude_end_deg": Fact(
        "degrees", "apparent altitude of the target at the end", _PLACE_OF_DATE,
        ("end", "target", *_PLACE), ("Skyfield", "DE421", "Bennett1982", "USSA1976"),
    ),
    "highest_deg": Fact(
        "degrees", "greatest altitude of the target in the stretch",
        "largest of nine moments evenly spread from start to end",
        (*_ENDS, "target"), ("Skyfield", "DE421", "Bennett1982"),
    ),
    "clearance_deg": Fact(
        "degrees", "target over the terrain skyline at the middle",
        "target altitude less the skyline's, found every half degree of azimuth",
        (*_ENDS, *_PLACE, "eye_height_m"), ("Ghilani2012", "Brunner1984"),
    ),
    "lean_start_deg": Fact(
        "degrees", "lean of the galactic plane at the target at the start; positive to the right",
        "direction of rising galactic longitude at the target against the vertical",
        ("start", "target", "lat", "lon"), ("ESA1997",),
    ),
    "lean_middle_deg": Fact(
        "degrees", "the same at the middle", "as at the start", (*_ENDS, "target"), ("ESA1997",)
    ),
    "lean_end_deg": Fact(
        "degrees", "the same at the end", "as at the start", ("end", "target"), ("ESA1997",)
    ),
    "band_share_up": Fact(
        "of the band's length", "how much of the Milky Way's middle stands above the skyline",
        "share of 61 points of the galactic equator, longitude -30 to 30 degrees, whose altitude "
        "exceeds the skyline's at their azimuth, at the middle",
        (*_ENDS, *_PLACE), ("ESA1997",),
    ),
    "moon_lit": Fact(
        "of the disc", "lit fraction of the Moon at the middle", "(1 + cos phase angle) / 2",
        _ENDS, ("Meeus1998", "DE421"),
    ),
    "moon_adds_mag": Fact(
        "mag/arcsec2", "most that the Moon brightens the sky at the target in the stretch",
        "ln(1 + B_moon / B_dark) / 0.92104, with B_moon = f(rho) I 10^(-0.4 k X_m) "
        "(1 - 10^(-0.4 k X)), k 0.172, dark zenith 21.6; largest of nine moments",
        _MOON, ("KS1991", "Garstang1989"),
    ),
    "moon_separation_deg": Fact(
        "degrees", "from the Moon to the target at the middle", "angle between their directions",
        (*_ENDS, "target"), ("DE421",),
    ),
    "moon_altitude_deg": Fact(
        "degrees", "apparent altitude of the Moon's centre at the middle", _PLACE_OF_DATE,
        (*_ENDS, *_PLACE), ("Skyfield", "DE421", "Bennett1982"),
    ),
    "moon_turn_deg": Fact(
        "degrees", "the Moon's azimuth less the target's at the middle; positive to the right",
        "difference of azimuths, -180 to 180; under 60 is back light, over 120 front light",
        (*_ENDS, *_PLACE), ("DE421",),
    ),
    "moon_over_ridge_deg": Fact(
        "degrees", "the Moon's centre over the terrain skyline at the middle",
        "Moon altitude less the skyline's at its azimuth, found every half degree",
        (*_ENDS, *_PLACE, "eye_height_m"), ("DE421", "Ghilani2012", "Brunner1984"),
    ),
    "ground_lux": Fact(
        "lux", "moonlight on level ground at the middle; 0 with the Moon behind the ridge",
        "0.313 lux x 10^(-0.4 (0.026 a + 4e-9 a^4)) x 10^(-0.4 k X_m) x sin(altitude), a the "
        "phase angle",
        ("moon_lit", "moon_altitude_deg", "moon_over_ridge_deg"), ("KS1991",),
    ),
    "face_lux": Fact(
        "lux", "moonlight at the middle on a face turned towards the Moon; 0 behind the ridge",
        "0.313 lux x 10^(-0.4 (0.026 a + 4e-9 a^4)) x 10^(-0.4 k X_m), a the phase angle",
        ("moon_lit", "moon_altitude_deg", "moon_over_ridge_deg"), ("KS1991",),
    ),
    "glow_adds_mag": Fact(
        "mag/arcsec2", "most that twilight brightens the sky at the target in the stretch",
        "twilight term by the Sun's depth, distance and the target's altitude, at both ends; "
        "within about 0.7 mag",
        _ENDS, ("Schaefer1998", "Patat2006"),
    ),
}  # fmt: skip

_NIGHT: Final[dict[str, Fact]] = {
    "cloud_site": Fact(
        "of the sky", "cloud over the place, by the outing's forecast",
        "at the middle of the longest stretch: nearest point, linear between the forecast's times",
        _PLACE, ("Geleyn1979",),
    ),
    "cloud_age_h": Fact(
        "h", "how old the forecast is then", "the moment less the beginning of its run", (),
    ),
    "cloud_towards": Fact(
        "of the sky", "cloud where the line of sight to the target passes 2, 5 and 9 km",
        "1 - (1 - low)(1 - middle)(1 - high), each where the line passes it",
        ("target", *_PLACE), ("Geleyn1979",),
    ),
    "dark_minutes": Fact(
        "minutes", "Sun deep enough", "time with the Sun's airless centre below the asked depth",
        ("sun_below_deg", *_PLACE), ("USNO", "DE421"),
    ),
    "clear_minutes": Fact(
        "minutes", "Sun deep enough and target clear of the skyline, whatever the Moon does",
        "sum of the windows and of the stretches that only the Moon spoils",
        ("sun_below_deg", "clear_by_deg"), ("Ghilani2012",),
    ),
    "window_minutes": Fact("minutes", "everything as asked", "sum of the windows", _ASKED),
    "glow_least_mag": Fact(
        "mag/arcsec2",
        "least that twilight brightens the target's sky while it is clear of the skyline",
        "twilight term by the Sun's depth, least of 33 moments of each stretch with the target "
        "clear of the skyline; within about 0.7 mag",
        ("sun_below_deg", "clear_by_deg", *_PLACE), ("Schaefer1998", "Patat2006"),
    ),
    "sun_lowest_deg": Fact(
        "degrees", "lowest altitude of the Sun's airless centre that night",
        "least of samples every 15 minutes", _PLACE, ("DE421",),
    ),
    "night_moon_lit": Fact(
        "of the disc", "lit fraction of the Moon in the middle of the night",
        "(1 + cos phase angle) / 2, from the Earth's centre", ("evening",), ("Meeus1998", "DE421"),
    ),
}  # fmt: skip

_CROSSING: Final[dict[str, Fact]] = {
    "time": Fact(
        "UTC", "the instant at which target and subject stand on one azimuth",
        "hour angle H from a cos H + b sin H = c with the site's own motion in c, then three "
        "passes on the full reduction",
        ("stand_lat", "stand_lon", "bearing_deg", "target"), ("Meeus1998", "IERS2010", "Skyfield"),
    ),
    "azimuth_deg": Fact(
        "degrees true", "azimuth of the target then: the subject's", _PLACE_OF_DATE,
        ("time", "bearing_deg"), ("Skyfield", "DE421"),
    ),
    "altitude_deg": Fact(
        "degrees", "apparent altitude of the target then", _PLACE_OF_DATE,
        ("time", "target"), ("Skyfield", "DE421", "Bennett1982", "USSA1976"),
    ),
    "subject_base_deg": Fact(
        "degrees", "altitude of the subject's visible base from the stand",
        "atan((z - eye - (1 - k) s^2 / 2R) / s)", ("distance_m", "eye_height_m"),
        ("Ghilani2012",),
    ),
    "subject_top_deg": Fact(
        "degrees", "altitude of the subject's top from the stand", "as the base",
        ("distance_m", "subject_height_m", "eye_height_m"), ("Ghilani2012",),
    ),
    "over_top_deg": Fact(
        "degrees", "target over the subject's top; negative is hidden by the subject",
        "target altitude less that of the top", ("altitude_deg", "subject_top_deg"),
    ),
    "minutes_within": Fact(
        "minutes", "how long the target stays within the asked angle of the subject",
        "between the passages of the bearing less and plus that angle, each in closed form",
        ("within_deg", "bearing_deg"), ("Meeus1998",),
    ),
    "turn_deg_per_minute": Fact(
        "degrees/minute", "how fast the target's azimuth moves; positive to the right",
        "difference of azimuth over the minute about the instant", ("time",), ("Meeus1998",),
    ),
    "skyline_deg": Fact(
        "degrees", "terrain skyline behind the subject",
        "largest atan((z - eye - (1 - k) s^2 / 2R) / s) along the ray",
        ("stand_lat", "stand_lon", "eye_height_m", "bearing_deg"), ("Ghilani2012", "Brunner1984"),
    ),
    "clearance_deg": Fact(
        "degrees", "target over that skyline", "target altitude less skyline altitude",
        ("altitude_deg", "skyline_deg"),
    ),
    "lean_deg": Fact(
        "degrees", "lean of the galactic plane at the target; positive to the right",
        "direction of rising galactic longitude at the target against the vertical",
        ("time", "target"), ("ESA1997",),
    ),
    "moon_adds_mag": Fact(
        "mag/arcsec2", "how much the Moon brightens the sky at the target then",
        "ln(1 + B_moon / B_dark) / 0.92104", ("time", "target"), ("KS1991", "Garstang1989"),
    ),
    "glow_adds_mag": Fact(
        "mag/arcsec2", "how much twilight brightens the sky at the target then",
        "twilight term by the Sun's depth; within about 0.7 mag",
        ("time", "target"), ("Schaefer1998", "Patat2006"),
    ),
    "share": Fact(
        "of frame height", "what the subject takes of a lens's frame at the stand",
        "y(top) - y(base), the base at the asked margin",
        ("distance_m", "subject_height_m"), ("Ray2002",),
    ),
    "target_x": Fact(
        "of frame width", "where the target falls, from the left edge",
        "projection about the camera's axis", ("azimuth_deg", "altitude_deg"), ("Ray2002",),
    ),
    "target_y": Fact(
        "of frame height", "where the target falls, from the bottom edge",
        "projection about the camera's axis", ("azimuth_deg", "altitude_deg"), ("Ray2002",),
    ),
    "bearing_deg": Fact(
        "degrees true", "azimuth at the stand towards the subject", "inverse geodesic problem",
        ("stand_lat", "stand_lon", "subject"), ("Karney2013",),
    ),
    "distance_m": Fact(
        "m", "from the stand to the subject along the ground", "inverse geodesic problem",
        ("stand_lat", "stand_lon", "subject"), ("Karney2013",),
    ),
}  # fmt: skip

NIGHT_FACTS: Final[dict[str, Fact]] = {
    **{f"window.{key}": fact for key, fact in _STRETCH.items()},
    **{f"night.{key}": fact for key, fact in _NIGHT.items()},
    **{f"crossing.{key}": fact for key, fact in _CROSSING.items()},
    "night.unknown_share": Fact(
        "of the ground around", "share of the rays to the asked reach that met unknown ground",
        "mean over azimuths every half degree", _PLACE,
    ),
}  # fmt: skip
"""Every number of `nights`; a stretch that only the Moon spoils has the facts of a window."""


def night_explanations(season: Season) -> dict[str, Explanation]:
    """Explain every number of a season's first window and first crossing, and of their night.

    Keyed ``window.clearance_deg``; a number that the season does not have is left out.
    """
    values = _values(season)
    return {
        name: Explanation(
            name=name,
            value=values[name],
            unit=fact.unit,
            meaning=fact.meaning,
            formula=fact.formula,
            inputs={key: _input(values, name, key) for key in fact.inputs},
            sources=tuple(REFERENCES[key] for key in fact.sources),
        )
        for name, fact in NIGHT_FACTS.items()
        if name in values
    }


def _input(values: dict[str, Any], name: str, key: str) -> Any:
    """Give an input's value: a sibling's where there is one, else one of the season's own."""
    return values.get(f"{name.partition('.')[0]}.{key}", values.get(key))


def _values(season: Season) -> dict[str, Any]:

    own = plain(season)
    values: dict[str, Any] = {
        key: own[key]
        for key in (
            "seen_from", "lat", "lon", "height_m", "eye_height_m", "sun_below_deg", "moon",
            "clear_by_deg", "within_deg",
        )
    }  # fmt: skip
    values |= {
        "target": season.target_name,
        "subject": season.subject_name,
        "subject_height_m": season.subject_height_m,
        "moon_adds_mag_asked": season.moon_adds_mag,
        "stand_lat": season.lat,
        "stand_lon": season.lon,
        "bearing_deg": own["bearing_deg"],
        "distance_m": own["distance_m"],
    }
    night = next((n for n in season.nights if n.windows or n.moonlit), season.nights[0])
    values["evening"] = night.evening.isoformat()
    values |= {f"night.{key}": getattr(night, key, None) for key in _NIGHT}
    values["night.sun_lowest_deg"] = night.events.sun_lowest_deg
    values["night.night_moon_lit"] = night.events.moon_lit
    values["night.unknown_share"] = season.unknown_share
    stretches = (*night.windows, *night.moonlit)
    if stretches:
        values |= {f"window.{key}": value for key, value in plain(stretches[0]).items()}
    if season.crossings:
        first = season.crossings[0]
        values |= {f"crossing.{key}": value for key, value in plain(first).items()}
        values |= {f"crossing.{key}": own[key] for key in ("bearing_deg", "distance_m")}
        if first.frames:
            values |= {f"crossing.{key}": value for key, value in plain(first.frames[0]).items()}
    return values
