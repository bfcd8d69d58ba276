"""The shape of an outing file: its sections, keys and types, for pydantic.

Kept apart from :mod:`backbearing.outing` so that pydantic loads only when a file
is read.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    FiniteFloat,
    StrictInt,
    StrictStr,
    model_validator,
)


def _number(value: Any) -> Any:
    """Refuse true and quoted numbers, which pydantic would take for numbers."""
    if isinstance(value, bool | str):
        message = "write a number without quotes"
        raise ValueError(message)  # noqa: TRY004  # pydantic gathers ValueErrors only
    return value


def _plain_date(value: Any) -> Any:
    if type(value) is not dt.date:
        message = "write the date of the evening without quotes or time, such as 2027-06-05"
        raise ValueError(message)
    return value


def _clock(value: Any) -> Any:
    if isinstance(value, dt.time):
        return value.strftime("%H:%M")
    if value is not None and not (
        isinstance(value, str) and re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value)
    ):
        message = 'write a local wall time in quotes, such as "23:40"'
        raise ValueError(message)
    return value


def _paths(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


def _moon(value: Any) -> Any:
    if value in ("down", "any"):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= 1:
        return float(value)
    message = (
        'write "down", "any", or the largest lit fraction of the Moon that you accept, from 0 to 1'
    )
    raise ValueError(message)


Number = Annotated[FiniteFloat, BeforeValidator(_number)]
Clock = Annotated[str | None, BeforeValidator(_clock)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class GroundShape(_Section):
    """[ground]: the elevation raster and the user's own places."""

    elevation: Annotated[list[StrictStr], BeforeValidator(_paths), Field(min_length=1)]
    places: StrictStr | None = None
    vertical_unit: Literal["metre", "foot", "US survey foot"] | None = None
    voids: list[Number] = []
    product: StrictStr = ""
    vertical_sigma_m: Annotated[Number, Field(gt=0)] | None = None
    canopy_m: Annotated[Number, Field(ge=0, le=120)] = 0.0
    clearing_m: Annotated[Number, Field(ge=0)] = 100.0
    refraction_k: Annotated[Number, Field(ge=-1, lt=1)] = 0.13
    reach_m: Annotated[Number, Field(gt=0, le=500_000)] = 100_000.0
    credit: StrictStr = ""


class SubjectShape(_Section):
    """[subject]: the lone thing on the land."""

    name: StrictStr = "subject"
    kind: StrictStr = ""
    lat: Number
    lon: Number
    height_m: Number
    width_m: Number | None = None
    base_height_m: Number = 0.0
    ground_m: Number | None = None


class TargetShape(_Section):
    """[target]: what stands behind the subject; the core when nothing is written."""

    name: Literal["core"] | None = None
    galactic_l_deg: Number | None = None
    galactic_b_deg: Number | None = None
    ra_deg: Number | None = None
    dec_deg: Number | None = None
    body: StrictStr | None = None

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
        ways = [self.name, self.galactic_l_deg, self.ra_deg, self.body]
        if sum(way is not None for way in ways) > 1:
            message = "name the target in one way only: name, galactic_*, ra_deg/dec_deg or body"
            raise ValueError(message)
        return self


class NightShape(_Section):
    """[night]: the evening's date, and what counts as dark and clear."""

    evening: Annotated[dt.date, BeforeValidator(_plain_date)]
    time_zone: StrictStr | None = None
    sun_below_deg: Annotated[Number, Field(ge=-90, le=0)] = -18.0
    moon: Annotated[str | float, BeforeValidator(_moon)] = "down"
    clear_by_deg: Annotated[Number, Field(ge=-10, le=90)] = 1.0
    at: Clock = None


class CameraShape(_Section):
    """[camera]: any sensor by its size and pixel count."""

    sensor_width_mm: Number
    sensor_height_mm: Number
    width_px: StrictInt
    height_px: StrictInt
    orientation: Literal["landscape", "portrait"] = "landscape"
    accepted_trail_px: Annotated[Number, Field(gt=0)] = 3.0


class FramingShape(_Section):
    """[framing]: how subject and target stand in the frame."""

    share: Number = 0.4
    base_margin: Number = 0.1
    edge_margin: Number = 0.05
    offset_deg: Number = 0.0
    eye_height_m: Number = 1.6
    play_deg: Number = 1.0
    stand_drop_m: Number | None = None


class LensShape(_Section):
    """[[lens]]: one section for each lens."""

    focal_length_mm: Number
    f_number: Number = 2.8
    projection: Literal["rectilinear", "equisolid"] = "rectilinear"
    name: StrictStr = ""
    at: Clock = None
    stand_drop_m: Number | None = None


class SafetyShape(_Section):
    """[safety]: what the sheet should carry for a bad moment."""

    emergency_number: StrictStr = ""
    position_sigma_m: Annotated[Number, Field(gt=0)] = 5.0


class OutingShape(_Section):
    """A whole outing file."""

    format: Literal[1]
    name: StrictStr = "outing"
    ground: GroundShape
    subject: SubjectShape
    target: TargetShape = TargetShape()
    night: NightShape
    camera: CameraShape
    framing: FramingShape = FramingShape()
    lens: Annotated[list[LensShape], Field(min_length=1)]
    safety: SafetyShape = SafetyShape()


def known_keys(place: list[Any]) -> list[str]:
    """List the keys that may stand at a place in the file."""
    fields: Any = OutingShape.model_fields
    for part in place:
        if isinstance(part, int):
            continue
        annotation = LensShape if part == "lens" else fields[part].annotation
        fields = annotation.model_fields
    return list(fields)
