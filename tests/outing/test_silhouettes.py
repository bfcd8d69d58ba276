"""Plausible silhouettes: drawn in place of an outline, and nothing but drawn."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from backbearing.outing import silhouette_parts
from backbearing.outing.outline import MOST_POINTS, Outline
from backbearing.outing.silhouette_parts import Parts
from backbearing.outing.silhouettes import drawn_outline, shape_note
from backbearing.outing.subject import Subject

ALL = {name: one for name, one in vars(silhouette_parts).items() if isinstance(one, Parts)}
HILL = Subject(lat=-31.0, lon=149.0, height_m=9.0, width_m=4.0)


def note(kind: str) -> str:
    return shape_note(replace(HILL, kind=kind))


@pytest.mark.parametrize(
    ("kind", "shape"),
    [
        ("dead tree", "a plausible dead tree"),
        ("Drowned Oak", "a plausible dead tree"),
        ("snag", "a plausible dead tree"),
        ("oak", "a plausible broadleaf tree"),
        ("trees", "a plausible broadleaf tree"),
        ("lone Scots pine", "a plausible conifer"),
        ("bare rock", "a plausible rock"),
        ("rock arch", "a plausible rock"),
        ("standing stone", "a plausible standing stone"),
        ("ruined mill", "a plausible ruined wall"),
        ("old wall", "a plausible ruined wall"),
        ("wayside chapel", "a plausible chapel"),
        ("churches", "a plausible church"),
        ("barn", "a plausible barn"),
        ("stone house", "a plausible house"),
        ("mountain hut", "a plausible hut"),
        ("windmill", "a plausible windmill"),
        ("wind pump", "a plausible windpump"),
        ("water-tower", "a plausible water tower"),
        ("lookout tower", "a plausible tower"),
        ("radio mast", "a plausible mast"),
        ("person", "a plausible person"),
        ("", "a plain stand-in"),
        ("spaceship", "a plain stand-in"),
        ("woakery", "a plain stand-in"),
    ],
)
def test_plain_english_words_choose_the_shape(kind: str, shape: str) -> None:
    assert note(kind) == f"shape: {shape}, not yours"


@pytest.mark.parametrize("name", sorted(ALL))
@pytest.mark.parametrize(("width_m", "height_m"), [(5.0, 6.0), (0.4, 30.0), (40.0, 2.0)])
def test_a_shape_is_as_wide_and_as_high_as_the_subject(name, width_m, height_m) -> None:
    subject = replace(HILL, kind=ALL[name].words, width_m=width_m, height_m=height_m)
    if name != "UNKNOWN":
        assert note(subject.kind) == f"shape: a plausible {ALL[name].words}, not yours"
    shape = drawn_outline(subject)
    across = [x for ring in shape.rings for x, _ in ring]
    up = [y for ring in shape.rings for _, y in ring]
    assert (min(across), max(across)) == pytest.approx((-width_m / 2.0, width_m / 2.0))
    assert (min(up), max(up)) == pytest.approx((0.0, height_m))
    assert len(across) < MOST_POINTS / 4
    # It stands on the ground about the middle of its base, and no ring crosses itself.
    foot = [x for ring in shape.rings for x, y in ring if y < 1e-9 * height_m]
    assert min(foot) <= 0.0 <= max(foot)
    rings = [shapely.Polygon(ring) for ring in shape.rings]
    assert all(ring.is_valid for ring in rings)
    filled = rings[0]
    for ring in rings[1:]:
        filled = filled.symmetric_difference(ring)
    # Nothing that stands apart from it, and not a plain box.
    assert filled.geom_type == "Polygon"
    assert 0.05 < filled.area / (width_m * height_m) < 0.97


def test_without_a_width_it_is_as_wide_as_the_box_that_is_computed_with() -> None:
    subject = replace(HILL, kind="oak", width_m=None)
    assert drawn_outline(subject).width_m == pytest.approx(subject.shape.width_m)


def test_an_outline_of_ones_own_is_drawn_as_it_is() -> None:
    own = Outline(((((-1.0, 0.0), (1.0, 0.0), (0.0, 9.0))),), "mine.svg")
    subject = replace(HILL, kind="dead tree", outline=own)
    assert drawn_outline(subject) is own
    assert shape_note(subject) == ""


@pytest.mark.parametrize("kind", ["dead tree", "windmill", "", "no such thing"])
def test_a_kind_changes_nothing_that_is_computed_with(kind: str) -> None:
    subject = replace(HILL, kind=kind)
    assert subject.shape == HILL.shape
    assert subject.shown_width_m == HILL.shown_width_m
    assert subject.outline is None
    assert subject.as_high_as(5.0).shape == HILL.as_high_as(5.0).shape


@given(st.text(max_size=300))
def test_no_text_of_a_file_is_in_the_note(kind: str) -> None:
    allowed = {f"a plausible {one.words}" for one in ALL.values()} | {"a plain stand-in"}
    assert re.fullmatch(r"shape: (.+), not yours", note(kind)).group(1) in allowed


def test_hostile_kinds_are_inert(hostile_texts: tuple[str, ...]) -> None:
    for kind in (*hostile_texts, "tree" * 100_000, "<script>oak</script>", "tree\x00", "ТREE"):
        assert "script" not in note(kind)
        assert drawn_outline(replace(HILL, kind=kind)).height_m == pytest.approx(9.0)
