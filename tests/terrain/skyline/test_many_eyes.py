"""One ray from each of many eyes: the same as the skyline from each, whatever the company."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from backbearing.base.errors import TerrainError
from backbearing.terrain import Elevation
from backbearing.terrain import chunks as chunks_module
from backbearing.terrain.reading.sources import ArraySource
from backbearing.terrain.skyline import many_eyes as many_eyes_module
from backbearing.terrain.skyline import ray_bundle as bundle_module

if TYPE_CHECKING:
    from collections.abc import Callable

WEST, NORTH, CELL = -84.41375, 36.44625, 1 / 1200
GRID = Affine(CELL, 0, WEST, 0, -CELL, NORTH)
COLUMNS = (
    "altitudes_deg", "distances_m", "unknown_share", "unknown_from_m", "reach_m",
    "eye_ground_m", "highest_ground_m", "min_distance_m", "could_be_hidden_from_m",
    "skyline_lat", "skyline_lon",
)  # fmt: skip


@pytest.fixture(scope="module")
def holey(rough: Callable[..., np.ndarray]) -> Elevation:
    """Rough ground with single voids and a large one."""
    z = rough(220, 260, relief_m=900.0, seed=5)
    z[np.random.default_rng(1).random(z.shape) < 0.002] = np.nan
    z[150:180, 60:120] = np.nan
    return Elevation.from_array(z, GRID, "EPSG:4326")


def rays(n: int, seed: int = 0) -> dict[str, Any]:
    """Eyes over the ground and a little beyond it, with rays of different beginnings."""
    rng = np.random.default_rng(seed)
    return {
        "lat": NORTH - CELL * rng.uniform(-4.0, 224.0, n),
        "lon": WEST + CELL * rng.uniform(-4.0, 264.0, n),
        "azimuths_deg": rng.uniform(-180.0, 540.0, n),
        "eye_height_m": rng.uniform(0.0, 30.0, n),
        "min_distance_m": rng.choice([0.0, 0.0, 150.0, 2_000.0], n),
        "max_distance_m": rng.choice([2_500.0, 9_000.0, 100_000.0], n),
    }


def some(asked: dict[str, Any], which: Any) -> dict[str, Any]:
    return {name: values[which] for name, values in asked.items()}


def same(one: Any, two: Any, which: Any = slice(None)) -> None:
    for name in COLUMNS:
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name)[which], name)


def test_each_ray_is_what_the_skyline_from_its_eye_says(holey: Elevation) -> None:
    asked = rays(250)
    found = holey.skylines(**asked)
    unknown = 0
    for i in range(len(found)):
        one = {name: float(values[i]) for name, values in asked.items()}
        if np.isnan(found.eye_ground_m[i]):
            unknown += 1
            with pytest.raises(TerrainError):
                holey.horizon(**one)
            continue
        ray = holey.horizon(**one)
        for name in COLUMNS:
            np.testing.assert_allclose(
                getattr(found, name)[i], np.ravel(getattr(ray, name))[0], rtol=1e-9, atol=1e-9
            )
        assert found.is_final[i] == ray.is_final[0]
    assert 10 < unknown < 60


@settings(max_examples=25, deadline=None)
@given(cuts=st.lists(st.integers(1, 119), max_size=6, unique=True), seed=st.integers(0, 3))
def test_a_rays_answer_does_not_depend_on_its_company(
    holey: Elevation, cuts: list[int], seed: int
) -> None:
    asked = rays(120, seed)
    whole = holey.skylines(**asked)
    for part in np.split(np.random.default_rng(seed).permutation(120), sorted(cuts)):
        same(holey.skylines(**some(asked, part)), whole, part)


def test_nor_on_threads_and_batches(holey: Elevation, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = rays(900)
    whole = holey.skylines(**asked)
    monkeypatch.setattr(bundle_module, "WORTH_A_THREAD", 20)
    monkeypatch.setattr(bundle_module, "_cores", lambda: 3)
    monkeypatch.setattr(many_eyes_module, "BATCH", 211)
    same(holey.skylines(**asked), whole)


@pytest.mark.slow
def test_nor_on_what_was_read_before(
    rough: Callable[..., np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    z = rough(220, 260, relief_m=900.0, seed=6)
    z[40:52, 100:130] = np.nan
    whole = Elevation.from_array(z, GRID, "EPSG:4326")
    monkeypatch.setattr(chunks_module, "PIECE", 32)
    monkeypatch.setattr(chunks_module, "WHOLE_UP_TO", 0)
    monkeypatch.setattr(chunks_module, "KEEP_BYTES", 60_000)
    monkeypatch.setattr(ArraySource, "array", property(lambda _: None))
    asked = rays(300)
    pieces = Elevation(ArraySource(whole.grid, z))
    first = pieces.skylines(**asked)
    same(pieces.skylines(**asked), first)
    other = Elevation(ArraySource(whole.grid, z))
    for part in np.split(np.random.default_rng(4).permutation(300), [20, 90, 91, 250]):
        same(other.skylines(**some(asked, part)), first, part)
    plain = whole.skylines(**asked)
    np.testing.assert_allclose(first.altitudes_deg, plain.altitudes_deg, atol=1e-9)
    np.testing.assert_allclose(first.unknown_share, plain.unknown_share, atol=1e-9)


def test_without_compiled_code_the_same(holey: Elevation, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = rays(200)
    compiled = holey.skylines(**asked)
    monkeypatch.setattr(many_eyes_module, "compiled_pays", lambda _: False)
    plain = holey.skylines(**asked, to_the_last_bit=False)
    for name in COLUMNS:
        np.testing.assert_allclose(
            getattr(plain, name), getattr(compiled, name), rtol=1e-9, atol=1e-6, err_msg=name
        )
    np.testing.assert_allclose(plain.altitudes_deg, compiled.altitudes_deg, atol=1e-9)


def test_eyes_without_ground_have_no_skyline(holey: Elevation) -> None:
    lat, lon = NORTH - CELL * 165.3, WEST + CELL * 90.2
    found = holey.skylines(
        lat=[lat, lat, 10.0, np.nan, 36.3], lon=lon, azimuths_deg=[10, 10, 10, 10, np.nan],
        ground_m=[np.nan, 500.0, 500.0, np.nan, np.nan],
    )  # fmt: skip
    np.testing.assert_array_equal(np.isfinite(found.altitudes_deg), [0, 1, 0, 0, 0])
    np.testing.assert_array_equal(np.isfinite(found.eye_ground_m), [0, 1, 0, 0, 0])
    np.testing.assert_array_equal(found.unknown_share[[0, 2, 3, 4]], 1.0)
    np.testing.assert_array_equal(found.reach_m[[0, 2, 3, 4]], 0.0)
    assert not found.is_final.any()
    assert found.altitudes_deg[1] == pytest.approx(
        holey.horizon(lat=lat, lon=lon, azimuths_deg=[10], ground_m=500.0).altitudes_deg[0]
    )


def test_numbers_and_arrays_go_together(holey: Elevation) -> None:
    place = {"lat": 36.36, "lon": -84.3}
    found = holey.skylines(**place, azimuths_deg=[[0, 90], [180, 270]])
    assert len(found) == 4
    np.testing.assert_allclose(
        found.altitudes_deg,
        holey.horizon(**place, azimuths_deg=[0, 90, 180, 270]).altitudes_deg,
        atol=1e-9,
    )
    assert len(holey.skylines(lat=[], lon=[], azimuths_deg=[])) == 0
    assert holey.skylines(**place, azimuths_deg=0.0, highest_ground_m=8_000.0).highest_ground_m == [
        8_000.0
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"lat": 95.0}, "lat is 95"),
        ({"lat": [36.3, 89.5]}, "pole"),
        ({"eye_height_m": [1.0, -1.0]}, "eye_height_m is -1"),
        ({"eye_height_m": np.nan}, "eye_height_m"),
        ({"max_distance_m": 0.0}, "max_distance_m"),
        ({"min_distance_m": [0.0, 200_000.0]}, "nothing before max_distance_m"),
        ({"azimuths_deg": [0.0, np.inf]}, "finite degrees"),
        ({"refraction_k": 2.0}, "refraction_k is 2"),
        ({"azimuths_deg": [1.0, 2.0, 3.0], "lat": [36.3, 36.4]}, "do not fit together"),
    ],
)
def test_what_cannot_be_is_refused(holey: Elevation, change: dict[str, Any], says: str) -> None:
    with pytest.raises(TerrainError, match=says):
        holey.skylines(**{"lat": 36.36, "lon": -84.3, "azimuths_deg": 12.0} | change)


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:3857", "EPSG:32618"])
def test_the_same_in_other_reference_systems(crs: str, rough: Callable[..., np.ndarray]) -> None:
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(-84.25, 36.30)
    z = rough(200, 200, relief_m=600.0, seed=8)
    dem = Elevation.from_array(z, Affine(90, 0, x - 9_000, 0, -90, y + 9_000), crs)
    rng = np.random.default_rng(2)
    eyes = dem.grid.places(row=rng.uniform(20, 180, 60), col=rng.uniform(20, 180, 60))
    azimuths = rng.uniform(0, 360, 60)
    found = dem.skylines(lat=eyes.lat, lon=eyes.lon, azimuths_deg=azimuths)
    alone = [
        dem.horizon(lat=float(a), lon=float(o), azimuths_deg=[z]).altitudes_deg[0]
        for a, o, z in zip(eyes.lat, eyes.lon, azimuths, strict=True)
    ]
    np.testing.assert_allclose(found.altitudes_deg, alone, atol=1e-9)
