"""What all tests share: the sample outing, its ground, and its plan, made once."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings
from shapely.geometry import Point

from backbearing.base.grouped import changed
from backbearing.plan.place import Place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_terrain"
DEEP_VALLEY = ROOT / "tests" / "deep_valley" / "outing.toml"
CHROMIUM = "/usr/bin/chromium"

# Modules of this folder that tests share: `invented`, `random_outings`.
sys.path.insert(0, str(Path(__file__).resolve().parent))

settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")
os.environ.setdefault("MPLBACKEND", "Agg")


@pytest.fixture(scope="session")
def outing() -> Outing:
    from backbearing.outing.load import load_outing

    return load_outing(SAMPLE / "outing.toml")


@pytest.fixture(scope="session")
def elevation(outing: Outing) -> Elevation:
    from backbearing.alignment.night.from_outing import open_elevation

    return open_elevation(outing)


@pytest.fixture(scope="session")
def plan(outing: Outing, elevation: Elevation) -> Plan:
    from backbearing.alignment import plan_night

    return plan_night(outing, elevation)


@pytest.fixture(scope="session")
def deep_valley() -> Outing:
    """An outing that the sample's is not: a high ridge stands behind a low subject."""
    from backbearing.outing.load import load_outing

    return load_outing(DEEP_VALLEY)


@pytest.fixture(scope="session")
def deep_valley_plan(deep_valley: Outing, elevation: Elevation) -> Plan:
    from backbearing.alignment import plan_night

    return plan_night(deep_valley, elevation)


@pytest.fixture
def sample_text() -> str:
    """Return the sample outing's text with its files named by full path."""
    text = (SAMPLE / "outing.toml").read_text(encoding="utf-8")
    for name in (
        "sample_srtm_3arcsec.tif",
        "places.geojson",
        "chapel_gable.svg",
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


@pytest.fixture(scope="session")
def firefox() -> Iterator[Any]:
    """Debian's Firefox, headless. Where it is missing tests skip; under CI they fail."""
    try:
        from firefox import FIREFOX, Firefox
    except ImportError:
        FIREFOX = ""
    if not os.access(FIREFOX, os.X_OK):
        lacking = "Firefox tests need websockets and Debian's package firefox-esr"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)
    with Firefox() as browser:
        yield browser


HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    "${alert(3)}",
    "`${alert(4)}`",
    "{{ 7 * 7 }} {% raw %}",
    "\u202egnp.tfel ot thgir\u202c",
    "שלום מגדל",
    "😀 mill 🏔️",
    "line\u2028separator",
    "-->]]>&lt;b&gt;&amp;",
    "\"quotes' and \\u003cslashes\\",
)


@pytest.fixture(scope="session")
def hostile_texts() -> tuple[str, ...]:
    """Names that would do harm in a page that let them."""
    return HOSTILE


@pytest.fixture(scope="session")
def hostile_plan(plan: Plan) -> Plan:
    """The sample's plan with every free text replaced by something unfriendly."""
    text = dict(enumerate(HOSTILE))
    lenses = tuple(
        replace(
            lens,
            sentence=text[i],
            lens=replace(lens.lens, name=text[i + 4]),
            stand=replace(lens.stand, cautions=(text[i], text[i + 1])) if lens.stand else None,
        )
        for i, lens in enumerate(plan.lenses)
    )
    session = plan.session
    assert session is not None
    renamed = {lens.lens.focal_length_mm: lens.lens for lens in lenses}
    shots = tuple(
        replace(
            shot,
            lens=renamed[shot.lens.focal_length_mm],
            stand=replace(shot.stand, cautions=(text[i], text[i + 1])),
            placing=replace(shot.placing, instructions=HOSTILE),
            late=tuple(replace(late, sentence=text[5]) for late in shot.late),
        )
        for i, shot in enumerate(session.shots)
    )
    lighting = session.lighting
    assert lighting is not None
    said = replace(
        session,
        shots=shots,
        sentence=text[0],
        cautions=HOSTILE,
        notes=HOSTILE,
        approach=replace(session.approach, start=text[1], cautions=HOSTILE),
        lighting=replace(
            lighting,
            notes=HOSTILE,
            blind=replace(lighting.blind, sentence=text[1]),
            side_lights=tuple(
                replace(side, side=text[0], sentence=text[2]) for side in lighting.side_lights
            ),
        ),
    )
    spot = Point(plan.subject.lon + 0.0004, plan.subject.lat - 0.0003)
    return changed(
        plan,
        name=text[0],
        subject=replace(plan.subject, name=text[1], kind=text[2]),
        target=replace(plan.target, name=text[3]),
        viewpoint_note=text[4],
        lenses=lenses,
        session=said,
        places=tuple(
            Place("note", name, HOSTILE[-1 - i], "unknown", Point(spot.x + i * 3e-4, spot.y))
            for i, name in enumerate(HOSTILE)
        ),
        events=tuple(replace(e, name=text[i % 9]) for i, e in enumerate(plan.events)),
        ground=replace(plan.ground, source=text[1], credit=text[0], crs=text[3]),
        cautions=HOSTILE,
        notes=HOSTILE,
        emergency_number=text[1],
        version=text[0],
    )
