"""The shape of an outing file: its sections, keys and types, for pydantic.

Kept apart from :mod:`backbearing.outing.request` so that pydantic loads only when a file
is read. What a key means when it is left out stands in the object that it becomes.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    Field,
    StrictBool,
    StrictInt,
    StrictStr,
    model_validator,
)

from backbearing.base.units import METRIC, UnitsName
from backbearing.camera.sensor import Sensor
from backbearing.outing.camera_shapes import CameraShape, LensShape, Section, defaults_of
from backbearing.outing.field_types import (
    AnyPlace,
    Clock,
    Count,
    Evening,
    Latitude,
    Longitude,
    Minutes,
    Name,
    Number,
    PathText,
    Text,
    moon_accepted,
    one_or_more,
)
from backbearing.outing.light_request import SkyFrom
from backbearing.outing.light_shapes import LightShape, TrackerShape
from backbearing.outing.mark_shapes import ReadFromShape, SkylineMarkShape
from backbearing.outing.marks_request import MOST_MARKS
from backbearing.outing.request import (
    ExposureRequest,
    GroundRequest,
    NightRequest,
    SafetyRequest,
)
from backbearing.outing.scouting_request import MOST_NIGHTS, ScoutRequest, Weights
from backbearing.outing.session_request import PictureRequest, SessionRequest
from backbearing.outing.subject import Framing, Subject

MOST_TILES = 10_000
"""Elevation files of one outing."""

MOST_LENSES = 64
"""Lenses of one outing."""

Weight = Annotated[Number, Field(ge=0, le=1000)]


_GROUND, _NIGHT = defaults_of(GroundRequest), defaults_of(NightRequest)
_SUBJECT, _FRAMING = defaults_of(Subject), defaults_of(Framing)
_SENSOR, _EXPOSURE = defaults_of(Sensor), defaults_of(ExposureRequest)
_SAFETY = defaults_of(SafetyRequest)
_SESSION, _SCOUTING = defaults_of(SessionRequest), defaults_of(ScoutRequest)
_WEIGHTS, _PICTURE = defaults_of(Weights), defaults_of(PictureRequest)


class GroundShape(Section):
    """[ground]: the elevation raster and the user's own places."""

    elevation: Annotated[
        list[PathText], BeforeValidator(one_or_more), Field(min_length=1, max_length=MOST_TILES)
    ]
    places: PathText | None = None
    canopy: PathText | None = None
    surface: PathText | None = None
    woods: PathText | None = None
    vertical_unit: Literal["metre", "foot", "US survey foot"] | None = None
    band: Annotated[Count, Field(ge=1, le=10_000)] | None = None
    voids: Annotated[list[Number], Field(max_length=100)] = []
    product: Name = ""
    vertical_sigma_m: Annotated[Number, Field(gt=0)] | None = None
    relative_sigma_m: Annotated[Number, Field(gt=0)] | None = None
    error_range_m: Annotated[Number, Field(gt=0)] | None = None
    canopy_m: Annotated[Number, Field(ge=0, le=120)] = _GROUND["canopy_m"]
    clearing_m: Annotated[Number, Field(ge=0)] = _GROUND["clearing_m"]
    refraction_k: Annotated[Number, Field(ge=-1, lt=1)] = _GROUND["refraction_k"]
    reach_m: Annotated[Number, Field(gt=0, le=500_000)] = _GROUND["reach_m"]
    credit: Text = ""
    skyline_marks: PathText | None = None
    marks_correct: StrictBool = False
    marks_tilt_deg: Annotated[Number, Field(gt=-45, lt=45)] | None = None
    marks_turn_deg: Annotated[Number, Field(ge=-180, le=180)] | None = None


class SubjectShape(Section):
    """[subject]: the lone thing on the land."""

    name: Name = _SUBJECT["name"]
    kind: Name = ""
    place: AnyPlace | None = None
    lat: Latitude | None = None
    lon: Longitude | None = None
    height_m: Number
    width_m: Number | None = None
    base_height_m: Number = _SUBJECT["base_height_m"]
    ground_m: Number | None = None
    position_sigma_m: Annotated[Number, Field(ge=0)] = _SUBJECT["position_sigma_m"]
    height_sigma_m: Annotated[Number, Field(ge=0)] = _SUBJECT["height_sigma_m"]
    width_sigma_m: Annotated[Number, Field(ge=0)] = _SUBJECT["width_sigma_m"]
    outline: PathText | None = None
    widths_m: Annotated[list[list[Number]], Field(max_length=4000)] | None = None

    @model_validator(mode="after")
    def _one_place(self) -> SubjectShape:
        told = [key for key in ("lat", "lon") if getattr(self, key) is not None]
        if self.place is None and len(told) == 2:
            return self
        if self.place is not None and not told:
            return self
        message = 'say where it stands in one way, lat and lon, or place = "31 30 S 148 12 E"'
        if self.place is None and told:
            message = f"write both lat and lon, or place in their stead; only {told[0]} is there"
        raise ValueError(message)

    @model_validator(mode="after")
    def _one_shape(self) -> SubjectShape:
        if self.outline is not None and self.widths_m is not None:
            message = "give the shape in one way only: outline or widths_m"
            raise ValueError(message)
        return self


class TargetShape(Section):
    """[target]: what stands behind the subject; the core when nothing is written."""

    name: Literal["core", "bright cloud", "bulge light", "dark lane"] | None = None
    galactic_l_deg: Number | None = None
    galactic_b_deg: Number | None = None
    ra_deg: Number | None = None
    dec_deg: Number | None = None
    body: StrictStr | None = None
    star: StrictStr | None = None

    @model_validator(mode="after")
    def _one_way(self) -> TargetShape:
        pairs = (
            ("galactic_l_deg", "galactic_b_deg"),
            ("ra_deg", "dec_deg"),
        )
        for one, other in pairs:
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                message = f"write both {one} and {other}"
                raise ValueError(message)
        ways = [self.name, self.galactic_l_deg, self.ra_deg, self.body, self.star]
        if sum(way is not None for way in ways) > 1:
            message = (
                "name the target in one way only: name, galactic_*, ra_deg/dec_deg, body or star"
            )
            raise ValueError(message)
        return self


class NightShape(Section):
    """[night]: the evening's date, and what counts as dark and clear."""

    evening: Evening
    time_zone: StrictStr | None = None
    sun_below_deg: Annotated[Number, Field(ge=-90, le=0)] = _NIGHT["sun_below_deg"]
    moon: Annotated[str | float, BeforeValidator(moon_accepted)] = _NIGHT["moon"]
    moon_adds_mag: Annotated[Number, Field(ge=0, le=10)] | None = None
    clear_by_deg: Annotated[Number, Field(ge=-10, le=90)] = _NIGHT["clear_by_deg"]
    at: Clock = None
    aerosol_mag: Annotated[Number, Field(ge=0, le=5)] | None = None
    forecast: PathText | None = None


class FramingShape(Section):
    """[framing]: how subject and target stand in the frame."""

    share: Number = _FRAMING["share"]
    base_margin: Number = _FRAMING["base_margin"]
    edge_margin: Number = _FRAMING["edge_margin"]
    offset_deg: Number = _FRAMING["offset_deg"]
    eye_height_m: Number = _FRAMING["eye_height_m"]
    play_deg: Number = _FRAMING["play_deg"]
    stand_drop_m: Number | None = None
    share_of: Literal["height", "width"] = _FRAMING["share_of"]
    level: bool = False
    above_top_deg: Number | None = None
    target_box: Annotated[list[Number], Field(min_length=4, max_length=4)] | None = None
    behind_subject: bool = False


class BreakShape(Section):
    """One entry of [session] breaks."""

    at: Clock
    minutes: Annotated[Number, Field(gt=0, le=600)]


class SessionShape(Section):
    """[session]: all lenses in one night, in the best order."""

    not_before: Clock = None
    not_after: Clock = None
    breaks: Annotated[list[BreakShape], Field(max_length=48)] = []
    walk_minutes: Minutes = 2.0
    setup_minutes: Minutes = 4.0
    focus_minutes: Minutes = 3.0
    frames_minutes: Annotated[Number, Field(gt=0, le=600)] | None = None
    late_minutes: Annotated[list[Annotated[Number, Field(gt=0, le=600)]], Field(max_length=12)] = (
        list(_SESSION["late_minutes"])
    )
    wait_costs_m: Annotated[Number, Field(ge=0, le=1000)] = _SESSION["wait_costs_m"]
    room_minutes: Minutes = _SESSION["room_minutes"]
    pace_m: Annotated[Number, Field(ge=0.2, le=2)] | None = None
    night_factor: Annotated[Number, Field(ge=1, le=10)] = _SESSION["night_factor"]
    parking: StrictStr | None = None
    light: Name | None = None
    light_width_m: Annotated[Number, Field(gt=0, le=20)] = _SESSION["light_width_m"]
    light_height_m: Annotated[Number, Field(gt=0, le=50)] = _SESSION["light_height_m"]
    light_reach_m: Annotated[Number, Field(ge=5, le=500)] = _SESSION["light_reach_m"]
    person_height_m: Annotated[Number, Field(gt=0, le=3)] = _SESSION["person_height_m"]
    above_top_wanted_deg: Annotated[Number, Field(gt=-90, lt=90)] | None = None
    above_top_costs_m_per_deg: Weight = _PICTURE["above_top_costs_m_per_deg"]
    ridge_costs_m_per_deg: Weight = _PICTURE["ridge_costs_m_per_deg"]
    skyline_break_wanted_deg: Annotated[Number, Field(gt=-90, lt=90)] = _PICTURE[
        "skyline_break_wanted_deg"
    ]
    skyline_break_costs_m_per_deg: Weight = _PICTURE["skyline_break_costs_m_per_deg"]
    alike_costs_m_per_deg: Weight = _PICTURE["alike_costs_m_per_deg"]
    stand_before_shows_costs_m: Weight = _PICTURE["stand_before_shows_costs_m"]
    light_moves_costs_m: Weight = _PICTURE["light_moves_costs_m"]
    air_costs_m_per_mag: Weight = _PICTURE["air_costs_m_per_mag"]
    bright_sky_costs_m_per_mag: Weight = _PICTURE["bright_sky_costs_m_per_mag"]
    cloud_costs_m: Weight = _PICTURE["cloud_costs_m"]
    line_change_minutes: Minutes = _PICTURE["line_change_minutes"]


class ScoutingShape(Section):
    """[scouting]: many candidates over many nights; weights, limits and files."""

    candidates: PathText | None = None
    ways: PathText | None = None
    towns: PathText | None = None
    sky_brightness: PathText | None = None
    sky_unit: Literal["mag/arcsec2", "ratio", "mcd/m2"] = _SCOUTING["sky_unit"]
    first_night: Evening | None = None
    nights: Annotated[StrictInt, Field(ge=1, le=MOST_NIGHTS)] = _SCOUTING["nights"]
    least_minutes: Annotated[Number, Field(gt=0, le=1440)] = _SCOUTING["least_minutes"]
    longest_walk_m: Annotated[Number, Field(gt=0, le=50_000)] = _SCOUTING["longest_walk_m"]
    steepest_deg: Annotated[Number, Field(gt=0, le=60)] = _SCOUTING["steepest_deg"]
    dark: Weight = _WEIGHTS["dark"]
    altitude: Weight = _WEIGHTS["altitude"]
    skyline_break: Weight = _WEIGHTS["skyline_break"]
    isolation: Weight = _WEIGHTS["isolation"]
    ground: Weight = _WEIGHTS["ground"]
    walk: Weight = _WEIGHTS["walk"]
    town_glow: Weight = _WEIGHTS["town_glow"]
    sky: Weight = _WEIGHTS["sky"]
    air: Weight = _WEIGHTS["air"]
    behind: Weight = _WEIGHTS["behind"]
    cloud: Weight = _WEIGHTS["cloud"]


class ExposureShape(Section):
    """[exposure]: how bright the sky is, how the sensor counts, how many frames."""

    iso: Annotated[Number, Field(gt=0)] = _EXPOSURE["iso"]
    sky_mag_arcsec2: Annotated[Number, Field(ge=10, le=24)] = _EXPOSURE["sky_mag_arcsec2"]
    brightness_from: SkyFrom = _EXPOSURE["brightness_from"]
    core_mag_arcsec2: Annotated[Number, Field(ge=10, le=24)] = _EXPOSURE["core_mag_arcsec2"]
    frames: Annotated[Count, Field(ge=1)] = _EXPOSURE["frames"]
    gain: Annotated[Number, Field(gt=0)] = _EXPOSURE["gain"]
    pause_s: Annotated[Number, Field(ge=0)] = _EXPOSURE["pause_s"]
    quantum_efficiency: Number = _SENSOR["quantum_efficiency"]
    read_noise_e: Number = _SENSOR["read_noise_e"]
    full_well_e: Number | None = None
    base_iso: Number = _SENSOR["base_iso"]


class SafetyShape(Section):
    """[safety]: what the sheet should carry for a bad moment."""

    emergency_number: Name = ""
    position_sigma_m: Annotated[Number, Field(gt=0)] = _SAFETY["position_sigma_m"]


class LearnedShape(Section):
    """[learned]: what `review --learn` notes for itself; no plan depends on it."""

    from_frames: Annotated[list[Name], Field(max_length=10_000)] = []
    compass_off_deg: Annotated[Number, Field(ge=-180, le=180)] | None = None
    compass_sigma_deg: Annotated[Number, Field(ge=0, le=180)] | None = None


class OutingShape(Section):
    """A whole outing file."""

    format: Literal[1]
    name: Name = "outing"
    units: UnitsName = METRIC.name
    ground: GroundShape
    subject: SubjectShape
    target: TargetShape = TargetShape()
    night: NightShape
    camera: CameraShape
    framing: FramingShape = FramingShape()
    lens: Annotated[list[LensShape], Field(min_length=1, max_length=MOST_LENSES)]
    exposure: ExposureShape = ExposureShape()
    light: LightShape | None = None
    tracker: TrackerShape | None = None
    session: SessionShape | None = None
    scouting: ScoutingShape = ScoutingShape()
    safety: SafetyShape = SafetyShape()
    learned: LearnedShape = LearnedShape()
    skyline_mark: Annotated[list[SkylineMarkShape], Field(max_length=MOST_MARKS)] = []


_SECTIONS: dict[Any, Any] = {
    "lens": LensShape,
    "session": SessionShape,
    "light": LightShape,
    "tracker": TrackerShape,
    "breaks": BreakShape,
    "skyline_mark": SkylineMarkShape,
    "from": ReadFromShape,
}
"""Sections whose annotation is not the section itself."""


def known_keys(place: list[Any]) -> list[str]:
    """List the keys that may stand at a place in the file."""
    fields: Any = OutingShape.model_fields
    for part in place:
        if isinstance(part, int):
            continue
        section = _SECTIONS[part] if part in _SECTIONS else fields[part].annotation
        fields = section.model_fields
    return [field.alias or name for name, field in fields.items()]
