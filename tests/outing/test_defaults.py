"""A key that is left out of an outing file means what the object it becomes says."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import TYPE_CHECKING

import pytest

from backbearing.camera.bodies_and_lenses import Lens
from backbearing.camera.sensor import Sensor
from backbearing.outing import schema
from backbearing.outing.request import (
    AcceptedRequest,
    ExposureRequest,
    GroundRequest,
    NightRequest,
    SafetyRequest,
)
from backbearing.outing.scouting_request import ScoutRequest, Weights
from backbearing.outing.session_request import PictureRequest, SessionRequest
from backbearing.outing.subject import Framing, Subject

if TYPE_CHECKING:
    from pydantic import BaseModel


@pytest.mark.parametrize(
    ("section", "owner"),
    [
        (schema.GroundShape, GroundRequest),
        (schema.SubjectShape, Subject),
        (schema.NightShape, NightRequest),
        (schema.CameraShape, AcceptedRequest),
        (schema.FramingShape, Framing),
        (schema.LensShape, Lens),
        (schema.SessionShape, SessionRequest),
        (schema.SessionShape, PictureRequest),
        (schema.ScoutingShape, ScoutRequest),
        (schema.ScoutingShape, Weights),
        (schema.ExposureShape, ExposureRequest),
        (schema.ExposureShape, Sensor),
        (schema.SafetyShape, SafetyRequest),
    ],
)
def test_one_default_for_each_key(section: type[BaseModel], owner: type) -> None:
    own = {f.name: f.default for f in fields(owner) if f.default is not MISSING}
    shared = own.keys() & section.model_fields.keys()
    assert shared
    for key in shared:
        asked = section.model_fields[key].default
        assert (tuple(asked) if isinstance(asked, list) else asked) == own[key], key


# The numbers that docs/scouting.md and the starter file tell: they do not move unsaid.
def test_what_the_defaults_are() -> None:
    assert (AcceptedRequest().trail_px, SafetyRequest().position_sigma_m) == (3.0, 5.0)
    night = NightRequest(evening=None)  # type: ignore[arg-type]
    assert (night.sun_below_deg, night.moon, night.clear_by_deg) == (-18.0, "down", 1.0)
    ground = GroundRequest(())
    assert (ground.refraction_k, ground.reach_m, ground.clearing_m) == (0.13, 100_000.0, 100.0)
    assert Weights().values() == (3.0, 2.0, 2.0, 2.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0)
