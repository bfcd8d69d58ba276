"""[session] of an outing file: what it becomes, and what is said of a wrong one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import OutingError
from backbearing.outing.load import load_outing
from backbearing.outing.session_request import PictureRequest

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing


def written(folder: Path, text: str) -> Path:
    path = folder / "outing.toml"
    path.write_text(text, encoding="utf-8")
    return path


def changed(folder: Path, text: str, old: str, new: str) -> Outing:
    assert old in text
    return load_outing(written(folder, text.replace(old, new, 1)))


def test_the_samples_session(outing: Outing) -> None:
    session = outing.session
    assert session is not None
    assert session.minutes == ((2.0, 4.0, 3.0, 6.0),) * 4
    assert session.not_before == "23:00"
    assert [(b.at, b.minutes) for b in session.breaks] == [("01:00", 15.0)]
    assert session.late_minutes == (10.0, 20.0, 30.0)
    assert session.pace_m == 0.74


def test_what_a_picture_counts_is_read(tmp_path: Path, sample_text: str) -> None:
    keys = {
        "above_top_wanted_deg": 8.5, "above_top_costs_m_per_deg": 1.0,
        "ridge_costs_m_per_deg": 2.0, "skyline_break_wanted_deg": -3.0,
        "skyline_break_costs_m_per_deg": 4.0, "alike_costs_m_per_deg": 5.0,
        "line_change_minutes": 6.0, "stand_before_shows_costs_m": 7.0,
        "light_moves_costs_m": 8.0,
    }  # fmt: skip
    lines = "\n".join(f"{key} = {value}" for key, value in keys.items())
    found = changed(tmp_path, sample_text, "pace_m = 0.74", f"pace_m = 0.74\n{lines}")
    assert found.session is not None
    assert {key: getattr(found.session.picture, key) for key in keys} == keys
    plain = load_outing(written(tmp_path, sample_text)).session
    assert plain is not None
    assert plain.picture == PictureRequest()


def test_without_the_section_there_is_none(tmp_path: Path, sample_text: str) -> None:
    head, rest = sample_text.split("[session]")
    bare = head + "[safety]" + rest.split("[safety]")[1]
    assert load_outing(written(tmp_path, bare)).session is None


def test_a_lens_has_its_own_minutes(tmp_path: Path, sample_text: str) -> None:
    found = changed(
        tmp_path, sample_text, "focal_length_mm = 24.0",
        "focal_length_mm = 24.0\nframes_minutes = 9\nwalk_minutes = 0",
    )  # fmt: skip
    assert found.session is not None
    assert found.session.minutes[1] == (0.0, 4.0, 3.0, 9.0)
    assert found.session.minutes[0] == (2.0, 4.0, 3.0, 6.0)


def test_frames_may_be_left_to_the_exposure(tmp_path: Path, sample_text: str) -> None:
    found = changed(tmp_path, sample_text, "frames_minutes = 6\n", "")
    assert found.session is not None
    assert found.session.minutes[0][3] is None


def test_fewer_lenses_keep_their_minutes(outing: Outing) -> None:
    fewer = outing.with_lenses(outing.lenses[1:3])
    assert fewer.session is not None
    assert len(fewer.session.minutes) == 2


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("pace_m = 0.74", "pace = 0.74", r"\[session\] pace is not a key.*did you mean pace_m"),
        ("pace_m = 0.74", "pace_m = 74", r"\[session\] pace_m is 74"),
        ("pace_m = 0.74", 'pace_m = "0.74"', "write a number without quotes"),
        ('not_before = "23:00"', "not_before = 23.5", r"not_before is 23.5.*local wall time"),
        ("minutes = 15 }", "minutes = 0 }", r"\[session\] breaks.*minutes is 0"),
        ("minutes = 15 }", "minute = 15 }", r"breaks.*minutes is missing"),
        ('at = "01:00"', 'at = "1 am"', "local wall time"),
        ("frames_minutes = 6", "frames_minutes = -1", "frames_minutes is -1"),
        ("clear_by_deg = 1.0", 'clear_by_deg = 1.0\nat = "01:00"', r"\[night\] at holds all"),
        ("[session]", "[sessions]", "did you mean session"),
    ],
)
def test_wrong_keys_are_answered(
    tmp_path: Path, sample_text: str, old: str, new: str, said: str
) -> None:
    with pytest.raises(OutingError, match=said) as caught:
        changed(tmp_path, sample_text, old, new)
    assert "outing.toml" in str(caught.value)


def test_a_break_without_a_clock_time_is_refused(tmp_path: Path, sample_text: str) -> None:
    with pytest.raises(OutingError, match="at is missing"):
        changed(tmp_path, sample_text, 'at = "01:00", ', "")


def test_minutes_without_a_session_are_refused(tmp_path: Path, sample_text: str) -> None:
    head, rest = sample_text.split("[session]")
    bare = head + "[safety]" + rest.split("[safety]")[1]
    with pytest.raises(OutingError, match="number 2, frames_minutes means something only in a"):
        changed(
            tmp_path, bare, "focal_length_mm = 24.0", "focal_length_mm = 24.0\nframes_minutes = 9"
        )


def test_more_than_eight_lenses_are_refused(tmp_path: Path, sample_text: str) -> None:
    more = "".join(f"[[lens]]\nfocal_length_mm = {f}.0\n\n" for f in range(51, 57))
    with pytest.raises(OutingError, match="at most 8 lenses and there are 10"):
        changed(tmp_path, sample_text, "[session]", more + "[session]")


@pytest.mark.slow
def test_an_unknown_parking_is_answered_with_the_known(
    tmp_path: Path, sample_text: str, elevation
) -> None:  # type: ignore[no-untyped-def]
    from backbearing.alignment import plan_night

    asked = changed(tmp_path, sample_text, "pace_m = 0.74", 'parking = "Mill yard"')
    with pytest.raises(OutingError, match=r"\[session\] parking.*Lych pull-in"):
        plan_night(asked, elevation)
