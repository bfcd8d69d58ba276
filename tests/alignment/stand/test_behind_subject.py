"""The target behind the subject itself, against brute force over outlines."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.stand.behind_subject import (
    SeenBox,
    SubjectPlane,
    asked_behind,
    hidden_by_subject,
    room_off_box_deg,
)
from backbearing.alignment.stand.scene import Scene
from backbearing.alignment.stand.settled_stands import settle
from backbearing.camera.bodies_and_lenses import Camera, Lens
from backbearing.outing.load import load_outing
from backbearing.outing.outline import Outline
from backbearing.outing.subject import Framing, Subject
from backbearing.sky.targets import CORE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PLACE = {"lat": 36.3726, "lon": -84.3602}
FIRST = dt.datetime(2027, 6, 6, 3, 0, tzinfo=dt.UTC)
CAMERA = Camera()
SAMPLE = Path(__file__).parents[3] / "sample_terrain"

GATE = Outline(
    (
        ((-4.0, 0.0), (4.0, 0.0), (4.0, 6.0), (-4.0, 6.0)),
        ((-2.5, 1.0), (2.5, 1.0), (2.5, 4.5), (-2.5, 4.5)),
    )
)
"""A wall with a window of 5 by 3.5 m."""
MUSHROOM = Outline.of_widths(
    [(0.0, 1.0), (3.0, 1.2), (3.6, 5.0), (5.0, 6.0), (7.0, 0.5)], height_m=7.0
)


def even_odd(outline: Outline, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Count the sides that a ray to the right of each point crosses: inside where odd."""
    crossed = np.zeros(x.shape, dtype=int)
    for ring in outline.rings:
        for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
            spans = (y0 > y) != (y1 > y)
            at = x0 + (y - y0) * (x1 - x0) / (y1 - y0 if y1 != y0 else np.inf)
            crossed += spans & (x < at)
    return crossed % 2 == 1


@pytest.mark.parametrize("outline", [GATE, MUSHROOM, Outline.box(3.0, 5.0)])
def test_hidden_is_inside_the_outline_by_brute_force(outline: Outline) -> None:
    rng = np.random.default_rng(13)
    x, y = rng.uniform(-5.0, 5.0, 4000), rng.uniform(0.0, 8.0, 4000)
    subject = Subject(**PLACE, height_m=outline.height_m, outline=outline)
    found = hidden_by_subject(subject, SubjectPlane(x, y), np.full(x.shape, 1e-6))
    assert 200 < found.sum() < 3800
    assert (found == even_odd(outline, x, y)).all()


@pytest.mark.parametrize("gap_m", [0.5, 1.0, 2.0])
def test_a_gap_is_open_where_a_disc_fits(gap_m: float) -> None:
    # A disc that does not touch the gate, its middle anywhere on a fine grid, opens all of itself.
    rng = np.random.default_rng(14)
    x, y = rng.uniform(-4.5, 4.5, 600), rng.uniform(0.2, 6.5, 600)
    step = 0.05
    mx, my = np.meshgrid(np.arange(-6.0, 6.0, step), np.arange(-2.5, 8.5, step))
    turn = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    free = ~even_odd(GATE, mx, my)
    for a in turn:
        free &= ~even_odd(GATE, mx + 0.5 * gap_m * np.cos(a), my + 0.5 * gap_m * np.sin(a))
    fx, fy = mx[free], my[free]
    away = np.array([np.hypot(fx - a, fy - b).min() for a, b in zip(x, y, strict=True)])
    opened = away <= 0.5 * gap_m
    found = hidden_by_subject(
        Subject(**PLACE, height_m=6.0, outline=GATE), SubjectPlane(x, y), np.full(x.shape, gap_m)
    )
    # Gaps are taken up to a twelfth narrower than asked, and the grid is a grid.
    sure = np.abs(away - 0.5 * gap_m) > 0.05 * gap_m + step
    assert sure.mean() > 0.8
    assert (found[sure] == ~opened[sure]).all()


def test_a_gap_narrower_than_asked_is_shut() -> None:
    slit = Outline(
        (
            ((-2.0, 0.0), (2.0, 0.0), (2.0, 5.0), (-2.0, 5.0)),
            ((-0.2, 1.0), (0.2, 1.0), (0.2, 4.0), (-0.2, 4.0)),
        )
    )
    subject = Subject(**PLACE, height_m=5.0, outline=slit)
    middle = SubjectPlane(np.zeros(1), np.array([2.5]))
    assert not hidden_by_subject(subject, middle, np.array([0.38])).any()
    assert hidden_by_subject(subject, middle, np.array([0.5])).all()


def test_below_the_base_it_is_hidden_and_unknown_is_not() -> None:
    for outline in (None, MUSHROOM):
        subject = Subject(**PLACE, height_m=7.0, width_m=6.0, outline=outline)
        plane = SubjectPlane(np.array([2.0, 3.5, np.nan]), np.array([-0.5, -0.5, np.nan]))
        found = hidden_by_subject(subject, plane, np.full(3, 0.1))
        assert found.tolist() == [True, False, False]


def _settled(framing: Framing, subject: Subject, focal_mm: float = 14.0):  # type: ignore[no-untyped-def]
    scene = Scene(subject, 0.0, CORE, CAMERA, framing, None)
    times = [FIRST + dt.timedelta(minutes=2 * i) for i in range(220)]
    return settle(scene, Lens(focal_mm), times, skyline=False)


@pytest.mark.parametrize("offset_deg", [0.0, 3.0, 8.0, -12.0])
def test_over_many_minutes_a_box_hides_what_lies_within_it(offset_deg: float) -> None:
    """Straight from azimuth and altitude: along the sight line to the subject's plane."""
    subject = Subject(**PLACE, height_m=6.0, width_m=3.0)
    found = _settled(Framing(share=0.36, offset_deg=offset_deg), subject)
    at, turn = found.places, np.radians(offset_deg)
    up = 1.6 + at.distance_m / np.cos(turn) * np.tan(np.radians(found.target_altitude_deg))
    within = (up < 6.0) & (abs(at.distance_m * np.tan(turn)) < 1.5)
    # Curvature over some metres is less than 0.01 mm.
    sure = np.abs(up - 6.0) > 1e-4
    assert (found.behind[sure] == within[sure]).all()
    if abs(offset_deg) < 5.0:
        assert 0 < found.behind.sum() < len(up)
    box = SeenBox(np.full(up.shape, 3.0), at.distance_m, at.top_altitude_deg)
    room = room_off_box_deg(Framing(offset_deg=offset_deg), box, found.target_altitude_deg)
    assert ((room < 0.0) == found.behind)[sure].all()


def test_only_what_asks_for_it_may_stand_behind() -> None:
    top = np.array([0.5, 0.9])

    def asked(**framing: object) -> list[bool]:
        return asked_behind(Framing(**framing), top).tolist()  # type: ignore[arg-type]

    assert asked() == [False, False]
    assert asked(above_top_deg=0.0) == asked(above_top_deg=5.0) == [False, False]
    assert asked(target_box=(0.3, 0.55, 0.7, 0.95)) == [False, False]
    assert asked(target_box=(0.3, 0.2, 0.7, 0.6)) == [False, True]
    assert asked(offset_deg=5.0) == [False, False]
    assert asked(above_top_deg=-2.0) == asked(behind_subject=True) == [True, True]


def test_the_usual_case_over_the_subject_is_untouched() -> None:
    found = _settled(Framing(share=0.3), Subject(**PLACE, height_m=6.0), 35.0)
    over = found.target_altitude_deg > found.places.top_altitude_deg
    assert over.sum() > 100
    assert not found.spoilt_behind[over].any()
    through = _settled(Framing(share=0.6, behind_subject=True), Subject(**PLACE, height_m=6.0))
    assert through.behind.any()
    assert not through.spoilt_behind.any()


def test_a_plan_does_not_work_while_the_subject_hides_the_target() -> None:
    outing = load_outing(SAMPLE / "outing.toml")
    tall = replace(
        outing,
        lenses=outing.lenses[:1],
        session=None,
        subject=replace(outing.subject, outline=None, width_m=3.0),
    )
    plan = plan_night(tall).lenses[0]
    hidden = [p for p in plan.arc if "subject" in p.limits]
    assert hidden
    assert plan.hidden
    assert not any(s.start <= p.time <= s.end for p in hidden for s in plan.usable)
    assert any(p.limits == ("subject",) for p in hidden)
    assert "Behind the subject itself" in plan.sentence
    assert plan.stand is not None
    assert not plan.stand.behind_subject
    asked = plan_night(replace(tall, framing=replace(tall.framing, behind_subject=True))).lenses[0]
    assert not any("subject" in p.limits for p in asked.arc)
    assert sum(s.minutes for s in asked.usable) == pytest.approx(
        sum(s.minutes for s in (*plan.usable, *plan.hidden)), abs=0.2
    )


def test_an_asked_minute_behind_the_subject_says_so() -> None:
    outing = load_outing(SAMPLE / "outing.toml")
    boxed = replace(
        outing,
        lenses=outing.lenses[:1],
        session=None,
        subject=replace(outing.subject, outline=None, width_m=3.0),
    )
    found = plan_night(boxed, at="23:58").lenses[0]
    assert "the subject itself (the target is behind it)" in found.sentence
    assert found.stand is not None
    assert found.stand.behind_subject
    assert any("behind the subject itself" in said for said in found.stand.cautions)
