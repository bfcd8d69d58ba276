"""A subject without an outline: its kind changes the picture of it and no number of the plan."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.view.lens_views import views
from backbearing.drawing.svg import drawing_svg
from backbearing.exports.plan_json import plan_json
from backbearing.pictures.preview import preview_sheet, side_by_side_sheet
from backbearing.plan.turns import at_turns
from backbearing.sheet import sheet_html
from invented import hill, write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View

KINDS = ("", "dead tree", "windmill")


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> dict[str, tuple[Plan, tuple[View, ...]]]:
    found = {}
    for kind in KINDS:
        folder: Path = tmp_path_factory.mktemp("kind")
        asked = write_outing(
            folder, lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 5), ground=hill(60.0, 700.0),
            lenses=(20.0, 35.0), subject={"kind": kind}, night={"moon": "any"}, session={},
        )  # fmt: skip
        elevation = open_elevation(asked)
        plan = plan_night(asked, elevation)
        found[kind] = plan, views(at_turns(plan), elevation)
    return found


def numbers(plan: Plan) -> object:
    told = json.loads(plan_json(plan))
    told["plan"].pop("made")
    told["plan"]["subject"].pop("kind")
    return told


def test_focus_exposure_stands_and_doubts_are_the_same_to_the_last_bit(made) -> None:
    plain = numbers(made[""][0])
    assert "stand" in json.dumps(plain)
    for kind in KINDS[1:]:
        assert numbers(made[kind][0]) == plain


def test_the_silhouette_fills_the_box_that_the_frame_was_fitted_to(made) -> None:
    for kind in KINDS:
        plan, seen = made[kind]
        for view, lens in zip(seen, at_turns(plan).lenses, strict=True):
            ring = np.concatenate(view.subject)
            # The frame was fitted so that the subject's height takes the asked share of it,
            # measured on its middle: near enough a twentieth for parts off the middle.
            high = ring[:, 1].max() - ring[:, 1].min()
            assert high == pytest.approx(lens.stand.share, rel=0.05)
            middle = (ring[:, 0].max() + ring[:, 0].min()) / 2.0
            assert middle == pytest.approx(0.5, abs=0.01)


def test_every_picture_says_that_the_shape_is_not_the_subjects_own(made) -> None:
    for kind, words in (("dead tree", "a plausible dead tree"), ("", "a plain stand-in")):
        plan, seen = made[kind]
        said = f"shape: {words}, not yours"
        assert all(view.shape_note == said for view in seen)
        for sheet in (preview_sheet(seen[0]), side_by_side_sheet(seen, title="x")):
            shown = drawing_svg(sheet)
            assert shown.count(said) == 2  # to see, and in the description
        assert said in sheet_html(plan, None)
    first = [made[kind][1][0].subject for kind in KINDS]
    assert len({sum(map(len, rings)) for rings in first}) == len(KINDS)
