"""Where every number of a plan comes from: inputs, formula and source, as data."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import NothingFoundError
from backbearing.base.plain import plain
from backbearing.base.references import REFERENCES
from backbearing.explain.air import AIR_ROWS, BEHIND_ROWS
from backbearing.explain.optics import OPTICS_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan


@dataclass(frozen=True, slots=True)
class Fact:
    """What is always true of a quantity, whatever its value.

    ``inputs`` name other quantities: of the same lens, of the plan, or of what was asked;
    ``sure`` says how far the number can be trusted, where the inputs do not.
    """

    unit: str
    meaning: str
    formula: str
    inputs: tuple[str, ...]
    sources: tuple[str, ...] = ()
    sure: str = ""


@dataclass(frozen=True, slots=True)
class Explanation:
    """One number of a plan with all that stands behind it."""

    name: str
    value: Any
    unit: str
    meaning: str
    formula: str
    inputs: dict[str, Any]
    sources: tuple[str, ...]
    sure: str = ""


_OPTICS = ("focal_length_mm", "projection", "frame_height_mm")

LENS_FACTS: dict[str, Fact] = {
    "time": Fact(
        "UTC",
        "the moment the stand is for",
        "the asked minute; else the middle of the longest stretch without a limit",
        ("asked_at", "usable"),
    ),
    "lat": Fact(
        "degrees", "latitude of the stand", "end of the geodesic from the subject",
        ("subject_lat", "subject_lon", "bearing_deg", "distance_m"), ("Karney2013",),
    ),
    "lon": Fact(
        "degrees", "longitude of the stand", "end of the geodesic from the subject",
        ("subject_lat", "subject_lon", "bearing_deg", "distance_m"), ("Karney2013",),
    ),
    "ground_m": Fact(
        "m", "ground elevation at the stand",
        "bilinear between the four nearest posts; or ground at the subject less the measured drop",
        ("ground_source", "elevation", "stand_drop_m", "subject_ground_m"),
    ),
    "distance_m": Fact(
        "m",
        "distance from the stand to the subject, along the ground",
        "the distance at which altitude(top) - altitude(base) = a(top) - a(base), where a is the "
        "angle that the projection gives to the asked heights on the sensor: atan(y/f) for "
        "rectilinear, 2 asin(y/2f) for equisolid",
        (*_OPTICS, "asked_share", "asked_base_margin", "subject_height_m", "base_height_m",
         "eye_height_m", "ground_m", "subject_ground_m", "refraction_k"),
        ("Ray2002", "Ghilani2012"),
    ),
    "bearing_deg": Fact(
        "degrees true",
        "azimuth at the stand towards the subject",
        "target azimuth at the stand less the asked offset",
        ("target_azimuth_deg", "offset_deg"), ("Karney2013",),
    ),
    "bearing_magnetic_deg": Fact(
        "degrees magnetic", "the same bearing by the compass needle",
        "true bearing less the model's declination on the date",
        ("bearing_deg", "time"), ("WMM2025",),
    ),
    "pitch_deg": Fact(
        "degrees", "altitude of the frame's centre",
        "altitude of the subject's base less its angle from the axis",
        (*_OPTICS, "asked_base_margin", "distance_m", "eye_height_m"), ("Ray2002",),
    ),
    "share": Fact(
        "of frame height", "what the subject takes of the frame, projected back",
        "y(top) - y(base)", (*_OPTICS, "pitch_deg", "distance_m", "subject_height_m"), ("Ray2002",),
    ),
    "base_margin": Fact(
        "of frame height", "frame below the subject's base, projected back",
        "y(base)", (*_OPTICS, "pitch_deg", "distance_m"), ("Ray2002",),
    ),
    "target_azimuth_deg": Fact(
        "degrees true", "azimuth of the target at the stand",
        "apparent place of date turned to the local horizon",
        ("target", "lat", "lon", "time"), ("Skyfield", "DE421", "Reid2004"),
    ),
    "target_altitude_deg": Fact(
        "degrees", "apparent altitude of the target at the stand",
        "apparent place of date turned to the local horizon, raised by refraction "
        "cot(h + 7.31/(h + 4.4)) arcminutes, scaled by the standard atmosphere",
        ("target", "lat", "lon", "time", "ground_m"),
        ("Skyfield", "DE421", "Bennett1982", "USSA1976"),
    ),
    "target_x": Fact(
        "of frame width", "where the target falls, from the left edge",
        "projection about the camera's axis",
        (*_OPTICS, "pitch_deg", "bearing_deg", "target_azimuth_deg", "target_altitude_deg"),
        ("Ray2002",),
    ),
    "target_y": Fact(
        "of frame height", "where the target falls, from the bottom edge",
        "projection about the camera's axis",
        (*_OPTICS, "pitch_deg", "bearing_deg", "target_azimuth_deg", "target_altitude_deg"),
        ("Ray2002",),
    ),
    "behind_subject": Fact(
        "", "whether the subject itself hides the target",
        "the sight line pierces the subject's outline (or box) in its upright plane; a gap counts "
        "as open where a disc of radius s tan(play) fits",
        ("target_azimuth_deg", "target_altitude_deg", "bearing_deg", "distance_m",
         "subject_height_m", "play_deg"),
    ),
    "skyline_deg": Fact(
        "degrees", "altitude of the terrain skyline at the target's azimuth",
        "largest atan((z - eye - (1 - k) s^2 / 2R) / s) along the ray, z bilinear; where a "
        "measured mark stands higher, its own",
        ("lat", "lon", "ground_m", "eye_height_m", "target_azimuth_deg", "refraction_k",
         "elevation", "raised_by_marks_deg"),
        ("Ghilani2012", "Brunner1984"),
    ),
    "skyline_distance_m": Fact(
        "m", "how far that skyline point is", "distance s of the largest angle",
        ("skyline_deg",), ("Ghilani2012",),
    ),
    "clearance_deg": Fact(
        "degrees", "target above the skyline; negative is hidden",
        "target altitude less skyline altitude", ("target_altitude_deg", "skyline_deg"),
    ),
    "clearance_sigma_deg": Fact(
        "degrees", "one standard deviation of the clearance",
        "spread of the highest of the points near the skyline, whose heights err by "
        "local^2 exp(-4 h^2 / range^2) + wide^2 (1 - 1.5 x + 0.5 x^3), the eye's ground too; with "
        "0.1 m of eye height, the position and 0.03 of k; over a measured mark its reading's, its "
        "distance's and the eye's",
        ("vertical_sigma_m", "local_sigma_m", "error_range_m", "position_sigma_m",
         "skyline_distance_m", "skyline_deg", "elevation"),
        ("Rolstad2009", "Hugonnet2022", "Farr2007", "CopernicusDEM", "Brunner1984"),
    ),
    "clearance_bias_deg": Fact(
        "degrees", "how much higher than found the true skyline stands on average",
        "mean of the same highest, less the skyline found",
        ("vertical_sigma_m", "local_sigma_m", "error_range_m", "position_sigma_m",
         "skyline_distance_m", "skyline_deg", "elevation"),
        ("Rolstad2009", "Hugonnet2022"),
    ),
    "verdict": Fact(
        "", "what the clearance is worth",
        "less its bias: clears beyond 2.5 standard deviations, hidden beyond 2, else too close",
        ("clearance_deg", "clearance_bias_deg", "clearance_sigma_deg"),
    ),
    "canopy_clearance_deg": Fact(
        "degrees", "clearance if trees stood on all ground beyond the clearing",
        "target altitude less the skyline of ground raised by the trees' height",
        ("target_altitude_deg", "canopy_m", "clearing_m", "skyline_deg"),
    ),
    "cloud_site": Fact(
        "of the sky", "cloud over the stand at its minute, by the outing's forecast",
        "nearest point, linear between the forecast's times; 1 - (1 - low)(1 - middle)(1 - high)",
        ("lat", "lon", "time"), ("Geleyn1979",),
    ),
    "cloud_age_h": Fact(
        "h", "how old the forecast is at that minute", "the minute less the beginning of its run",
        ("time",),
    ),
    "cloud_towards": Fact(
        "of the sky", "cloud where the line of sight to the target passes 2, 5 and 9 km",
        "at R (arccos(R0 cos(altitude) / R1) - altitude) along the azimuth; layers joined as over "
        "the stand",
        ("lat", "lon", "ground_m", "time", "target_azimuth_deg", "target_altitude_deg"),
        ("Geleyn1979",),
    ),
    "bare_skyline_deg": Fact(
        "degrees", "skyline of the ground without the trees and buildings on it",
        "the same march over the bare ground; the skyline itself is that of their tops",
        ("elevation", "eye_height_m", "refraction_k"), ("Karney2013", "Ghilani2012"),
    ),
    "skyline_cover": Fact(
        "", "what makes the skyline on that ground",
        "the cover of the cells about the skyline point: canopy, else surface less ground, else "
        "the map's shapes with heights by tag or, as a guess, by kind",
        ("elevation", "cover", "skyline_deg"), ("OSMTags",),
    ),
    "skyline_break_deg": Fact(
        "degrees", "subject's top above the land behind it; negative is drowned",
        "altitude of the top less the largest altitude of the ground beyond the subject",
        ("distance_m", "subject_height_m", "eye_height_m", "elevation", "refraction_k"),
    ),
    "play_m": Fact(
        "m", "sideways room before the target leaves its place",
        "distance x tan(play)", ("distance_m", "play_deg"),
    ),
    "play_minutes": Fact(
        "minutes", "time before the target leaves its place",
        "play over the target's motion on the sky in a minute", ("play_deg", "target"),
    ),
    "swing_m_per_minute": Fact(
        "m/min", "sideways move of the stand; positive is left, facing the subject",
        "distance x turn of the target's azimuth in a minute (radians)",
        ("distance_m", "target_azimuth_deg", "time"), ("Meeus1998",),
    ),
    "shutter_s": Fact(
        "s", "longest standard shutter whose trail at the target is accepted",
        "largest of the standard series with f w t cos(dec) / pitch at most the accepted trail",
        ("focal_length_mm", "accepted_trail_px", "pixel_pitch_um"), ("Meeus1998",),
    ),
    "trail_core_px": Fact(
        "px", "trail at the target with that shutter",
        "sky turned about the pole by w t, projected before and after",
        ("shutter_s", "focal_length_mm", "pixel_pitch_um", "pitch_deg"), ("Meeus1998",),
    ),
    "trail_corner_px": Fact(
        "px", "trail at the worst corner with that shutter",
        "sky turned about the pole by w t, projected before and after",
        ("shutter_s", "focal_length_mm", "pixel_pitch_um", "pitch_deg"), ("Meeus1998",),
    ),
    "infinity_blur_px": Fact(
        "px", "blur of the subject with focus at infinity",
        "f^2 / (N s) over the pixel pitch",
        ("focal_length_mm", "f_number", "distance_m", "pixel_pitch_um"), ("Ray2002",),
    ),
    "hyperfocal_m": Fact(
        "m", "hyperfocal distance, circle of confusion 0.03 mm",
        "f^2 / (N c) + f", ("focal_length_mm", "f_number"), ("Ray2002",),
    ),
}  # fmt: skip
LENS_FACTS |= {key: Fact(*row) for key, row in (OPTICS_ROWS | AIR_ROWS | BEHIND_ROWS).items()}


def explanations(plan: Plan) -> dict[str, Explanation]:
    """Explain every number of every lens, keyed ``85mm.distance_m``."""
    return {
        one.name: one for lens in plan.lenses for one in lens_explanations(plan, lens, LENS_FACTS)
    }


def lens_explanations(
    plan: Plan,
    lens_plan: LensPlan,
    facts: Mapping[str, Fact],
    *,
    prefix: str = "",
    more: Mapping[str, Any] | None = None,
) -> Iterator[Explanation]:
    """Explain one lens's numbers; ``more`` are values that the plan does not hold by itself."""
    values = _values(plan, lens_plan) | dict(more or {})
    label = lens_plan.lens.label.replace(" ", "")
    for key, fact in facts.items():
        yield Explanation(
            name=f"{prefix}{label}.{key}",
            value=values.get(key),
            unit=fact.unit,
            meaning=fact.meaning,
            formula=fact.formula,
            inputs={i: values.get(i) for i in fact.inputs},
            sources=tuple(REFERENCES[source] for source in fact.sources),
        )


def explain(plan: Plan, name: str) -> list[Explanation]:
    """Explain one number, or one quantity for every lens when no lens is named.

    Raises
    ------
    NothingFoundError
        When nothing has that name; the message lists the nearest ones.
    """
    return matching(explanations(plan), name, LENS_FACTS)


def matching(
    known: Mapping[str, Explanation], name: str, quantities: Iterable[str]
) -> list[Explanation]:
    """Choose explanations by full name, by quantity, or by what comes before the last dot.

    Raises
    ------
    NothingFoundError
        When nothing has that name; the message lists the nearest ones.
    """
    found = chosen(known, name)
    if found:
        return [known[key] for key in found]
    wanted = name.replace(" ", "")
    if wanted in quantities and wanted not in known:
        raise NothingFoundError(
            f"{name} has no number here: this night has no such stretch, or no stand was given "
            "with --from-stand.",
            name=name,
        )
    raise no_such(name, [*known, *quantities])


def chosen(known: Iterable[str], name: str) -> list[str]:
    """Choose names by the whole, by quantity, or by what comes before the last dot."""
    wanted, names = name.replace(" ", ""), list(known)
    found = [key for key in names if wanted in (key, *key.split(".", 1)[-1:])]
    return found or [key for key in names if key.rsplit(".", 1)[0] == wanted]


def no_such(name: str, known: Iterable[str]) -> NothingFoundError:
    """Make the refusal of a name, with the nearest of those that there are."""
    near = difflib.get_close_matches(name.replace(" ", ""), list(known), n=3, cutoff=0.4)
    hint = f"did you mean {', '.join(near)}?" if near else "run `backbearing explain` for the list."
    return NothingFoundError(f"No number is called {name!r}", hint=hint, name=name)


def _values(plan: Plan, lens_plan: LensPlan) -> dict[str, Any]:
    """Gather everything that an explanation may name, for one lens."""
    subject, framing, camera = plan.subject, plan.framing, plan.camera
    values: dict[str, Any] = {
        "subject_lat": subject.lat,
        "subject_lon": subject.lon,
        "subject_height_m": subject.height_m,
        "base_height_m": subject.base_height_m,
        "subject_ground_m": plan.subject_ground_m,
        "asked_share": lens_plan.asked_share,
        "share_of": framing.share_of,
        "subject_width_m": subject.shown_width_m,
        "asked_base_margin": framing.base_margin,
        "asked_at": lens_plan.asked_at,
        "offset_deg": framing.offset_deg,
        "eye_height_m": framing.eye_height_m,
        "play_deg": framing.play_deg,
        "stand_drop_m": framing.stand_drop_m,
        "frame_height_mm": camera.frame_height_mm,
        "pixel_pitch_um": camera.pixel_pitch_um,
        "accepted_trail_px": plan.accepted_trail_px,
        "refraction_k": plan.refraction_k,
        "vertical_sigma_m": plan.ground.vertical_sigma_m,
        "local_sigma_m": plan.ground.local_sigma_m,
        "error_range_m": plan.ground.error_range_m,
        "elevation": plan.ground.source,
        "raised_by_marks_deg": _raised_by_marks(plan, lens_plan),
        "cover": plan.ground.cover,
        "canopy_m": plan.ground.canopy_m,
        "clearing_m": plan.ground.clearing_m,
        "target": f"{plan.target.name}: {plan.target.source}",
        "usable": [f"{plain(s.start)} to {plain(s.end)}" for s in lens_plan.usable],
    }
    values |= plain(lens_plan.lens)
    if lens_plan.stand is not None:
        values |= plain(lens_plan.stand)
    own = ("shutter_s", "trail_core_px", "trail_corner_px", "infinity_blur_px", "hyperfocal_m",
           "core_width_frame_heights")  # fmt: skip
    values |= {key: plain(getattr(lens_plan, key)) for key in own}
    return values | _optics_values(lens_plan)


def _raised_by_marks(plan: Plan, lens_plan: LensPlan) -> float:
    """What a skyline mark adds to the skyline at a lens's stand; 0 in a plan without marks."""
    at_stands = () if plan.land.marks is None else plan.land.marks.at_stands
    label = lens_plan.lens.label
    return next((at.raises_deg for at in at_stands if at.lens == label), 0.0)


def _optics_values(lens_plan: LensPlan) -> dict[str, Any]:
    """Shutter, focus and light of one lens, laid flat."""
    values: dict[str, Any] = {}
    for part in (lens_plan.shutter, lens_plan.focus, lens_plan.light):
        values |= plain(part) or {}
    values |= (plain(lens_plan.air) or {}) | (plain(lens_plan.behind) or {})
    asked = values.pop("asked", {})
    values |= asked | (asked.get("sensor") or {})
    if lens_plan.shutter is not None and lens_plan.shutter.panorama is not None:
        values["panorama_frames"] = lens_plan.shutter.panorama.frames
        values["panorama_overlap"] = lens_plan.shutter.panorama.overlap
        values["panorama_shooting_minutes"] = lens_plan.shutter.panorama.shooting_minutes
        values["panorama_sky_turn_deg"] = lens_plan.shutter.panorama.sky_turn_deg
    return values
