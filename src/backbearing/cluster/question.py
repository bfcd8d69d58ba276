"""Which question the parts in a folder answer, so that none is taken for another's."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import write_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

FILE: Final = "question.json"

MOST_BYTES: Final = 100_000


def digest_of(*values: object) -> str:
    """Name values by what they say of themselves; equal ones have one name."""
    return hashlib.sha256(repr(values).encode()).hexdigest()[:20]


def stamps_of(paths: Iterable[Path]) -> list[tuple[str, list[tuple[str, int, int]]]]:
    """Name, size and date of files, and of what lies in folders: what changes with them."""
    found = []
    for path in paths:
        parts = sorted(path.iterdir()) if path.is_dir() else [path] if path.exists() else []
        looked = [(one.name, one.stat()) for one in parts]
        found.append((str(path), [(name, s.st_size, s.st_mtime_ns) for name, s in looked]))
    return found


def check_question(folder: Path, kind: str, question: Mapping[str, str]) -> None:
    """Write down the question of a folder's parts, or refuse a folder that answers another.

    Parameters
    ----------
    folder : Path
    kind : str
        Of the parts, such as ``ridge``.
    question : mapping of str to str
        Digests by what a person calls the part of the question.

    Raises
    ------
    WriteRefusedError
        In one sentence that says what of the question has changed.
    """
    file = folder / FILE
    asked = {"format": "backbearing-kept", "kind": kind, "question": dict(question)}
    if not file.exists():
        text = json.dumps(asked, indent=1, sort_keys=True) + "\n"
        write_file(file, text.encode("utf-8"), overwrite=True)
        return
    held = _read(file)
    if held == asked:
        return
    if held.get("kind") != kind or not isinstance(held.get("question"), dict):
        said = f"{folder} holds finished parts of another job"
    else:
        before = held["question"]
        names = [name for name in {**before, **question} if before.get(name) != question.get(name)]
        said = f"{folder} holds finished parts of another question: {_listed(names)} changed since"
    raise WriteRefusedError(
        said, hint="keep the parts of this one in another folder, or empty it", path=str(folder)
    )


def _read(file: Path) -> dict[str, Any]:
    try:
        with file.open("rb") as data:
            held = json.loads(data.read(MOST_BYTES))
    except (OSError, ValueError, RecursionError):
        return {}
    return held if isinstance(held, dict) else {}


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
