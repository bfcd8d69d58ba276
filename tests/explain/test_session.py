"""Every number of a session can be traced to inputs, a formula and a source."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import NothingFoundError
from backbearing.base.grouped import flat_types
from backbearing.base.references import REFERENCES
from backbearing.explain.plan import matching
from backbearing.explain.session import SESSION_FACTS, session_explanations
from backbearing.plan.lighting import BlindPatch
from backbearing.plan.one_line import OneLine, OnTheLine
from backbearing.plan.placing import Placing
from backbearing.plan.session import Session, Shot, Walk
from backbearing.plan.turn_picture import OtherStart, SessionPrice, TurnPicture, TurnSky

if TYPE_CHECKING:
    from backbearing.alignment import Plan

PARTS = {
    "session": Session, "shot": Shot, "placing": Placing, "walk": Walk, "light": BlindPatch,
    "picture": TurnPicture, "other": OtherStart, "price": SessionPrice, "line": OneLine,
    "on_line": OnTheLine, "turn_sky": TurnSky,
}  # fmt: skip


def numbers(kind: type) -> set[str]:
    """Fields of a result that hold a number or a moment."""
    wanted = ("float", "int", "dt.datetime", "dt.datetime | None")
    return {name for name, said in flat_types(kind).items() if said in wanted} - {"number"}


@pytest.mark.parametrize("part", list(PARTS))
def test_every_number_has_a_row_and_every_row_a_number(part: str) -> None:
    rows = {key.split(".")[1] for key in SESSION_FACTS if key.split(".")[0] == part}
    assert numbers(PARTS[part]) == rows


def test_sources_exist_and_inputs_have_values(plan: Plan) -> None:
    for fact in SESSION_FACTS.values():
        assert set(fact.sources) <= set(REFERENCES)
    found = session_explanations(plan)
    for one in found.values():
        assert one.formula
        for key, value in one.inputs.items():
            # A sky that was asked as one number has no parts.
            parts = {"behind_natural_cd_m2", "behind_towns_cd_m2"}
            if key not in {"stand_drop_m", "raised_by_marks_deg", *parts}:
                assert value is not None, (one.name, key)


def test_values_are_the_sessions_own(plan: Plan) -> None:
    session = plan.session
    assert session is not None
    assert session.lighting is not None
    assert session.approach is not None
    found = session_explanations(plan)
    assert found["session.walked_m"].value == session.walked_m
    assert found["shot.85mm.drift_deg"].value == session.shots[0].drift_deg
    (wide,) = [shot for shot in session.shots if shot.lens.focal_length_mm == 16.0]
    assert found["placing.16mm.tape_m"].value == wide.placing.tape_m
    assert found["walk.approach.minutes"].value == session.approach.minutes
    assert found["light.area_m2"].value == session.lighting.blind.area_m2
    assert len(matching(found, "shot.85mm", SESSION_FACTS)) == len(numbers(Shot))


def test_placing_is_explained_without_a_session(plan: Plan) -> None:
    bare = dataclasses.replace(plan, session=None)
    found = session_explanations(bare)
    assert {name.split(".")[0] for name in found} == {"placing"}
    assert plan.lenses[0].placing is not None
    assert found["placing.16mm.along_m"].value == plan.lenses[0].placing.along_m


def test_unknown_names_are_answered_with_near_ones(plan: Plan) -> None:
    with pytest.raises(NothingFoundError, match="drift_deg"):
        matching(session_explanations(plan), "shot.85mm.drift_degs", SESSION_FACTS)
