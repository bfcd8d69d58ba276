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

from backbearing.alignment import find_stands
from backbearing.alignment.night.from_outing import scene_of
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.stand.stands import stand_at
from backbearing.alignment.stand.uncertainty import clearance_sigma_deg, verdict
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import altitude_of
from backbearing.terrain.reading.products import PRODUCTS, product_named

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation

MOMENT = dt.datetime(2027, 6, 6, 5, 0, tzinfo=dt.UTC)


def test_sigma_against_a_simulation() -> None:
    # An independent road to the same number: draw the errors and look at the spread.
    rng = np.random.default_rng(7)
    n, s, rise = 200_000, 1200.0, 290.0
    dz = rng.normal(0, 5.5, n) - rng.normal(0, 5.5, n) - rng.normal(0, 0.1, n)
    distance = s + rng.normal(0, 5.0, n)
    k = 0.13 + rng.normal(0, 0.03, n)
    drop = (1 - k) * distance**2 / (2 * 6_371_008.8)
    spread = np.degrees(np.arctan((rise + dz - drop) / distance)).std()
    altitude = float(altitude_of(rise, s, 0.13))
    sigma = clearance_sigma_deg(altitude, s, vertical_sigma_m=5.5, position_sigma_m=5.0)
    assert float(sigma) == pytest.approx(spread, rel=0.02)


def test_on_steep_sights_a_step_towards_the_ridge_counts_by_the_tangent() -> None:
    # A ridge 250 m up and 250 m away, heights well known: five metres nearer or farther move its
    # altitude by 5 tan(45) cos^2(45) / 250 of a radian, which is 0.573 degrees.
    rng = np.random.default_rng(3)
    rise, s = 250.0, 250.0
    spread = np.degrees(np.arctan(rise / (s + rng.normal(0.0, 5.0, 200_000)))).std()
    sigma = clearance_sigma_deg(45.0, s, vertical_sigma_m=0.0, position_sigma_m=5.0)
    assert float(sigma) == pytest.approx(spread, rel=0.02)
    assert float(sigma) == pytest.approx(0.573, abs=0.002)


def test_near_ground_is_limited_by_the_height_of_the_eye() -> None:
    # A tripod's height is known to 0.1 m (common practice, no source): 0.1 / 10 of a radian.
    sigma = clearance_sigma_deg(0.0, 10.0, vertical_sigma_m=0.0, position_sigma_m=0.0)
    assert float(sigma) == pytest.approx(0.573, abs=0.001)


def test_far_ridges_are_limited_by_the_air() -> None:
    sigma = clearance_sigma_deg(1.0, 80_000.0, vertical_sigma_m=0.0, position_sigma_m=0.0)
    assert float(sigma) == pytest.approx(math.degrees(0.03 * 80_000 / (2 * 6_371_008.8)), rel=1e-2)


@pytest.mark.parametrize(
    ("clearance", "sigma", "graded"),
    [
        (3.0, 0.5, "clears"),
        (1.1, 0.5, "clears"),
        (0.9, 0.5, "too close to call"),
        (-0.9, 0.5, "too close to call"),
        (-1.1, 0.5, "hidden"),
        (-3.0, 0.5, "hidden"),
        (float("nan"), 0.5, "unknown"),
        (1.0, float("nan"), "unknown"),
    ],
)
def test_three_grades_and_unknown(clearance: float, sigma: float, graded: str) -> None:
    assert verdict(clearance, sigma) == graded


def test_the_sample_says_its_product(plan: Plan) -> None:
    # 9.0 m at 90 % is 5.47 m at one standard deviation.
    assert plan.ground.vertical_sigma_m == pytest.approx(5.47, abs=0.01)


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
        assert 0.05 < point.clearance_sigma_deg < 2.0
        assert point.verdict == verdict(point.clearance_deg, point.clearance_sigma_deg)


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
