"""[[skyline_mark]] as it stands in an outing file, for pydantic."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from backbearing.base.limits import float_or_inf
from backbearing.base.reading_errors import CLINOMETER_SIGMA_DEG
from backbearing.outing.field_types import Latitude, Longitude, Name, Number
from backbearing.outing.marks_request import (
    EYE_HEIGHT_M,
    MARK_LIMITS,
)


class _MarkSection(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    @field_validator("*", mode="after")
    @classmethod
    def _within_limits(cls, value: Any, about: ValidationInfo) -> Any:
        limit = MARK_LIMITS.get(str(about.field_name))
        if limit is not None and value is not None and not limit.holds(float_or_inf(value)):
            raise ValueError(limit.hint)
        return value


class ReadFromShape(_MarkSection):
    """Where a mark was read: one of three ways."""

    name: Name | None = None
    lat: Latitude | None = None
    lon: Longitude | None = None
    bearing_deg: Number | None = None
    distance_m: Number | None = None

    @model_validator(mode="after")
    def _one_way(self) -> ReadFromShape:
        pairs = ((self.lat, self.lon), (self.bearing_deg, self.distance_m))
        whole = [all(one is not None for one in pair) for pair in pairs]
        partly = any(
            any(one is not None for one in pair) and not full
            for pair, full in zip(pairs, whole, strict=True)
        )
        if partly or sum((self.name is not None, *whole)) != 1:
            message = (
                "write a name in quotes, or { lat, lon }, or { bearing_deg, distance_m } as seen "
                "from the subject"
            )
            raise ValueError(message)
        return self


def _place(value: Any) -> Any:
    return {"name": value} if isinstance(value, str) else value


class SkylineMarkShape(_MarkSection):
    """[[skyline_mark]]: one reading of the true skyline."""

    altitude_deg: Number
    azimuth_deg: Number | None = None
    compass_deg: Number | None = None
    declination_deg: Number | None = None
    sigma_deg: Number = CLINOMETER_SIGMA_DEG
    azimuth_sigma_deg: Number | None = None
    distance_m: Number | None = None
    eye_height_m: Number = EYE_HEIGHT_M
    read_from: Annotated[ReadFromShape, BeforeValidator(_place), Field(alias="from")] = (
        ReadFromShape(name="subject")
    )

    @model_validator(mode="after")
    def _one_azimuth(self) -> SkylineMarkShape:
        if (self.azimuth_deg is None) == (self.compass_deg is None):
            message = "write either azimuth_deg (true) or compass_deg (by the needle)"
            raise ValueError(message)
        if self.declination_deg is not None and self.compass_deg is None:
            message = "declination_deg goes with compass_deg only"
            raise ValueError(message)
        return self
