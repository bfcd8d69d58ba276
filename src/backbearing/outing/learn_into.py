"""Put what frames taught into an outing file: keys and skyline marks, all of it or nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError, Where
from backbearing.base.files import write_file
from backbearing.base.input_files import checked_path, read_text
from backbearing.outing.append_marks import marks_text
from backbearing.outing.load import outing_of
from backbearing.outing.toml_edit import changed_toml
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.outing.write_keys import in_its_own_way, replaced_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from backbearing.outing.marks_request import MarkRequest

MOST_KEPT: Final = 999


def learned_before(path: str | Path) -> frozenset[str]:
    """Which frames an outing file has learned from already, by their own names for them.

    Raises
    ------
    OutingError
        When the file is missing or not TOML.
    """
    file = checked_path(path)
    held = parse_outing_text(read_text(file, "an outing", largest_bytes=LARGEST_BYTES), file)
    noted = held.get("learned", {})
    frames = noted.get("from_frames", []) if isinstance(noted, dict) else []
    return frozenset(one for one in frames if isinstance(one, str))


def learn_into(
    path: str | Path,
    changes: Mapping[str, Mapping[str, Any]],
    marks: Sequence[MarkRequest],
    notes: Sequence[str],
) -> Path:
    """Set keys and add marks in one step; the file as it was is kept beside it.

    Nothing else in the file changes, and it changes only if it holds together as an outing.

    Parameters
    ----------
    path : path
    changes : mapping of mappings
        As for `set_keys`.
    marks : sequence of MarkRequest
    notes : sequence of str
        A comment for each.

    Returns
    -------
    Path
        The copy of the file as it was: put in its place it undoes all of it.

    Raises
    ------
    OutingError
        When the file is no outing, or would be none afterwards.
    WriteRefusedError
        When the disk refuses.
    """
    file = checked_path(path)
    text = read_text(file, "an outing", largest_bytes=LARGEST_BYTES)
    before = parse_outing_text(text, file)
    try:
        made = changed_toml(text, in_its_own_way(before, changes))
    except OutingError as problem:
        raise problem.at(Where(file.name)) from None
    line_end = "\r\n" if "\r\n" in text else "\n"
    if marks:
        made += "" if made.endswith("\n") else line_end
        made += marks_text(marks, notes=notes, line_end=line_end)
    outing_of(parse_outing_text(made, file), file)
    target = file.resolve()
    kept = write_file(_free(target), target.read_bytes(), overwrite=False)
    replaced_text(file, made)
    return kept


def _free(file: Path) -> Path:
    """A name for the copy that nothing has yet."""
    for number in range(1, MOST_KEPT + 1):
        found = file.with_name(f"{file.stem}.before-{number}{file.suffix}")
        if not found.exists():
            return found
    raise OutingError(
        f"{file.name} has {MOST_KEPT} copies of how it was beside it",
        hint="remove those that you do not need",
        file=str(file),
    )
