"""What a Horizon says: between azimuths, and beyond the raster."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.base.geodesy import altitude_of
from backbearing.terrain import Elevation, Horizon

if TYPE_CHECKING:
    from collections.abc import Callable


def answer(azimuths: object, altitudes: object, **facts: object) -> Horizon:
    azimuths_deg = np.array(azimuths, dtype=float)
    n = azimuths_deg.size
    values: dict[str, object] = {
        "lat": 36.3, "lon": -84.2, "eye_height_m": 2.0, "eye_ground_m": 298.0,
        "refraction_k": 0.13, "min_distance_m": 0.0, "max_distance_m": 1e5,
        "highest_ground_m": 900.0, "azimuths_deg": azimuths_deg,
        "altitudes_deg": np.array(altitudes, dtype=float), "distances_m": np.full(n, 4000.0),
        "unknown_share": np.zeros(n), "unknown_from_m": np.full(n, np.nan),
        "reach_m": np.full(n, 14_000.0),
    }  # fmt: skip
    return Horizon(**{**values, **facts})  # type: ignore[arg-type]


def test_between_azimuths_and_across_north() -> None:
    horizon = answer([0, 90, 180, 270], [1, 2, 3, 5])
    asked = [0, 45, 90, 315, 359.999999, 360, -45, 720 + 225]
    np.testing.assert_allclose(horizon.altitude_at(asked), [1, 1.5, 2, 3, 1, 1, 3, 4], atol=1e-6)
    assert isinstance(horizon.altitude_at(45.0), float)
    assert np.isnan(horizon.altitude_at(np.nan))


def test_order_does_not_matter() -> None:
    one, two = answer([0, 90, 180, 270], [1, 2, 3, 5]), answer([180, 0, 270, 90], [3, 1, 5, 2])
    asked = np.linspace(0, 360, 77)
    np.testing.assert_array_equal(one.altitude_at(asked), two.altitude_at(asked))


def test_outside_a_partial_span_nothing_is_said() -> None:
    horizon = answer([170, 175, 180], [1, 2, 3])
    assert horizon.altitude_at(177.5) == pytest.approx(2.5)
    assert horizon.altitude_at(180.0) == pytest.approx(3.0)
    assert np.isnan(horizon.altitude_at([169.9, 180.1, 0.0])).all()
    across_north = answer([350, 355, 0, 5], [1, 2, 3, 4])
    assert across_north.altitude_at(357.5) == pytest.approx(2.5)
    assert np.isnan(across_north.altitude_at([6.0, 180.0, 349.0])).all()
    lone = answer([90], [4])
    assert lone.altitude_at(90.0) == pytest.approx(4.0)
    assert np.isnan(lone.altitude_at([90.1, 270.0])).all()
    pair = answer([10, 20], [1, 2])
    assert pair.altitude_at(15.0) == pytest.approx(1.5)
    assert np.isnan(pair.altitude_at(200.0))


def test_repeated_azimuths_do_no_harm() -> None:
    horizon = answer([0, 0, 120, 240, 240], [1, 1, 2, 3, 3])
    np.testing.assert_allclose(horizon.altitude_at([0, 60, 240, 300]), [1, 1.5, 3, 2])


def test_beside_an_unknown_skyline_nothing_is_said() -> None:
    horizon = answer([0, 90, 180, 270], [1, np.nan, 3, 5])
    assert np.isnan(horizon.altitude_at([45, 90, 135])).all()
    assert horizon.altitude_at([180, 225]) == pytest.approx([3, 4])


def test_ground_beyond_the_raster_in_figures() -> None:
    """Each statement is turned round: ground put there just tops, or just fails to top."""
    horizon = answer([0, 1, 2, 3], [6.0, 1.2, 0.1, -0.5])
    tops = horizon.hidden_only_above_m
    far = np.linspace(14_000.0, 250_000.0, 4000)
    for i, altitude in enumerate(horizon.altitudes_deg):
        seen = altitude_of(900.0 - 300.0, far, 0.13)
        spoils = seen > altitude
        assert horizon.is_final[i] == (not spoils.any())
        if spoils.any():
            assert horizon.could_be_hidden_from_m[i] == pytest.approx(14_000.0)
            assert horizon.needed_reach_m[i] == pytest.approx(far[spoils][-1], abs=100.0)
        else:
            assert np.isnan(horizon.could_be_hidden_from_m[i])
            assert horizon.needed_reach_m[i] <= 14_000.0
        assert (altitude_of(tops[i] - 1.0 - 300.0, far, 0.13) < altitude).all()
        assert (altitude_of(tops[i] + 1.0 - 300.0, far, 0.13) > altitude).any()


def test_ground_lower_than_the_eye_can_hide_only_from_afar() -> None:
    """From a summit a lower plateau beyond the raster shows first at a distance."""
    horizon = answer([0], [-2.0], eye_ground_m=1998.0, highest_ground_m=1200.0)
    start = horizon.could_be_hidden_from_m[0]
    assert start > 14_000.0
    assert altitude_of(1200.0 - 2000.0, start, 0.13) == pytest.approx(-2.0, abs=1e-6)
    assert altitude_of(1200.0 - 2000.0, start - 100.0, 0.13) < -2.0
    low = answer([0], [0.5], highest_ground_m=-50.0)
    assert low.is_final.all()
    assert low.needed_reach_m[0] == 0.0


def test_no_skyline_is_never_final() -> None:
    horizon = answer([0], [np.nan], distances_m=np.array([np.nan]), unknown_share=np.ones(1))
    assert horizon.could_be_hidden_from_m[0] == 14_000.0
    assert np.isinf(horizon.needed_reach_m[0])
    assert horizon.hidden_only_above_m[0] == -np.inf
    assert not horizon.is_final[0]
    assert np.isnan(horizon.skyline_lat[0])


def test_unknown_ground_is_never_final() -> None:
    assert not answer([0], [40.0], unknown_share=np.array([0.2])).is_final[0]
    assert answer([0], [40.0]).is_final[0]


def test_a_larger_raster_confirms_what_a_smaller_one_called_final(
    rough: Callable[..., np.ndarray],
) -> None:
    """Cut a raster down; wherever it says final below a given height, the whole agrees."""
    z = rough(400, 400, relief_m=900.0, seed=13, power=2.4)
    transform = Affine(0.001, 0, -84.0, 0, -0.001, 36.6)
    whole = Elevation.from_array(z, transform, "EPSG:4326")
    part = Elevation.from_array(
        z[150:260, 140:250], Affine(0.001, 0, -83.86, 0, -0.001, 36.45), "EPSG:4326"
    )
    place = {"lat": 36.395, "lon": -83.805}
    large, small = whole.horizon(**place), part.horizon(**place, highest_ground_m=float(z.max()))
    same = np.isclose(large.altitudes_deg, small.altitudes_deg, atol=1e-3)
    assert small.is_final.any()
    assert not small.is_final.all()
    assert same[small.is_final].all()
    assert not same.all()
    assert (large.distances_m[~same] > small.could_be_hidden_from_m[~same] - 1.0).all()
    higher = large.skyline_heights_m[~same]
    assert (higher >= small.hidden_only_above_m[~same] - 0.01).all()
