"""What all tests share: the sample outing, its ground, and its plan, made once."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_terrain"
CHROMIUM = "/usr/bin/chromium"

settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")
os.environ.setdefault("MPLBACKEND", "Agg")


@pytest.fixture(scope="session")
def outing() -> Outing:
    from backbearing.outing.load import load_outing

    return load_outing(SAMPLE / "outing.toml")


@pytest.fixture(scope="session")
def elevation(outing: Outing) -> Elevation:
    from backbearing.alignment.night.setup import open_elevation

    return open_elevation(outing)


@pytest.fixture(scope="session")
def plan(outing: Outing, elevation: Elevation) -> Plan:
    from backbearing.alignment import plan_night

    return plan_night(outing, elevation)


@pytest.fixture
def sample_text() -> str:
    """Return the sample outing's text with its files named by full path."""
    text = (SAMPLE / "outing.toml").read_text(encoding="utf-8")
    for name in (
        "sample_srtm_3arcsec.tif",
        "places.geojson",
        "lantern_oak.svg",
        "lone_things.csv",
        "ways.geojson",
        "towns.csv",
    ):
        text = text.replace(f'"{name}"', f'"{(SAMPLE / name).as_posix()}"')
    return text


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Debian's Chromium, headless. Where it is missing tests skip; under CI they fail."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        sync_playwright = None
    if sync_playwright is None or not os.access(CHROMIUM, os.X_OK):
        lacking = f"browser tests need playwright and {CHROMIUM} (Debian package chromium)"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--no-first-run",
            ],
        )
        yield browser
        browser.close()
