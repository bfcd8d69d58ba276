"""What one may mean by the core: places from published positions, and where pictures show them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.view import views
from backbearing.alignment.view.milky_way import brightness, middle_of_bulge_light
from backbearing.camera.framing import Frame
from backbearing.drawing.marks import Words
from backbearing.outing.load import load_outing
from backbearing.pictures import preview_sheet
from backbearing.sky.directions import direction
from backbearing.sky.targets import CORE_PLACES, icrs_to_galactic

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation


def test_places_stand_where_they_were_published() -> None:
    astropy = pytest.importorskip("astropy.coordinates")
    # Cloud: 18h 00m -29, Pipe's bowl: 17h 33m -26 30 (public encyclopaedia, after Crossen and
    # Rhemann, and Barnard).
    for name, text in (("bright cloud", "18h00m -29d"), ("dark lane", "17h33m -26d30m")):
        there, place = astropy.SkyCoord(text), CORE_PLACES[name]
        assert place.ra_deg == pytest.approx(there.ra.deg, abs=1e-9)
        assert place.dec_deg == pytest.approx(there.dec.deg, abs=1e-9)
        galactic = icrs_to_galactic(ra_deg=place.ra_deg, dec_deg=place.dec_deg)
        assert galactic[0] == pytest.approx(there.galactic.l.deg, abs=1e-4)
        assert galactic[1] == pytest.approx(there.galactic.b.deg, abs=1e-4)


def test_the_cloud_holds_the_window_to_the_bulge_beside_it() -> None:
    # Baade's window about NGC 6522 (18h 03.6m -30 02, from observers' lists) lies in the cloud.
    astropy = pytest.importorskip("astropy.coordinates")
    window, place = astropy.SkyCoord("18h03m36s -30d02m"), CORE_PLACES["bright cloud"]
    cloud = astropy.SkyCoord(place.ra_deg, place.dec_deg, unit="deg")
    assert window.separation(cloud).deg < 2.0


def test_the_middle_of_the_bulges_light_is_the_models() -> None:
    l_deg, b_deg = middle_of_bulge_light()
    place = CORE_PLACES["bulge light"]
    stored = icrs_to_galactic(ra_deg=place.ra_deg, dec_deg=place.dec_deg)
    assert stored[0] == pytest.approx(l_deg, abs=0.06)
    assert stored[1] == pytest.approx(b_deg, abs=0.06)
    # By brute force over random directions: no picture of the function, the same question.
    rng = np.random.default_rng(5)
    z, turn = (
        1.0 - rng.uniform(0.0, 1.0 - np.cos(np.radians(12.0)), 40000),
        rng.uniform(0, 7, 40000),
    )
    away = np.degrees(np.arccos(z))
    along, up = away * np.cos(turn * 2.0 * np.pi / 7.0), away * np.sin(turn * 2.0 * np.pi / 7.0)
    light = brightness(along, up)
    bright = light > 0.5 * light.max()
    assert along[bright].mean() == pytest.approx(l_deg, abs=0.15)
    assert up[bright].mean() == pytest.approx(b_deg, abs=0.15)
    # It is brighter there than at Sgr A* and in the dark lane: what the picture shows.
    there = {
        name: float(brightness(*map(np.atleast_1d, icrs_to_galactic(
            ra_deg=one.ra_deg, dec_deg=one.dec_deg)))[0])
        for name, one in CORE_PLACES.items()
    }  # fmt: skip
    assert min(there["bulge light"], there["bright cloud"]) > 1.5 * max(
        there["core"], there["dark lane"]
    )


@pytest.mark.parametrize("name", list(CORE_PLACES))
def test_an_outing_names_each(name: str, tmp_path: Path, sample_text: str) -> None:
    path = tmp_path / "outing.toml"
    path.write_text(sample_text.replace('name = "core"', f'name = "{name}"'), encoding="utf-8")
    assert load_outing(path).target == CORE_PLACES[name]


def test_a_preview_marks_each_where_it_stands(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    seen = views(plan, elevation)
    for view, lens in zip(seen, plan.lenses, strict=True):
        stand = lens.stand
        assert stand is not None
        frame = Frame(plan.camera, lens.lens, stand.pitch_deg, stand.bearing_deg)
        marked = {one.name: (one.x, one.y) for one in view.places}
        assert all(0.0 <= v <= 1.0 for place in marked.values() for v in place)
        for name, target in CORE_PLACES.items():
            azimuth, altitude = direction(
                target, lat=stand.lat, lon=stand.lon, height_m=stand.ground_m, times=[stand.time]
            )
            x, y = frame.place(float(azimuth[0]), float(altitude[0]))
            inside = 0.0 <= x <= 1.0 and 0.0 <= y <= 1.0
            said = {"core": "Sgr A*"}.get(name, name)
            if said in marked:
                assert inside
                # The turn of the whole sky is within 0.001 degree: 1e-4 of any of these frames.
                assert marked[said] == pytest.approx((x, y), abs=1e-4)
            else:
                assert not inside or y < np.interp(x, *view.ridge.T)
    assert {one.name for one in seen[0].places} == {
        "Sgr A*",
        "bright cloud",
        "bulge light",
        "dark lane",
    }


@pytest.mark.parametrize("number", [0, 3])
@pytest.mark.parametrize("guides", [True, False])
def test_names_on_a_preview_do_not_cover_one_another(
    plan: Plan, elevation: Elevation, number: int, *, guides: bool
) -> None:
    view = views(plan, elevation)[number]
    (panel,) = preview_sheet(view, guides=guides).panels
    names = {one.name for one in view.places}
    if guides:
        names -= {"Sgr A*"}  # the target, which the guides name
    words = [m for m in panel.marks if isinstance(m, Words) and m.text in names]
    assert {one.text for one in words} == names
    boxes = [
        (m.x - 0.3 * m.size * len(m.text), m.y - m.size, m.x + 0.3 * m.size * len(m.text), m.y)
        for m in words
    ]
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
