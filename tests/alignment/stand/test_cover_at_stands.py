"""Trees on an invented ridge in a plan, in a view from a spot and over an area."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.view.lens_views import view_of
from backbearing.base.errors import OutingError
from backbearing.camera.framing import Frame
from backbearing.drawing.marks import Area
from backbearing.drawing.palette import VIEW
from backbearing.outing.load import load_outing
from backbearing.pictures.preview_frame import frame_panel
from invented import write_ground, write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing

LAT, LON = 36.2, 14.9
TREES_M = 22.0


def ridge(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    return 100.0 + 120.0 * np.exp(-(((north + 1_500.0) / 300.0) ** 2)) + 0.0 * east


def trees(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    """On the ridge, at the subject itself, and nowhere else."""
    wood = np.abs(north + 1_500.0) < 400.0
    itself = np.hypot(east, north) < 20.0
    return np.where(wood | itself, TREES_M, 0.0)


@pytest.fixture
def outing(tmp_path: Path) -> Outing:
    write_ground(tmp_path / "trees.tif", trees, lat=LAT, lon=LON)
    made = write_outing(
        tmp_path, lat=LAT, lon=LON, evening=dt.date(2027, 6, 5), ground=ridge, night=NIGHT
    )
    text = made.path.read_text(encoding="utf-8")
    made.path.write_text(
        text.replace("[ground]", '[ground]\ncanopy = "trees.tif"'), encoding="utf-8"
    )
    return load_outing(made.path)


NIGHT = {"time_zone": "Europe/Rome", "moon": "any"}


def without(outing: Outing) -> Outing:
    text = outing.path.read_text(encoding="utf-8")
    bare = outing.path.with_name("bare.toml")
    bare.write_text(text.replace('canopy = "trees.tif"', ""), encoding="utf-8")
    return load_outing(bare)


def test_a_plan_says_both_skylines_and_goes_by_the_trees(outing: Outing) -> None:
    covered, bare = plan_night(outing), plan_night(without(outing))
    [one], [other] = covered.lenses, bare.lenses
    assert one.stand is not None
    assert other.stand is not None
    stand = one.stand
    # Trees lift the ridge by about their height over its distance.
    expected = math.degrees(TREES_M / stand.skyline_distance_m)
    assert stand.skyline_deg - stand.bare_skyline_deg == pytest.approx(expected, rel=0.12)
    assert stand.skyline_cover == "trees, 22 m"
    over = f"{stand.target_altitude_deg - stand.bare_skyline_deg:.1f}° over bare ground"
    said = [s for s in stand.cautions if "over bare ground" in s]
    assert len(said) == 1
    assert over in said[0]
    assert f"{stand.clearance_deg:.1f}° over trees at" in said[0]
    assert "guess" not in said[0]
    assert math.isnan(other.stand.bare_skyline_deg)
    assert not other.stand.skyline_cover
    assert any("trees.tif" in note for note in covered.notes)
    assert covered.ground.cover == "trees.tif"
    # What is known in part is not denied, nor is it called whole.
    known, unknown = ([*plan.cautions, *plan.notes] for plan in (covered, bare))
    assert any("Neither do trees" in line for line in unknown)
    assert not any("Neither do trees" in line or "Trees, houses" in line for line in known)
    assert sum("only a part" in line for line in known) == 2
    assert not any("only a part" in line for line in unknown)


def test_a_surface_product_is_not_counted_twice(outing: Outing) -> None:
    text = outing.path.read_text(encoding="utf-8")
    outing.path.write_text(
        text.replace("[ground]", '[ground]\nproduct = "copernicus 30"'), encoding="utf-8"
    )
    plan = plan_night(load_outing(outing.path))
    [one] = plan.lenses
    assert one.stand is not None
    assert math.isnan(one.stand.bare_skyline_deg)
    assert any("not counted a second time" in note for note in plan.notes)
    assert any("The raster is the top of whatever stands there" in note for note in plan.notes)
    assert not any("Neither do trees" in line for line in plan.cautions)
    assert not plan.ground.cover


def test_unknown_trees_on_the_ridge_are_said(outing: Outing) -> None:
    write_ground(
        outing.path.with_name("trees.tif"), trees, lat=LAT, lon=LON,
        void=lambda east, north: north < -900.0,
    )  # fmt: skip
    [one] = plan_night(outing).lenses
    assert one.stand is not None
    assert one.stand.skyline_cover == "unknown"
    assert one.stand.skyline_deg == one.stand.bare_skyline_deg
    assert any("is unknown: no height there in trees.tif" in s for s in one.stand.cautions)


def test_a_hole_in_the_canopy_before_the_skyline_is_said(outing: Outing) -> None:
    write_ground(
        outing.path.with_name("trees.tif"), trees, lat=LAT, lon=LON,
        void=lambda east, north: (north < -60.0) & (north > -400.0),
    )  # fmt: skip
    [one] = plan_night(outing).lenses
    assert one.stand is not None
    assert one.stand.skyline_cover == "trees, 22 m"
    [said] = [s for s in one.stand.cautions if "no height of trees is in trees.tif" in s]
    # From the stand to the hole's near side, along the way to the target, to a cell or two.
    away = float(said.split()[1])
    north = (one.stand.lat - LAT) * 111_195.0
    expected = (north + 60.0) / -math.cos(math.radians(one.stand.target_azimuth_deg))
    assert away == pytest.approx(expected, abs=45.0)
    [whole] = plan_night(without(outing)).lenses
    assert not any("no height of trees" in s for s in whole.stand.cautions)


def test_a_spot_sees_the_trees_and_one_under_them_is_told(outing: Outing) -> None:
    view = ridge_view(outing, lat=LAT, lon=LON)
    points = [p for p in view.path if p.by_cover]
    assert points
    for point in points:
        assert point.skyline_deg > point.bare_skyline_deg
    assert not any(p.by_cover for p in ridge_view(without(outing), lat=LAT, lon=LON).path)
    # The last layer of a picture is the bare ground, under the trees' tops.
    south = round(180.0 / view.ground_within[-1].step_deg)
    assert view.ground_within[-1].altitudes_deg[south] < view.horizon.altitudes_deg[south] - 0.3


def test_an_area_knows_the_trees_and_leaves_out_what_lies_under_them(outing: Outing) -> None:
    covered = ridge_area(outing, at="23:30", within_m=2_000.0)
    bare = ridge_area(without(outing), at="23:30", within_m=2_000.0)
    rows, cols = covered.cells.shape
    n = rows // 2
    # North of the ridge, in the open: lower by the trees' height over the distance.
    row = n + round(300.0 / 30.0)
    lost = bare.margin_deg[row, 5 : cols - 5] - covered.margin_deg[row, 5 : cols - 5]
    assert np.nanmedian(lost) == pytest.approx(math.degrees(TREES_M / 1_200.0), rel=0.2)
    # On the wooded crest nobody stands.
    crest = n + round(1_500.0 / 30.0)
    assert np.isnan(covered.margin_deg[crest]).all()
    assert np.isfinite(bare.margin_deg[crest]).any()


def test_missing_and_foreign_files_are_one_sentence(outing: Outing) -> None:
    outing.path.with_name("trees.tif").unlink()
    with pytest.raises(Exception, match=r"canopy.*trees\.tif") as caught:
        plan_night(outing)
    assert "\n" not in str(caught.value)
    text = outing.path.read_text(encoding="utf-8")
    outing.path.write_text(text.replace("trees.tif", "trees.jpg"), encoding="utf-8")
    with pytest.raises(Exception, match="no GeoTIFF"):
        plan_night(load_outing(outing.path))
    outing.path.write_text(text.replace('"trees.tif"', "7"), encoding="utf-8")
    with pytest.raises(OutingError, match="canopy"):
        load_outing(outing.path)


def test_one_height_for_all_ridges_is_not_put_on_known_trees(outing: Outing) -> None:
    asked = replace(outing, ground=replace(outing.ground, canopy_m=15.0))
    plan = plan_night(asked)
    [one], [other] = plan.lenses, plan_night(outing).lenses
    assert one.stand is not None
    assert other.stand is not None
    assert one.stand.skyline_deg == other.stand.skyline_deg
    assert math.isnan(one.stand.canopy_clearance_deg)
    assert any("canopy_m is not counted" in note for note in plan.notes)


def test_a_lens_sees_the_tops_over_the_grounds_own_line(outing: Outing) -> None:
    """The bare line is that of the ground alone; the tops stand over it as high as by hand."""
    night, bare = prepare_night(outing), prepare_night(without(outing))
    plan = night.plan(whole_skyline=False)
    lens = next(one for one in plan.lenses if one.stand is not None)
    assert lens.stand is not None
    view = view_of(plan, lens, night.scene.elevation)
    alone = view_of(plan, lens, bare.scene.elevation)
    assert alone.bare_ridge is None
    assert view.bare_ridge is not None
    assert view.bare_ridge == pytest.approx(alone.ridge, abs=1e-9)

    frame = Frame(plan.camera, lens.lens, lens.stand.pitch_deg, lens.stand.bearing_deg)
    x = view.ridge[len(view.ridge) // 2, 0]
    low, high = (float(np.interp(x, *line.T)) for line in (view.bare_ridge, view.ridge))
    _, up = frame.direction(np.array([x, x]), np.array([low, high]))
    away_m = lens.stand.skyline_distance_m
    assert up[1] - up[0] == pytest.approx(math.degrees(TREES_M / away_m), rel=0.25)

    palette = VIEW
    [tops, ground] = [
        mark
        for mark in frame_panel(view, x=0, y=0, width=480, palette=palette, guides=False).marks
        if isinstance(mark, Area) and mark.ink in (palette.tops, palette.ridge)
    ]
    assert (tops.ink, ground.ink) == (palette.tops, palette.ridge)
    plain = frame_panel(alone, x=0, y=0, width=480, palette=palette, guides=False).marks
    assert not any(isinstance(mark, Area) and mark.ink == palette.tops for mark in plain)


def test_the_ground_of_a_minute_knows_the_trees_however_it_is_swept(
    outing: Outing, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backbearing.alignment.ridge import foreground

    night = prepare_night(outing)
    plan = night.plan(whole_skyline=False)
    elevation = night.scene.elevation
    assert elevation is not None
    [exact] = foreground.clear_ground(plan, elevation, within_m=900.0)
    monkeypatch.setattr(foreground, "FEW_RAYS", 0)
    [swept] = foreground.clear_ground(plan, elevation, within_m=900.0)
    assert np.nanmedian(np.abs(swept.margin_deg - exact.margin_deg)) < 0.1
    [bare] = foreground.clear_ground(plan, night.scene.elevation.bare, within_m=900.0)
    assert np.nanmedian(bare.margin_deg - swept.margin_deg) > 0.3
