"""Files: whole or not at all, and never over another unasked."""

from __future__ import annotations

from pathlib import Path

import pytest

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import write_file


def test_writes_text_and_leaves_no_draft(tmp_path: Path) -> None:
    path = write_file(tmp_path / "a.txt", "line\n")
    assert path.read_bytes() == b"line\n"
    assert list(tmp_path.iterdir()) == [path]


def test_refuses_to_overwrite_unasked(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("mine")
    with pytest.raises(WriteRefusedError, match="already there"):
        write_file(path, "theirs")
    assert path.read_text() == "mine"
    write_file(path, "theirs", overwrite=True)
    assert path.read_text() == "theirs"


def test_a_failed_write_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")

    def full(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(WriteRefusedError, match="No space"):
        write_file(path, "new", overwrite=True)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_names_the_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(WriteRefusedError, match="no folder"):
        write_file(tmp_path / "none" / "a.txt", "x")


def test_refuses_a_folder(tmp_path: Path) -> None:
    with pytest.raises(WriteRefusedError, match="is a folder"):
        write_file(tmp_path, "x")
