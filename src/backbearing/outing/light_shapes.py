"""The shapes of [light] and [tracker] in an outing file, for pydantic."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import Field

from backbearing.outing.camera_shapes import Section, defaults_of
from backbearing.outing.field_types import Name, Number
from backbearing.outing.light_request import LampRequest, TrackerRequest

_LAMP: Final = defaults_of(LampRequest)
_TRACKER: Final = defaults_of(TrackerRequest)


class LightShape(Section):
    """[light]: the lamp, how bright the subject should be, and a frame in the blue hour."""

    lumens: Annotated[Number, Field(gt=0, le=1_000_000)] | None = None
    beam_deg: Annotated[Number, Field(ge=1, le=360)] = _LAMP["beam_deg"]
    distance_m: Annotated[Number, Field(ge=0.2, le=2_000)] | None = None
    angle_deg: Annotated[Number, Field(ge=0, lt=90)] = _LAMP["angle_deg"]
    stops_over_sky: Annotated[Number, Field(ge=-10, le=15)] = _LAMP["stops_over_sky"]
    surface: Name = _LAMP["surface"]
    reflectance: Annotated[Number, Field(ge=0.01, le=0.99)] | None = None
    ground: Name = _LAMP["ground"]
    ground_stops_under_sky: Annotated[Number, Field(ge=-5, le=10)] = _LAMP["ground_stops_under_sky"]
    foreground_iso: Annotated[Number, Field(gt=0)] = _LAMP["foreground_iso"]
    foreground_sun_deg: Annotated[Number, Field(ge=-17, le=-4)] = _LAMP["foreground_sun_deg"]


class TrackerShape(Section):
    """[tracker]: a mount that turns with the sky."""

    polar_error_arcmin: Annotated[Number, Field(ge=0.1, le=600)] = _TRACKER["polar_error_arcmin"]
