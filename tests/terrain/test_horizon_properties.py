"""What must hold for any ground."""

from __future__ import annotations

import numpy as np
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from backbearing.terrain import Elevation

NAUGHT = 100_000.0
"""A point of EPSG:32631's central meridian on the equator, where grid north is true north."""


def square(z: np.ndarray) -> Elevation:
    """Lay ground on 30 m cells centred on the equator at 3 degrees east."""
    half = 15.0 * z.shape[0]
    return Elevation.from_array(z, Affine(30, 0, 500_000 - half, 0, -30, half), "EPSG:32631")


heights = arrays.arrays(
    np.float64, (33, 33), elements=st.floats(0, 400, width=16), fill=st.just(50.0)
)
bold = settings(max_examples=25, deadline=None)
EYE = {"lat": 0.0, "lon": 3.0}


@given(z=heights)
@bold
def test_turning_the_ground_turns_the_skyline(z: np.ndarray) -> None:
    """Cell shapes differ by 0.67 % between north and east, so angles agree to as much."""
    here = square(z).horizon(**EYE, azimuths_deg=np.arange(0, 360, 5.0))
    turned = square(np.rot90(z)).horizon(**EYE, azimuths_deg=np.arange(0, 360, 5.0) - 90.0)
    tangents = np.tan(np.radians(here.altitudes_deg)), np.tan(np.radians(turned.altitudes_deg))
    cardinal = slice(0, None, 18)
    np.testing.assert_allclose(tangents[0][cardinal], tangents[1][cardinal], rtol=0.01, atol=0.002)


@given(z=heights, row=st.integers(0, 32), col=st.integers(0, 32), more=st.floats(0, 300))
@bold
def test_adding_height_never_lowers_a_skyline(
    z: np.ndarray, row: int, col: int, more: float
) -> None:
    here = square(z).horizon(**EYE, ground_m=500.0)
    raised = z.copy()
    raised[row, col] += more
    there = square(raised).horizon(**EYE, ground_m=500.0)
    assert (there.altitudes_deg >= here.altitudes_deg - 1e-9).all()


@given(z=heights, lift=st.floats(-100, 100))
@bold
def test_lifting_all_ground_changes_nothing(z: np.ndarray, lift: float) -> None:
    here, there = square(z).horizon(**EYE), square(z + lift).horizon(**EYE)
    np.testing.assert_allclose(here.altitudes_deg, there.altitudes_deg, atol=1e-6)


@given(z=heights, low=st.floats(0.5, 20), high=st.floats(20, 200))
@bold
def test_a_higher_eye_sees_a_lower_skyline(z: np.ndarray, low: float, high: float) -> None:
    dem = square(z)
    one, two = dem.horizon(**EYE, eye_height_m=low), dem.horizon(**EYE, eye_height_m=high)
    assert (two.altitudes_deg <= one.altitudes_deg + 1e-9).all()


@given(z=heights, near=st.floats(31, 450))
@bold
def test_the_whole_way_is_its_parts(z: np.ndarray, near: float) -> None:
    dem = square(z)
    whole = dem.horizon(**EYE)
    first, rest = dem.horizon(**EYE, max_distance_m=near), dem.horizon(**EYE, min_distance_m=near)
    parts = np.fmax(first.altitudes_deg, rest.altitudes_deg)
    np.testing.assert_allclose(whole.altitudes_deg, parts, atol=1e-3)


@given(z=heights, holes=arrays.arrays(np.bool_, (33, 33)))
@bold
def test_voids_hide_ground_and_never_invent_it(z: np.ndarray, holes: np.ndarray) -> None:
    full = square(z).horizon(**EYE, ground_m=450.0, min_distance_m=5.0)
    part = square(np.where(holes, np.nan, z)).horizon(**EYE, ground_m=450.0, min_distance_m=5.0)
    known = np.isfinite(part.altitudes_deg)
    assert (part.altitudes_deg[known] <= full.altitudes_deg[known] + 1e-9).all()
    assert ((part.unknown_share >= 0.0) & (part.unknown_share <= 1.0)).all()
    sure = part.unknown_share == 0.0
    np.testing.assert_allclose(part.altitudes_deg[sure], full.altitudes_deg[sure], atol=1e-9)
    assert (np.isnan(part.unknown_from_m) == sure).all()


@given(
    z=heights,
    asked=st.lists(st.floats(-720, 720), min_size=1, max_size=8),
)
@bold
def test_azimuths_wrap_and_do_not_depend_on_their_neighbours(
    z: np.ndarray, asked: list[float]
) -> None:
    dem = square(z)
    together = dem.horizon(**EYE, azimuths_deg=asked)
    for i, azimuth in enumerate(asked):
        alone = dem.horizon(**EYE, azimuths_deg=[azimuth + 360.0])
        assert abs(alone.altitudes_deg[0] - together.altitudes_deg[i]) < 1e-6


@given(z=heights, cut=st.integers(2, 31))
@bold
def test_two_tiles_are_one_ground(z: np.ndarray, cut: int) -> None:
    from backbearing.terrain import chunks
    from backbearing.terrain.reading.sources import ArraySource

    whole = square(z)
    pieces = square(z)
    pieces._chunks.step = (cut, 33)
    assert isinstance(pieces._source, ArraySource)
    assert pieces._chunks.count[0] == max(1, -(-32 // cut))
    assert chunks.PIECE > 33
    one, two = whole.horizon(**EYE), pieces.horizon(**EYE)
    np.testing.assert_allclose(one.altitudes_deg, two.altitudes_deg, atol=1e-9)
