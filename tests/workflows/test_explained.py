"""One number is explained as in the whole plan, from no more of it than its name needs."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.stand.needed import ONLY_STANDS
from backbearing.explain.plan import explain
from backbearing.explain.session import session_explanations
from backbearing.workflows.explained import explained

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.explain.plan import Explanation
    from backbearing.outing.request import Outing
    from backbearing.terrain.elevation import Elevation

OF_SESSION = ("session", "light", "line", "price", "shot.85mm", "turn.40mm", "placing.24mm",
              "picture.16mm", "walk.approach", "on_line.85mm.aside_m")  # fmt: skip


def held_equal(found: list[Explanation], whole: list[Explanation]) -> None:
    assert found
    assert [one.name for one in found] == [one.name for one in whole]
    for one, other in zip(found, whole, strict=True):
        same(one.value, other.value, one.name)
        same(one.inputs, other.inputs, one.name)


def same(one: Any, other: Any, where: str) -> None:
    if isinstance(one, float) and isinstance(other, float):
        assert one == pytest.approx(other, abs=1e-6, rel=1e-9, nan_ok=True), where
    elif isinstance(one, dict) and isinstance(other, dict):
        assert one.keys() == other.keys(), where
        for key, value in one.items():
            same(value, other[key], f"{where}: {key}")
    elif isinstance(one, list) and isinstance(other, list):
        assert len(one) == len(other), where
        for a, b in zip(one, other, strict=True):
            same(a, b, where)
    elif isinstance(one, str) and isinstance(other, str) and one[:2] == "20":
        assert abs(moment(one) - moment(other)) < dt.timedelta(seconds=1), where
    else:
        assert one == other, where


def moment(said: str) -> dt.datetime:
    return dt.datetime.fromisoformat(said.split(maxsplit=1)[0].replace("Z", "+00:00"))


@pytest.mark.parametrize("name", OF_SESSION)
def test_a_part_of_the_session_is_that_of_the_whole(name: str, outing: Outing, plan: Plan) -> None:
    chosen, turns = explained(outing, name)
    known = session_explanations(plan)
    whole = [one for key, one in known.items() if key == name or key.startswith(f"{name}.")]
    held_equal(chosen, whole)
    assert turns is None


def test_a_lens_of_a_session_has_its_turn_beside_it(outing: Outing, plan: Plan) -> None:
    chosen, turns = explained(outing, "85mm.distance_m")
    assert turns is not None
    alone = plan_night(replace(outing, session=None), whole_skyline=False)
    held_equal(chosen, explain(alone, "85mm.distance_m"))
    name = "turn.85mm.distance_m"
    held_equal([turns[name]], [session_explanations(plan)[name]])


@pytest.mark.parametrize("name", ["40mm", "verdict"])
def test_lenses_alone_are_those_of_the_whole(name: str, outing: Outing) -> None:
    alone = replace(outing, session=None)
    held_equal(explained(alone, name).chosen, explain(plan_night(alone), name))


def test_what_is_not_needed_stays_empty(outing: Outing, elevation: Elevation) -> None:
    part = prepare_night(outing, elevation).part(ONLY_STANDS)
    assert part.session is not None
    assert part.session.shots
    assert part.session.lighting is None
    assert part.session.one_line is None
    assert part.session.price is None
    assert not any(shot.other_starts or shot.late for shot in part.session.shots)
    assert part.land.skyline == ()
