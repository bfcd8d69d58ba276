"""What a clearance is worth."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import runpy
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.alignment import find_stands
from backbearing.alignment.night.from_outing import scene_of
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.stand.stand_doubts import with_doubts
from backbearing.alignment.stand.stands import stand_at
from backbearing.alignment.stand.uncertainty import verdict
from backbearing.base.errors import TerrainError
from backbearing.terrain import Elevation
from backbearing.terrain.reading.products import PRODUCTS, product_named

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing

MOMENT = dt.datetime(2027, 6, 6, 5, 0, tzinfo=dt.UTC)


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


@pytest.mark.parametrize(
    ("clearance", "sigma", "bias", "graded"),
    [
        (3.0, 0.5, 0.0, "clears"),
        (1.3, 0.5, 0.0, "clears"),
        (1.2, 0.5, 0.0, "too close to call"),
        (1.3, 0.5, 0.1, "too close to call"),
        (1.7, 0.5, 0.4, "clears"),
        (-0.9, 0.5, 0.0, "too close to call"),
        (-1.1, 0.5, 0.0, "hidden"),
        (-0.9, 0.5, 0.2, "hidden"),
        (-3.0, 0.5, 0.0, "hidden"),
        (float("nan"), 0.5, 0.0, "unknown"),
        (1.0, float("nan"), 0.0, "unknown"),
        (1.0, 0.1, float("nan"), "unknown"),
    ],
)
def test_three_grades_and_unknown(clearance: float, sigma: float, bias: float, graded: str) -> None:
    # Two and a half standard deviations over the true skyline clear, two below it hide.
    assert verdict(clearance, sigma, bias) == graded


def test_the_sample_says_its_product(plan: Plan) -> None:
    # 9.0 m at 90 % is 5.47 m at one standard deviation.
    assert plan.ground.vertical_sigma_m == pytest.approx(5.47, abs=0.01)
    # Of the 7.0 m that two heights nearby differ by at 90 %, 4.26 m, each has 1 / sqrt(2).
    assert plan.ground.local_sigma_m == pytest.approx(3.01, abs=0.01)
    assert plan.ground.error_range_m == pytest.approx(5 * plan.ground.cell_m)


def test_trees_lower_the_clearance_by_their_angle(plan: Plan) -> None:
    for lens in plan.lenses:
        assert lens.stand is not None
        lost = lens.stand.clearance_deg - lens.stand.canopy_clearance_deg
        seen = math.degrees(15.0 / lens.stand.skyline_distance_m)
        assert 0.0 < lost < 1.5 * seen + 0.5


def test_no_trees_asked_no_trees_answered(outing: Outing, elevation: Elevation) -> None:
    (stand,) = find_stands(
        outing.subject, outing.target, MOMENT, outing.camera, [outing.lenses[0].lens],
        outing.framing, elevation,
    )  # fmt: skip
    assert math.isnan(stand.canopy_clearance_deg)


def test_higher_trees_never_help(outing: Outing, elevation: Elevation) -> None:
    scene = scene_of(outing, elevation)
    clear = [
        stand_at(
            dataclasses.replace(scene, canopy_m=height), outing.lenses[0].lens, MOMENT
        ).canopy_clearance_deg
        for height in (1.0, 10.0, 30.0, 60.0)
    ]
    assert clear == sorted(clear, reverse=True)


def test_every_moment_of_a_skyline_is_graded(outing: Outing, elevation: Elevation) -> None:
    view = ridge_view(outing, lat=outing.subject.lat, lon=outing.subject.lon, elevation=elevation)
    assert {"clears", "too close to call", "hidden"} == {point.verdict for point in view.path}
    for point in view.path:
        assert 0.02 < point.clearance_sigma_deg < 2.0
        assert -0.1 < point.clearance_bias_deg < 1.0
        assert point.verdict == verdict(
            point.clearance_deg, point.clearance_sigma_deg, point.clearance_bias_deg
        )


def hill(height_m: float = 120.0, radius_m: float = 400.0, cell: float = 1.0 / 3600.0) -> Elevation:
    """A lone round hill at 31 S on a raster of cells of some degrees, 30 m here, from an array."""
    north, east = np.mgrid[200:-201:-1, -200:201] * cell * 111_000.0
    away = np.hypot(north, east * math.cos(math.radians(31.0)))
    heights = 300.0 + height_m * np.exp(-((away / radius_m) ** 2))
    grid = Affine(cell, 0.0, 25.0 - 200.5 * cell, 0.0, -cell, -31.0 + 200.5 * cell)
    return Elevation.from_array(heights, grid, "EPSG:4326")


@pytest.mark.parametrize("cell_m", [30.0, 10.0, 5.0])
@pytest.mark.parametrize(("lat", "lon"), [(-31.0, 25.0), (-31.0012, 25.0008), (-30.9985, 25.0)])
def test_a_subject_on_a_hill_is_not_drowned_in_doubt(
    outing: Outing, lat: float, lon: float, cell_m: float
) -> None:
    # Without a stated error, within 30 m of the skyline: +16.0 ± 27.7 was said here before.
    elevation = hill(cell=cell_m / 108_000.0)
    subject = dataclasses.replace(outing.subject, lat=lat, lon=lon)
    moment = dt.datetime(2027, 6, 6, 17, 30, tzinfo=dt.UTC)
    stands = find_stands(
        subject, outing.target, moment, outing.camera, [one.lens for one in outing.lenses],
        outing.framing, elevation,
    )  # fmt: skip
    for stand in stands:
        assert stand.clearance_deg > 15.0
        assert stand.clearance_sigma_deg < 6.0
        assert stand.verdict == "clears"
        near = any("rocks, bushes and hollows" in said for said in stand.cautions)
        assert near == (stand.skyline_distance_m < 100.0)


@pytest.mark.parametrize(("lat", "lon"), [(-31.0, 25.0), (-31.0012, 25.0008), (-30.9985, 25.0)])
def test_a_target_high_over_the_ridge_is_never_too_close_to_call(
    outing: Outing, lat: float, lon: float
) -> None:
    # "Too close to call" was said here with the core 46 degrees over the ridge.
    subject = dataclasses.replace(outing.subject, lat=lat, lon=lon)
    ground = dataclasses.replace(outing.ground, product="", vertical_sigma_m=None)
    view = ridge_view(
        dataclasses.replace(outing, subject=subject, ground=ground), lat=lat, lon=lon,
        elevation=hill(),
    )  # fmt: skip
    high = [point for point in view.path if point.clearance_deg > 30.0]
    assert max(point.clearance_deg for point in high) > 46.0
    assert {point.verdict for point in high} == {"clears"}
    # Heights that err by 10 m still leave some doubt, of far ground and near.
    assert all(0.02 < point.clearance_sigma_deg < 10.0 for point in view.path)


def test_a_product_known_better_leaves_less_doubt(outing: Outing, elevation: Elevation) -> None:
    scene = scene_of(outing, elevation)
    stand = stand_at(scene, outing.lenses[0].lens, MOMENT)
    assert math.isnan(stand.clearance_sigma_deg)
    assert stand.verdict == "unknown"
    sigma = []
    for key in ("srtm", "srtm north america", "copernicus 90"):
        known = dataclasses.replace(scene, height_errors=product_named(key).errors)
        (doubted,) = with_doubts([stand], known)
        sigma.append(doubted.clearance_sigma_deg)
    assert sigma == sorted(sigma, reverse=True)
    assert sigma[0] > 1.2 * sigma[1]


def test_many_stands_are_doubted_as_each_alone(outing: Outing, elevation: Elevation) -> None:
    scene = scene_of(outing, elevation)
    stands = [stand_at(scene, one.lens, MOMENT) for one in outing.lenses]
    together = with_doubts(stands, scene)
    for stand, one in zip(stands, together, strict=True):
        (alone,) = with_doubts([stand], scene)
        assert one.clearance_sigma_deg == pytest.approx(alone.clearance_sigma_deg, abs=1e-6)
        assert one.clearance_bias_deg == pytest.approx(alone.clearance_bias_deg, abs=1e-6)
        assert one.verdict == alone.verdict


def test_every_stand_of_a_plan_is_doubted(plan: Plan) -> None:
    assert plan.session is not None
    held = [one.stand for one in plan.lenses] + [shot.stand for shot in plan.session.shots]
    for stand in held:
        assert stand is not None
        assert stand.verdict == verdict(
            stand.clearance_deg, stand.clearance_sigma_deg, stand.clearance_bias_deg
        )
        assert stand.verdict != "unknown"
        close = any("too close to call" in said for said in stand.cautions)
        assert close == (stand.verdict == "too close to call")


def test_the_products_page_is_up_to_date() -> None:
    docs = Path(__file__).resolve().parents[3] / "docs"
    made = runpy.run_path(str(docs / "make_products.py"))["products_page"]()
    assert (docs / "elevation-products.md").read_text(encoding="utf-8") == made
    assert all(f"`{key}`" in made for key in PRODUCTS)


def test_every_product_has_a_source_and_a_figure() -> None:
    for product in PRODUCTS.values():
        assert product.absolute_le90_m > 0.0
        assert len(product.source) > 20
    with pytest.raises(TerrainError, match="srtm"):
        product_named("moon dust")
