"""Errors keep what, where and hint apart, and word them as one sentence."""

from __future__ import annotations

import pickle

import pytest

from backbearing.base.errors import (
    BackbearingError,
    NothingFoundError,
    OutingError,
    Setting,
    SkyError,
    TerrainError,
    Where,
)


@pytest.mark.parametrize(
    ("what", "hint", "said"),
    [
        ("There is no ground", "", "There is no ground."),
        ("There is no ground.", "", "There is no ground."),
        ("There is no ground", "ask elsewhere", "There is no ground; ask elsewhere."),
        ("There is no ground", "did you mean sea?", "There is no ground; did you mean sea?"),
        ("It is 3", "write 4. (2 more after it.)", "It is 3; write 4. (2 more after it.)"),
        ("It is 3", "write 4 (metres)", "It is 3; write 4 (metres)."),
    ],
)
def test_what_and_hint_make_a_sentence(what: str, hint: str, said: str) -> None:
    problem = TerrainError(what, hint=hint, lat=1.0)
    assert str(problem) == said
    assert (problem.what, problem.hint, problem.facts) == (what, hint, {"lat": 1.0})


@pytest.mark.parametrize(
    ("where", "what", "said"),
    [
        (Where("a.toml"), "The file is long", "a.toml: The file is long."),
        (Where("a.toml", "[camera]"), "Width is 3", "a.toml: [camera] Width is 3."),
        (Where("a.toml", "[camera]", "width"), "width is 3", "a.toml: [camera] width is 3."),
        (Where("a.toml", "[night]", "at"), "No such hour", "a.toml: [night] at: No such hour."),
        (Where("a.toml", "[night]", "at"), "attic", "a.toml: [night] at: attic."),
        (Where("a.toml", key="format"), "format is 2", "a.toml: format is 2."),
        (
            Where("a.toml", "[[lens]] number 2", "f_number"),
            "f_number is 0",
            "a.toml: [[lens]] number 2, f_number is 0.",
        ),
        (Where("a.toml", "[[lens]] number 2"), "Lens is 0", "a.toml: [[lens]] number 2 Lens is 0."),
    ],
)
def test_the_place_stands_before_and_its_key_once(where: Where, what: str, said: str) -> None:
    assert str(OutingError(what, where=where)) == said
    assert str(OutingError(what).at(where)) == said


def test_a_place_given_later_keeps_kind_facts_and_cause() -> None:
    def read(places: dict[str, float]) -> float:
        try:
            return places["lat"]
        except KeyError as cause:
            raise SkyError("No such place", hint="name another", lat=91.0) from cause

    def read_file() -> float:
        try:
            return read({})
        except BackbearingError as problem:
            problem.at(Where("a.toml", "[subject]"))
            raise

    with pytest.raises(SkyError) as caught:
        read_file()
    assert str(caught.value) == "a.toml: [subject] No such place; name another."
    assert caught.value.facts == {"lat": 91.0}
    assert isinstance(caught.value.__cause__, KeyError)
    assert caught.value.where == Where("a.toml", "[subject]")


def test_a_second_place_stands_before_the_first() -> None:
    problem = OutingError("is empty", where=Where("oak.svg")).at(Where("a.toml", "[subject]"))
    assert str(problem) == "a.toml: [subject] oak.svg: is empty."


def test_settings_are_passed_in_python_and_written_in_a_file() -> None:
    unit = Setting("unit", ("metre", "foot", "survey foot"))
    marks = Setting("voids", stands_for="[that number]")
    problem = TerrainError("No land is so high", hint=("for feet ", unit, ", else ", marks))
    assert problem.hint == (
        "for feet pass unit='metre', 'foot' or 'survey foot', else pass voids=[that number]"
    )
    problem.at(Where("a.toml", "[ground]", "elevation"))
    assert str(problem) == (
        "a.toml: [ground] elevation: No land is so high; for feet write unit = "
        '"metre", "foot" or "survey foot", else write voids = [that number].'
    )


def test_errors_come_whole_from_another_process() -> None:
    problem = NothingFoundError("No window", hint=("try ", Setting("nights", ("3",))), nights=3)
    problem.at(Where("a.toml", "[night]"))
    again = pickle.loads(pickle.dumps(problem))  # noqa: S301  # our own
    assert str(again) == str(problem)
    assert (again.facts, again.where, again.exit_code) == (problem.facts, problem.where, 3)
