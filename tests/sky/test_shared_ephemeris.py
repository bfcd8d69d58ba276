"""One open ephemeris under several forked processes, which share its place in the file."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from skyfield.jpllib import SpiceKernel

from backbearing.sky import places

if TYPE_CHECKING:
    from collections.abc import Iterator

JUNE_2027_JD = 2_461_558.5
A_BLOCK = 4096


class MovedByAnother:
    """A file whose place another process moves on by a block between the seek and the read."""

    def __init__(self, file: Any) -> None:
        self._file = file

    def seek(self, place: int) -> int:
        return int(self._file.seek(place + A_BLOCK))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


@pytest.fixture
def opened() -> Iterator[Any]:
    """Open the ephemeris anew, as a program that has asked nothing of it yet has it."""
    kernel = places.ephemeris.__wrapped__()
    yield kernel
    kernel.close()


def test_the_file_moved_by_another_process_changes_no_place(opened: Any) -> None:
    opened.spk.daf.file = MovedByAnother(opened.spk.daf.file)
    # The same file, opened by itself and moved by nobody.
    alone = SpiceKernel(opened.path)
    assert len(alone.spk.segments) == 15
    for one, other in zip(opened.spk.segments, alone.spk.segments, strict=True):
        assert (one.center, one.target) == (other.center, other.target)
        assert np.array_equal(one.compute(JUNE_2027_JD), other.compute(JUNE_2027_JD))
    alone.close()


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_what_is_open_is_still_the_file_that_children_share(opened: Any) -> None:
    # Else the test above would move a file that nothing is read from.
    file = opened.spk.daf.file
    assert Path(f"/proc/self/fd/{file.fileno()}").samefile(opened.path)
    before = os.lseek(file.fileno(), 0, os.SEEK_CUR)
    opened["moon"].at(places.timescale().tt_jd(JUNE_2027_JD))
    assert os.lseek(file.fileno(), 0, os.SEEK_CUR) == before
