"""Arrays of which only what is written to takes memory."""

from __future__ import annotations

import resource
import sys

import numpy as np
import pytest

from backbearing.base.paged import give_back, paged_zeros


def test_an_array_of_zeros_that_can_be_written_to() -> None:
    found = paged_zeros((3, 5), np.float32)
    assert found.shape == (3, 5)
    assert found.dtype == np.float32
    assert found.flags.c_contiguous
    assert not found.any()
    found[1, 2] = 7.0
    assert found.sum() == 7.0
    assert paged_zeros((0, 4), np.int32).shape == (0, 4)


@pytest.mark.skipif(sys.platform != "linux", reason="memory is told in other ways elsewhere")
def test_what_is_not_written_to_takes_no_memory() -> None:
    # 1.6 GB of which one number in each of 2,000 rows is written: 2,000 pages of 4 KiB, 8 MB.
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    found = paged_zeros((2_000, 200_000), np.float32)
    found[:, 17] = 1.0
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024.0
    assert found[:, :32].sum() == 2_000.0
    assert grown_mb < 100.0


def test_memory_may_be_given_back_at_any_time() -> None:
    kept = np.arange(1_000_000.0)
    give_back()
    assert kept[-1] == 999_999.0
