"""Answers as people type them: read, or refused in a sentence; never anything else."""

from __future__ import annotations

import datetime as dt
import time
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from backbearing.base.errors import BackbearingError, OutingError
from backbearing.outing.kit import kit_of
from backbearing.workflows.first_answers import (
    BestOf,
    NamedThing,
    read_camera,
    read_length_m,
    read_lenses,
    read_night,
    read_subject,
)

KIT = kit_of(
    {
        "format": 1,
        "body": {"Mine": {"sensor_format": "135", "width_px": 7000}},
        "lens": {"The wide": {"focal_length_mm": 20.0}, "the 35": {"focal_length_mm": 35.0}},
    },
    Path("kit.toml"),
)


@pytest.mark.parametrize(
    ("text", "thing"),
    [
        ("old mill, 9", NamedThing("old mill", 9.0)),
        ("old mill 9 m", NamedThing("old mill", 9.0)),
        ("Old mill: 9.5 metres high", NamedThing("Old mill", 9.5)),
        ("oak, 6,5 m", NamedThing("oak", 6.5)),
        ("oak, 6 x 5", NamedThing("oak", 6.0, 5.0)),
        ("mill no 3, 9 by 4 m", NamedThing("mill no 3", 9.0, 4.0)),
        ("9", NamedThing("The subject", 9.0)),
        # A foot is 0.3048 m (international yard and pound agreement, 1959).
        ("barn 30 ft x 20 ft", NamedThing("barn", 9.144, 6.096)),
        ("  two \t lines \n cairn, 2 ", NamedThing("two lines cairn", 2.0)),
    ],
)
def test_a_subject_and_its_height(text: str, thing: NamedThing) -> None:
    found = read_subject(text)
    assert found.name == thing.name
    assert found.height_m == pytest.approx(thing.height_m)
    assert found.width_m == (None if thing.width_m is None else pytest.approx(thing.width_m))


@pytest.mark.parametrize(
    "text", ["", "mill", "mill, high", "mill, 0", "mill, 5000", "mill, -3 m x"]
)
def test_a_subject_without_a_height_is_refused(text: str) -> None:
    with pytest.raises(OutingError):
        read_subject(text)


def test_nights() -> None:
    assert read_night(" 2027-06-05 ") == dt.date(2027, 6, 5)
    assert read_night("best") == read_night("the best of the next 90 nights") == BestOf(90)
    assert read_night("Best of 14") == BestOf(14)
    for wrong in ("", "5.6.2027", "June 5", "2027-13-01", "best of 0", "best of 733"):
        with pytest.raises(OutingError):
            read_night(wrong)


def test_lenses_by_length_or_name() -> None:
    sixteen = {"focal_length_mm": 16.0}
    assert read_lenses("16, 24 mm f/2.8; 85mm", None) == (
        sixteen, {"focal_length_mm": 24.0, "f_number": 2.8}, {"focal_length_mm": 85.0},
    )  # fmt: skip
    assert read_lenses("16 24 40 85", None)[3] == {"focal_length_mm": 85.0}
    assert read_lenses("the WIDE, 35, 50", KIT) == (
        {"use": "The wide"}, {"use": "the 35"}, {"focal_length_mm": 50.0},
    )  # fmt: skip
    # Another stop than the kit's is another matter.
    assert read_lenses("35 f/4", KIT) == ({"focal_length_mm": 35.0, "f_number": 4.0},)
    for wrong in ("", "wide", "16, 16", "0", "99999", "the 53", "16 wide"):
        with pytest.raises(BackbearingError):
            read_lenses(wrong, KIT)


def test_cameras() -> None:
    assert read_camera(None, None) == {"sensor_format": "135", "width_px": 6000}
    assert read_camera(None, KIT) == read_camera("mine", KIT) == {"use": "Mine"}
    assert read_camera("four thirds", KIT)["sensor_format"] == "Four Thirds"
    assert read_camera("36 x 24 mm, 6000 x 4000", None) == {
        "sensor_width_mm": 36.0, "sensor_height_mm": 24.0, "width_px": 6000, "height_px": 4000,
    }  # fmt: skip
    for wrong in ("my phone", "36 x 24", "36 x 24 mm, 6000 x 40000"):
        with pytest.raises(BackbearingError):
            read_camera(wrong, KIT)


@given(st.text(alphabet="0123456789.,;: xXbyftm/fbest of-\n\u202e'\"αé", max_size=80))
@example("1" * 80)
@example("1.1.1.1.1.1.1.1 x")
def test_any_answer_is_read_or_refused_in_a_sentence(text: str) -> None:
    for read in (
        read_subject, read_length_m, read_night,
        lambda word: read_lenses(word, KIT), lambda word: read_camera(word, KIT),
    ):  # fmt: skip
        try:
            read(text)
        except BackbearingError as problem:
            said = str(problem)
        else:
            continue
        assert "\n" not in said


def test_an_endless_answer_takes_no_time() -> None:
    began = time.process_time()
    for text in ("1" * 100_000, "1 " * 50_000, "a, " * 40_000, "9 x " * 30_000, "best of " * 9_000):
        for read in (read_subject, read_length_m, read_night):
            with pytest.raises(BackbearingError):
                read(text)
        with suppress(BackbearingError):
            read_lenses(text, KIT)
    assert time.process_time() - began < 5.0
