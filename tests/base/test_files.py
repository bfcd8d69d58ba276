"""Files: whole or not at all, and never over another unasked."""

from __future__ import annotations

from pathlib import Path

import pytest

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import write_file, write_files


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


def test_several_files_come_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os

    paths = [tmp_path / name for name in ("a.txt", "b.txt", "c.txt")]
    usual, calls = os.fsync, []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 3:
            raise OSError(28, "No space left on device")
        usual(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(WriteRefusedError, match=r"c\.txt could not be written"):
        write_files(dict.fromkeys(paths, "text"))
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(os, "fsync", usual)

    def taken(draft: Path, target: Path) -> None:
        if target == paths[1]:
            raise OSError(17, "File exists")
        real(draft, target)

    real = os.link
    monkeypatch.setattr(os, "link", taken)
    with pytest.raises(WriteRefusedError, match=r"b\.txt could not be written"):
        write_files(dict.fromkeys(paths, "text"))
    assert list(tmp_path.iterdir()) == []


def test_a_name_as_long_as_the_file_system_allows(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 251 + ".txt")
    assert write_file(path, "x").read_bytes() == b"x"


def test_a_path_given_twice_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(WriteRefusedError, match="twice"):
        write_files({tmp_path / "a.txt": "x", tmp_path / "." / "b" / ".." / "a.txt": "y"})
    assert list(tmp_path.iterdir()) == []
