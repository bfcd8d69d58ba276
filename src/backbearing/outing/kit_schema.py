"""The shape of a kit file, for pydantic: bodies, lenses and lights by name, and one's own habits.

The keys are those of an outing, so that a line can be moved from the one file to the other.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from backbearing.outing.camera_shapes import BodyShape, GlassShape, Section
from backbearing.outing.field_types import Minutes, Name, Number

MOST_THINGS = 200
"""Bodies, lenses or lights of one kit."""


class KitBodyShape(BodyShape):
    """[body."a name"]: a camera body, with what its sensor makes of light."""

    iso: Annotated[Number, Field(gt=0)] | None = None
    quantum_efficiency: Number | None = None
    read_noise_e: Number | None = None
    full_well_e: Number | None = None
    base_iso: Number | None = None


class KitLightShape(Section):
    """[light."a name"]: a lamp that is to hide behind the subject."""

    lumens: Annotated[Number, Field(gt=0, le=1_000_000)] | None = None
    width_m: Annotated[Number, Field(gt=0, le=20)]
    height_m: Annotated[Number, Field(gt=0, le=50)]


class MeShape(Section):
    """[me]: how one stands, walks and works, and what one accepts."""

    eye_height_m: Number | None = None
    pace_m: Annotated[Number, Field(ge=0.2, le=2)] | None = None
    night_factor: Annotated[Number, Field(ge=1, le=10)] | None = None
    person_height_m: Annotated[Number, Field(gt=0, le=3)] | None = None
    setup_minutes: Minutes | None = None
    focus_minutes: Minutes | None = None
    accepted_trail_px: Annotated[Number, Field(gt=0)] | None = None
    accepted_blur_px: Annotated[Number, Field(gt=0)] | None = None


class KitShape(Section):
    """A whole kit file."""

    format: Literal[1]
    body: dict[Name, KitBodyShape] = Field(default_factory=dict, max_length=MOST_THINGS)
    lens: dict[Name, GlassShape] = Field(default_factory=dict, max_length=MOST_THINGS)
    light: dict[Name, KitLightShape] = Field(default_factory=dict, max_length=MOST_THINGS)
    me: MeShape = MeShape()


_THINGS: dict[str, type[Section]] = {
    "body": KitBodyShape, "lens": GlassShape, "light": KitLightShape, "me": MeShape,
}  # fmt: skip


def known_kit_keys(place: list[Any]) -> list[str]:
    """List the keys that may stand at a place in a kit."""
    shape = _THINGS[place[0]] if place else KitShape
    return list(shape.model_fields)
