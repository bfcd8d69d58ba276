"""Marks over a bare raster against a raster that holds what was measured."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from backbearing.base.errors import TerrainError
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.height_errors import SightErrors, StatedErrors
from backbearing.terrain.marks.mark_set import MarkSet
from backbearing.terrain.marks.marked_elevation import MarkedElevation, bare_of
from backbearing.terrain.marks.over_raster import SkylineMarks

if TYPE_CHECKING:
    from collections.abc import Sequence

LAT, LON = -33.2, 148.4
EYE_M = 1.6
CELL_M = 4.0
WALL_M = 120.0
EARTH = Geod(ellps="WGS84")


def ground(*, trees: bool) -> Elevation:
    """Rolling invented ground; with trees, a ring of them 120 m off from 118 to 182 degrees."""
    n = round(900.0 / CELL_M)
    east, north = np.meshgrid(np.arange(-n, n + 1) * CELL_M, np.arange(n, -n - 1, -1) * CELL_M)
    z = 100.0 + 20.0 * np.exp(-((east - 300.0) ** 2 + (north + 500.0) ** 2) / (2.0 * 200.0**2))
    z = z + 3.0 * np.sin(east / 90.0) * np.cos(north / 70.0)
    if trees:
        away, turn = np.hypot(east, north), np.degrees(np.arctan2(east, north)) % 360.0
        tops = 10.0 + 4.0 * np.sin(np.radians(6.0 * turn))
        z = np.where((np.abs(away - WALL_M) < 3.0) & (turn > 118.0) & (turn < 182.0), z + tops, z)
    down = CELL_M / 111_195.0
    across = down / math.cos(math.radians(LAT))
    corner = Affine(across, 0, LON - (n + 0.5) * across, 0, -down, LAT + (n + 0.5) * down)
    return Elevation.from_array(z, corner, "EPSG:4326")


@pytest.fixture(scope="module")
def bare() -> Elevation:
    return ground(trees=False)


@pytest.fixture(scope="module")
def wooded() -> Elevation:
    return ground(trees=True)


def stand(bearing_deg: float, distance_m: float) -> dict[str, float]:
    lon, lat, _ = EARTH.fwd(LON, LAT, bearing_deg, distance_m)
    return {"lat": lat, "lon": lon}


def read_marks(bare: Elevation, wooded: Elevation, *, told: bool, step: float = 1.0) -> MarkSet:
    """Read the wooded raster's skyline by an exact clinometer from the middle."""
    azimuths = np.arange(119.0, 181.0, step)
    seen = wooded.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=azimuths)
    raster = bare.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=azimuths)
    return MarkSet.of(
        (LAT, LON, float(bare.height_at(lat=LAT, lon=LON)) + EYE_M),
        azimuths,
        seen.altitudes_deg,
        sigmas_deg=0.3,
        distances_m=WALL_M if told else np.nan,
        raster_distances_m=raster.distances_m,
        raster_altitudes_deg=raster.altitudes_deg,
    )


def marked(bare: Elevation, *sets: MarkSet) -> MarkedElevation:
    return MarkedElevation(bare, SkylineMarks(tuple(sets)))


@pytest.mark.parametrize(
    ("bearing_deg", "distance_m"), [(0, 0.0), (330, 10.0), (330, 30.0), (330, 60.0), (250, 40.0),
                                    (150, 30.0)],
)  # fmt: skip
def test_marks_with_a_distance_are_the_wall_itself_from_every_stand(
    bare: Elevation, wooded: Elevation, bearing_deg: float, distance_m: float
) -> None:
    over = marked(bare, read_marks(bare, wooded, told=True))
    eye = stand(bearing_deg, distance_m)
    azimuths = np.arange(100.0, 200.0, 0.5)
    true = wooded.horizon(**eye, eye_height_m=EYE_M, azimuths_deg=azimuths)
    found = over.horizon(**eye, eye_height_m=EYE_M, azimuths_deg=azimuths)
    # Where the trees themselves make the skyline and marks were read of them.
    raised = (
        true.altitudes_deg
        - bare.horizon(**eye, eye_height_m=EYE_M, azimuths_deg=azimuths).altitudes_deg
    )
    assert found.marked is not None
    read = found.marked.are_marked & (raised > 0.3)
    assert read.sum() > 40
    off = (found.altitudes_deg - true.altitudes_deg)[read]
    # The raster's wall is a stair of 4 m cells, as close as 118 m and as far as 122 m.
    assert np.abs(off).max() < 0.35
    assert np.abs(off).mean() < 0.06
    assert found.distances_m[read] == pytest.approx(true.distances_m[read], abs=6.0)


def test_away_from_the_marks_the_raster_stands_to_the_last_bit(
    bare: Elevation, wooded: Elevation
) -> None:
    over = marked(bare, read_marks(bare, wooded, told=True))
    azimuths = np.concatenate([np.arange(0.0, 118.0), np.arange(182.0, 360.0)])
    found = over.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=azimuths)
    alone = bare.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=azimuths)
    assert np.array_equal(found.altitudes_deg, alone.altitudes_deg)
    assert np.array_equal(found.distances_m, alone.distances_m)
    assert alone.marked is None
    assert bare_of(over) is bare
    assert bare_of(bare) is bare


def test_one_ray_from_many_eyes_says_the_same_as_many_from_one(
    bare: Elevation, wooded: Elevation
) -> None:
    over = marked(bare, read_marks(bare, wooded, told=True), read_marks(bare, wooded, told=False))
    azimuths = np.arange(110.0, 190.0, 2.5)
    eye = stand(330.0, 20.0)
    one = over.horizon(**eye, eye_height_m=1.2, azimuths_deg=azimuths)
    many = over.skylines(**eye, eye_height_m=1.2, azimuths_deg=azimuths)
    assert many.altitudes_deg == pytest.approx(one.altitudes_deg, abs=1e-9)
    assert many.marked is not None
    assert one.marked is not None
    assert many.marked.sigma_deg == pytest.approx(one.marked.sigma_deg, abs=1e-9, nan_ok=True)


def test_marks_without_a_distance_hold_only_near_where_they_were_read(
    bare: Elevation, wooded: Elevation
) -> None:
    over = marked(bare, read_marks(bare, wooded, told=False))
    azimuths = np.arange(125.0, 175.0, 1.0)
    there = over.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=azimuths)
    true = wooded.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=azimuths)
    assert there.altitudes_deg == pytest.approx(true.altitudes_deg, abs=0.1)
    near = over.horizon(**stand(330.0, 49.0), eye_height_m=EYE_M, azimuths_deg=azimuths)
    far = over.horizon(**stand(330.0, 51.0), eye_height_m=EYE_M, azimuths_deg=azimuths)
    assert near.marked is not None
    assert near.marked.are_marked.all()
    assert far.marked is not None
    assert not far.marked.are_marked.any()


@pytest.mark.parametrize("bearing_deg", [330.0, 30.0, 270.0])
def test_an_untold_distance_never_lets_the_target_clear_too_early(
    bare: Elevation, wooded: Elevation, bearing_deg: float
) -> None:
    """The things stand 120 m off, within what is supposed: 100 m to the raster's skyline."""
    over = marked(bare, read_marks(bare, wooded, told=False, step=0.5))
    eye = stand(bearing_deg, 30.0)
    azimuths = np.arange(135.0, 160.0, 1.0)
    true = wooded.horizon(**eye, eye_height_m=EYE_M, azimuths_deg=azimuths)
    found = over.horizon(**eye, eye_height_m=EYE_M, azimuths_deg=azimuths)
    assert found.marked is not None
    # Sideways the tops shift by up to 15 degrees: then only the doubt can cover them.
    short = true.altitudes_deg - found.altitudes_deg
    assert (short < 3.0 * found.marked.sigma_deg).all()
    assert short.mean() < 0.0
    # Less the bias it is told with, it is no longer off to one side beyond its doubt.
    fair = (short + np.abs(found.marked.rise_deg)) / found.marked.sigma_deg
    assert (found.marked.rise_deg <= 0.0).all()
    assert np.abs(fair).max() < 3.0


def test_doubt_grows_with_the_way_from_where_a_mark_without_distance_was_read(
    bare: Elevation, wooded: Elevation
) -> None:
    over = marked(bare, read_marks(bare, wooded, told=False))
    sigmas = []
    for distance in (0.0, 10.0, 25.0, 45.0):
        seen = over.horizon(**stand(330.0, distance), eye_height_m=EYE_M, azimuths_deg=[140.0])
        assert seen.marked is not None
        sigmas.append(float(seen.marked.sigma_deg[0]))
    assert sigmas[0] == pytest.approx(0.3)
    assert sigmas == sorted(sigmas)
    assert sigmas[-1] > 1.3 * sigmas[0]


def errors(position_m: float) -> SightErrors:
    return SightErrors(StatedErrors(2.0).over(CELL_M), 0.1, position_m, 0.03)


def test_a_mark_brings_its_own_doubt_and_the_raster_keeps_its_own_elsewhere(
    bare: Elevation, wooded: Elevation
) -> None:
    over = marked(bare, read_marks(bare, wooded, told=True))
    seen = over.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=[90.0, 150.0])
    doubt = over.skyline_doubt(seen, errors(0.0))
    alone = bare.skyline_doubt(
        bare.horizon(lat=LAT, lon=LON, eye_height_m=EYE_M, azimuths_deg=[90.0, 150.0]),
        errors(0.0),
    )
    # Single precision inside: the last bits hang on the company.
    assert doubt.sigma_deg[0] == pytest.approx(alone.sigma_deg[0], rel=1e-5)
    assert doubt.rise_deg[0] == pytest.approx(alone.rise_deg[0], rel=1e-5)
    # The reading's 0.3 and the tripod's height, known to 0.1 m, over 120 m.
    height = math.degrees(0.1 / WALL_M)
    assert doubt.sigma_deg[1] == pytest.approx(math.hypot(0.3, height), abs=0.005)
    assert doubt.rise_deg[1] == 0.0
    aside = over.skyline_doubt(seen, errors(5.0))
    assert aside.sigma_deg[1] > doubt.sigma_deg[1]


def flat_ground() -> Elevation:
    cell = 30.0 / 111_195.0
    return Elevation.from_array(
        np.full((81, 81), 50.0), Affine(cell, 0, 20.0 - 40.5 * cell, 0, -cell, 40.5 * cell),
        "EPSG:4326",
    )  # fmt: skip


FLAT = flat_ground()


def altitudes(marks: Sequence[tuple[float, float]], azimuths: Any) -> np.ndarray:
    eye = (0.0, 20.0, 51.6)
    az, alt = np.array(marks).T
    over = marked(FLAT, MarkSet.of(eye, az, alt, sigmas_deg=0.5, raster_distances_m=900.0))
    found: np.ndarray = over.horizon(lat=0.0, lon=20.0, azimuths_deg=azimuths).altitudes_deg
    return found


READING = st.tuples(
    st.floats(0.0, 359.9).map(lambda v: round(v, 1)),
    st.floats(0.5, 60.0).map(lambda v: round(v, 2)),
)


@given(st.lists(READING, min_size=1, max_size=8), READING)
def test_a_mark_over_the_known_skyline_never_lowers_it_anywhere(
    marks: list[tuple[float, float]], more: tuple[float, float]
) -> None:
    known = float(altitudes(marks, [more[0]])[0])
    if more[1] < known:
        more = (more[0], known)
    azimuths = np.arange(0.0, 360.0, 0.37)
    before, after = altitudes(marks, azimuths), altitudes([*marks, more], azimuths)
    # A mark's own quarter degree is a chord: where a neighbour cuts it short it runs lower by up
    # to (0.25 deg)^2 / 2 sin h cos h, an arc second at 45 degrees.
    assert (after - before).min() > -3e-4


@given(st.lists(READING, min_size=1, max_size=8))
def test_marks_never_stand_below_the_raster(marks: list[tuple[float, float]]) -> None:
    azimuths = np.arange(0.0, 360.0, 1.0)
    alone = FLAT.horizon(lat=0.0, lon=20.0, azimuths_deg=azimuths).altitudes_deg
    low = [(azimuth, altitude - 40.0) for azimuth, altitude in marks]
    assert (altitudes(low, azimuths) >= alone).all()


def test_between_neighbours_straight_and_past_a_gap_nothing() -> None:
    marks = [(100.0, 4.0), (102.0, 8.0), (108.0, 6.0)]
    found = altitudes(marks, [99.8, 100.0, 101.0, 102.0, 105.0, 107.8, 108.0, 108.2, 108.4])
    ground_deg = altitudes([(0.0, 1.0)], [180.0])[0]
    assert found[[0, 1]] == pytest.approx([4.0, 4.0], abs=1e-3)
    assert found[2] == pytest.approx(6.0, abs=0.02)
    assert found[3] == pytest.approx(8.0, abs=1e-3)
    assert found[4] == pytest.approx(ground_deg, abs=0.05)
    assert found[[5, 6, 7]] == pytest.approx([6.0] * 3, abs=1e-3)
    assert found[8] == pytest.approx(ground_deg, abs=0.05)


def test_across_north_marks_are_neighbours_too() -> None:
    found = altitudes([(359.0, 5.0), (1.0, 7.0)], [0.0, 359.5, 0.5])
    assert found == pytest.approx([6.0, 5.5, 6.5], abs=0.02)


def test_a_wall_at_a_known_distance_by_the_clinometer_s_own_triangle() -> None:
    """First principles: h = eye + d tan(a); from e nearer, atan(h / (d - e)). No source needed.

    Curvature and refraction over 60 m come to 0.3 mm, far below the tolerance.
    """
    eye = (0.0, 20.0, 51.6)
    marks = MarkSet.of(eye, [89.9, 90.1], [20.0, 20.0], sigmas_deg=0.5, distances_m=60.0)
    over = marked(FLAT, marks)
    for nearer in (-40.0, 15.0, 30.0):
        lon, lat, _ = EARTH.fwd(20.0, 0.0, 90.0, nearer)
        seen = over.horizon(lat=lat, lon=lon, eye_height_m=1.0, azimuths_deg=[90.0])
        rise = 60.0 * math.tan(math.radians(20.0)) + 0.6
        expected = math.degrees(math.atan2(rise, 60.0 - nearer))
        assert seen.altitudes_deg[0] == pytest.approx(expected, abs=0.001)
        assert seen.distances_m[0] == pytest.approx(60.0 - nearer, abs=0.01)


def test_what_lies_nearer_or_farther_than_asked_does_not_count() -> None:
    marks = MarkSet.of((0.0, 20.0, 51.6), [89.0, 91.0], 20.0, sigmas_deg=0.5, distances_m=60.0)
    over = marked(FLAT, marks)
    for least, most, counts in ((0.0, 1e4, True), (80.0, 1e4, False), (0.0, 50.0, False)):
        seen = over.horizon(
            lat=0.0, lon=20.0, azimuths_deg=[90.0], min_distance_m=least, max_distance_m=most
        )
        assert seen.marked is not None
        assert bool(seen.marked.are_marked[0]) is counts


@pytest.mark.parametrize(
    ("azimuth", "altitude", "sigma", "distance"),
    [(math.nan, 5.0, 0.5, 80.0), (10.0, 95.0, 0.5, 80.0), (10.0, 5.0, 0.0, 80.0),
     (10.0, 5.0, 0.5, -3.0), (10.0, math.inf, 0.5, 80.0)],
)  # fmt: skip
def test_what_is_no_reading_is_refused(
    azimuth: float, altitude: float, sigma: float, distance: float
) -> None:
    with pytest.raises(TerrainError, match="A skyline mark has"):
        MarkSet.of((0.0, 20.0, 51.6), azimuth, altitude, sigmas_deg=sigma, distances_m=distance)


def test_how_far_a_thing_of_untold_distance_may_be() -> None:
    """Over a raster's skyline at nought degrees 50 m look 10 degrees high from 283.6 m away."""
    raster = {"raster_altitudes_deg": 0.0, "raster_distances_m": 150.0}
    eye = (0.0, 20.0, 51.6)
    at = [10.0, 0.1, 30.0]
    marks = MarkSet.of(eye, [10.0, 20.0, 30.0], at, sigmas_deg=0.5, **raster)
    assert marks.far_m == pytest.approx([50.0 / math.tan(math.radians(10.0)), 20_000.0, 150.0])
    assert marks.near_m == pytest.approx([100.0] * 3)
    unknown = MarkSet.of(eye, 10.0, 5.0, sigmas_deg=0.5)
    assert unknown.far_m == pytest.approx([20_000.0])
    below = MarkSet.of(eye, 10.0, -3.0, sigmas_deg=0.5, **raster)
    assert below.far_m == pytest.approx([150.0])
    told = MarkSet.of(eye, 10.0, 5.0, sigmas_deg=0.5, distances_m=60.0, **raster)
    assert (told.near_m[0], told.far_m[0]) == pytest.approx((54.0, 66.0))
