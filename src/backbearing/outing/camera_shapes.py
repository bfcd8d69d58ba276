"""The shapes of [camera] and [[lens]], and what a kit says of a body or a lens, for pydantic."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    StrictBool,
    StrictStr,
    ValidationInfo,
    field_validator,
    model_validator,
)

from backbearing.base.limits import beyond_limits
from backbearing.camera.bodies_and_lenses import Camera, Lens
from backbearing.outing.field_types import Clock, Count, Minutes, Name, Number
from backbearing.outing.request import AcceptedRequest


def defaults_of(owner: type[Any]) -> dict[str, Any]:
    """What the fields of a value object are when nothing is said."""
    return {f.name: f.default for f in fields(owner) if f.default is not MISSING}


_CAMERA, _LENS, _ACCEPTED = map(defaults_of, (Camera, Lens, AcceptedRequest))


class Section(BaseModel):
    """A section: no key that is not known, every number within its limits."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @field_validator("*", mode="after")
    @classmethod
    def _within_limits(cls, value: Any, about: ValidationInfo) -> Any:
        wrong = beyond_limits(str(about.field_name), value)
        if wrong is not None:
            raise ValueError(wrong[1])
        return value


class BodyShape(Section):
    """What a camera body is: any sensor by its size and pixel count, or by its format's name."""

    sensor_format: StrictStr | None = None
    sensor_width_mm: Number | None = None
    sensor_height_mm: Number | None = None
    width_px: Count
    height_px: Count | None = None
    accepted_trail_px: Annotated[Number, Field(gt=0)] = _ACCEPTED["trail_px"]
    accepted_blur_px: Annotated[Number, Field(gt=0)] = _ACCEPTED["blur_px"]

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        sizes = (self.sensor_width_mm, self.sensor_height_mm)
        if self.sensor_format is not None:
            if any(size is not None for size in sizes):
                message = "write sensor_format, or sensor_width_mm and sensor_height_mm, not both"
                raise ValueError(message)
            return self
        missing = [
            key
            for key in ("sensor_width_mm", "sensor_height_mm", "height_px")
            if getattr(self, key) is None
        ]
        if missing:
            message = f'add {" and ".join(missing)}, or write sensor_format such as "135"'
            raise ValueError(message)
        return self


class CameraShape(BodyShape):
    """[camera]: the body, one of the kit's or written out, and how it is held."""

    use: Name | None = None
    crop_px: Annotated[list[Count], Field(min_length=2, max_length=2)] | None = None
    orientation: Literal["landscape", "portrait"] = _CAMERA["orientation"]
    panorama_overlap: Annotated[Number, Field(ge=0, lt=0.9)] = _ACCEPTED["panorama_overlap"]


class GlassShape(Section):
    """What a lens is, wherever it is used."""

    focal_length_mm: Number
    f_number: Number = _LENS["f_number"]
    projection: Literal["rectilinear", "equisolid"] = _LENS["projection"]
    name: Name = ""
    rise_mm: Number = _LENS["rise_mm"]


class LensShape(GlassShape):
    """[[lens]]: one section for each lens, one of the kit's or written out."""

    use: Name | None = None
    at: Clock = None
    stand_drop_m: Number | None = None
    share: Annotated[Number, Field(gt=0, lt=1)] | None = None
    panorama: StrictBool = False
    walk_minutes: Minutes | None = None
    setup_minutes: Minutes | None = None
    focus_minutes: Minutes | None = None
    frames_minutes: Annotated[Number, Field(gt=0, le=600)] | None = None
