"""What all tests share: the sample outing, its ground, and its plan, made once."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing import Outing
    from backbearing.terrain import Elevation

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_terrain"

settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")
os.environ.setdefault("MPLBACKEND", "Agg")


@pytest.fixture(scope="session")
def outing() -> Outing:
    from backbearing.outing import load_outing

    return load_outing(SAMPLE / "outing.toml")


@pytest.fixture(scope="session")
def elevation(outing: Outing) -> Elevation:
    from backbearing.alignment.prepare import open_elevation

    return open_elevation(outing)


@pytest.fixture(scope="session")
def plan(outing: Outing, elevation: Elevation) -> Plan:
    from backbearing.alignment import plan_night

    return plan_night(outing, elevation)


@pytest.fixture
def sample_text() -> str:
    """Return the sample outing's text with its files named by full path."""
    text = (SAMPLE / "outing.toml").read_text(encoding="utf-8")
    for name in ("sample_srtm_3arcsec.tif", "places.geojson", "lantern_oak.svg"):
        text = text.replace(f'"{name}"', f'"{(SAMPLE / name).as_posix()}"')
    return text
