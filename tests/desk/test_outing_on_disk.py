"""The file is the state: kept whole, never overwritten blindly, one step back at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from backbearing.base.errors import BackbearingError
from backbearing.desk.outing_on_disk import ConflictError, OutingOnDisk
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path


def test_a_draft_writes_nothing(outing_file: Path) -> None:
    before = outing_file.read_bytes()
    draft = OutingOnDisk(outing_file).draft({"subject": {"height_m": 8.5}})
    assert draft.subject.height_m == 8.5
    assert outing_file.read_bytes() == before


def test_keeping_changes_those_keys_and_keeps_the_comments(outing_file: Path) -> None:
    kept = OutingOnDisk(outing_file)
    before = outing_file.read_text(encoding="utf-8")
    kept.keep({"subject": {"height_m": 8.5}, "night": {"evening": "2027-07-04"}}, kept.revision)
    after = outing_file.read_text(encoding="utf-8")
    changed = zip(before.split("\n"), after.split("\n"), strict=True)
    assert [b for a, b in changed if a != b] == ["height_m = 8.5", "evening = 2027-07-04"]
    assert load_outing(outing_file).night.evening.isoformat() == "2027-07-04"


def test_two_windows_do_not_overwrite_each_other(outing_file: Path) -> None:
    one, other = OutingOnDisk(outing_file), OutingOnDisk(outing_file)
    seen = other.revision
    one.keep({"subject": {"height_m": 7.0}}, one.revision)
    with pytest.raises(ConflictError):
        other.keep({"subject": {"height_m": 4.0}}, seen)
    assert load_outing(outing_file).subject.height_m == 7.0


def test_steps_back_give_each_earlier_file(outing_file: Path) -> None:
    kept = OutingOnDisk(outing_file)
    versions = [outing_file.read_bytes()]
    for height in (6.0, 7.0, 8.0):
        kept.keep({"subject": {"height_m": height}}, kept.revision)
        versions.append(outing_file.read_bytes())
    while len(versions) > 1:
        assert kept.can_undo
        assert outing_file.read_bytes() == versions.pop()
        kept.undo(kept.revision)
    assert outing_file.read_bytes() == versions[0]
    assert not kept.can_undo


def test_a_step_back_never_loses_what_an_editor_wrote(outing_file: Path) -> None:
    kept = OutingOnDisk(outing_file)
    kept.keep({"subject": {"height_m": 6.0}}, kept.revision)
    mine = outing_file.read_text(encoding="utf-8") + "# a note of mine\n"
    outing_file.write_text(mine, encoding="utf-8")
    assert not kept.can_undo
    with pytest.raises(ConflictError):
        kept.undo(kept.revision)
    assert outing_file.read_text(encoding="utf-8") == mine


@pytest.mark.parametrize(
    "changes",
    [
        {"ground": {"elevation": "/etc/passwd"}},
        {"subject": {"outline": "../../secret.svg"}},
        {"subject": {"height_m": float("nan")}},
        {"subject": {"height_m": "tall"}},
        {"subject": {"lat": 95.0}},
        {"night": {"evening": "yesterday"}},
        {"framing": {"share": 7}},
        {"": {"format": 2}},
        {"subject": {"height_m": {"a": 1}}},
    ],
)
def test_what_would_not_hold_together_is_a_sentence_and_no_write(
    outing_file: Path, changes: dict[str, dict[str, Any]]
) -> None:
    kept = OutingOnDisk(outing_file)
    before = outing_file.read_bytes()
    with pytest.raises(BackbearingError) as told:
        kept.keep(changes, kept.revision)
    assert str(told.value)
    assert outing_file.read_bytes() == before
