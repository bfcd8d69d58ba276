"""Makes the star fields of this folder importable, and settles what its tests share."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.review.compare import Candidate

sys.path.insert(0, str(Path(__file__).resolve().parent))


@pytest.fixture(scope="session")
def found(plan: Plan) -> tuple[Candidate, ...]:
    """Return the sample plan's lenses at their turns."""
    from backbearing.review.compare import candidates

    return candidates(plan)


@pytest.fixture(scope="session")
def zone(plan: Plan) -> ZoneInfo:
    return ZoneInfo(plan.zone)
