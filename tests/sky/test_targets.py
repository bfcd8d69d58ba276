from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.angles import unit_vectors
from backbearing.base.errors import SkyError
from backbearing.sky import CORE, Target
from backbearing.sky.targets import (
    BODIES,
    galactic_to_icrs,
    icrs_to_galactic,
    icrs_to_galactic_matrix,
)


def test_core_is_a_fixed_target_with_a_source() -> None:
    assert CORE.is_fixed
    assert "Reid2004" in CORE.source


def test_galactic_rotation_is_a_rotation() -> None:
    m = icrs_to_galactic_matrix()
    np.testing.assert_allclose(m @ m.T, np.eye(3), atol=1e-15)
    assert np.linalg.det(m) == pytest.approx(1.0)


@given(l_deg=st.floats(0, 359.999), b_deg=st.floats(-89.9, 89.9))
def test_galactic_round_trip(l_deg: float, b_deg: float) -> None:
    ra, dec = galactic_to_icrs(l_deg=l_deg, b_deg=b_deg)
    back = icrs_to_galactic(ra_deg=ra, dec_deg=dec)
    np.testing.assert_allclose(
        unit_vectors(lon_deg=back[0], lat_deg=back[1]),
        unit_vectors(lon_deg=l_deg, lat_deg=b_deg),
        atol=1e-12,
    )


def test_constructors_name_and_normalise() -> None:
    assert Target.radec(ra_deg=-10.0, dec_deg=5.0).ra_deg == 350.0
    assert Target.galactic(l_deg=80.0, b_deg=1.0).name == "l 80° b +1°"
    assert Target.body(" Moon ").body_name == "moon"
    assert Target.body("venus").name == "Venus"
    assert {Target.body(b).is_fixed for b in BODIES} == {False}


def test_targets_are_hashable_values() -> None:
    assert Target.body("moon") == Target.body("Moon")
    assert len({Target.body("moon"), Target.body("Moon"), CORE}) == 2


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Target.body("planet x"), "write one of sun, moon"),
        (lambda: Target.radec(ra_deg=10.0, dec_deg=95.0), "between -90 and 90"),
        (lambda: Target.radec(ra_deg=float("nan"), dec_deg=5.0), "not a number"),
        (lambda: Target.galactic(l_deg=10.0, b_deg=91.0), "outside -90 to 90"),
        (lambda: Target("nowhere"), "has no place"),
        (lambda: Target("both", 1.0, 2.0, "moon"), "give one of them"),
    ],
)
def test_impossible_targets_are_refused(make: object, says: str) -> None:
    with pytest.raises(SkyError, match=says):
        make()  # type: ignore[operator]
