"""One limited child process for all hostile files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from limited import MOST_SECONDS, Limited, Outcome

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@pytest.fixture(scope="session")
def limited() -> Iterator[Limited]:
    child = Limited()
    yield child
    child.stop()


@pytest.fixture
def refused(limited: Limited) -> Callable[[str, Path], str]:
    """Give the one sentence with which a reader refuses a file, within time and memory."""

    def check(reader: str, path: Path, most_bytes: int = 600_000_000) -> str:
        found = limited.read(f"readers:{reader}", path)
        assert found.error, f"{path.name} was read"
        told_in_a_sentence(found)
        assert found.grown_bytes <= most_bytes, found
        return found.sentence

    return check


def told_in_a_sentence(found: Outcome) -> None:
    """Hold a refusal to its form: our own error, one line, one sentence, cut to a length."""
    assert found.sentence, found.trace
    assert found.seconds <= MOST_SECONDS, found
    assert "\n" not in found.sentence
    assert len(found.sentence) <= 1_200, len(found.sentence)
    assert found.sentence.isprintable(), found.sentence
    assert found.sentence.endswith((".", "?", ".)")), found.sentence
