"""What an outing answers about itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from backbearing.base.errors import OutingError
from backbearing.outing.load import load_outing
from backbearing.outing.request import GroundRequest, Outing

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"


def with_ground(**said: object) -> Outing:
    outing = load_outing(SAMPLE)
    plain = GroundRequest(outing.ground.elevation)
    return replace(outing, ground=replace(plain, **said))  # type: ignore[arg-type]


def test_the_vertical_error_is_as_stated_then_its_products_then_assumed() -> None:
    assert with_ground(vertical_sigma_m=3.0, product="srtm").vertical_sigma_m == 3.0
    # 16 m at 90 % over 1.6449 standard deviations.
    assert with_ground(product="srtm").vertical_sigma_m == pytest.approx(9.727, abs=1e-3)
    assert with_ground().vertical_sigma_m == 10.0


def test_an_unknown_product_is_refused_with_file_and_key() -> None:
    with pytest.raises(OutingError, match=r"^outing\.toml: \[ground\] product: .*'moon'") as caught:
        _ = with_ground(product="moon").vertical_sigma_m
    assert caught.value.facts["key"] == "ground.product"
