"""Every number of a plan can be traced to inputs, a formula and a source."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import NothingFoundError
from backbearing.base.grouped import flat_names
from backbearing.base.references import REFERENCES
from backbearing.explain.plan import LENS_FACTS, explain, explanations
from backbearing.plan.behind import BehindFacts
from backbearing.plan.lamp import AirFacts
from backbearing.plan.optics import FocusFacts, LightFacts, ShutterFacts
from backbearing.plan.stand import LensPlan, Stand

if TYPE_CHECKING:
    from backbearing.alignment import Plan

NOT_NUMBERS = {"lens", "in_frame", "cautions", "ground_source", "arc", "usable", "framed", "hidden",
               "sentence", "stand", "asked_at", "skyline_lat", "skyline_lon", "unknown_share",
               "position_sigma_m", "shutter", "focus", "light", "compromises", "placing", "moved",
               "rules", "panorama", "asked", "air", "behind", "tracker", "cloud_words"}  # fmt: skip
SKY_PARTS = ("behind_natural_cd_m2", "behind_towns_cd_m2")
CLASSES = (Stand, LensPlan, ShutterFacts, FocusFacts, LightFacts, AirFacts, BehindFacts)


def test_every_number_of_a_stand_has_an_explanation() -> None:
    fields = {name for c in CLASSES for name in flat_names(c)}
    assert fields - NOT_NUMBERS <= set(LENS_FACTS)


def test_every_input_and_source_exists(plan: Plan) -> None:
    for fact in LENS_FACTS.values():
        assert set(fact.sources) <= set(REFERENCES)
    for one in explanations(plan).values():
        for key, value in one.inputs.items():
            # A sky that was asked as one number has no parts.
            if key not in {"asked_at", "stand_drop_m", "raised_by_marks_deg", *SKY_PARTS}:
                assert value is not None, (one.name, key)


def test_values_are_the_plans_own(plan: Plan) -> None:
    (one,) = explain(plan, "85mm.distance_m")
    assert one.value == plan.lenses[-1].stand.distance_m
    assert one.unit == "m"
    assert len(explain(plan, "distance_m")) == 4
    assert len(explain(plan, "85 mm")) == len(LENS_FACTS)


def test_a_direction_says_where_its_target_was_published(plan: Plan) -> None:
    (one,) = explain(plan, "85mm.target_azimuth_deg")
    assert "Sgr A*" in one.inputs["target"]
    assert "[Reid2004]" in one.inputs["target"]


def test_unknown_names_are_answered_with_near_ones(plan: Plan) -> None:
    with pytest.raises(NothingFoundError, match="distance_m"):
        explain(plan, "85mm.distence_m")
