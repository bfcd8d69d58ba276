"""The solver: many rows at once, each by itself; stands that must not move."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment import Framing, Subject, find_stands
from backbearing.alignment.stand.scene import Scene
from backbearing.alignment.stand.settled_stands import LensTimes, settle, settle_all
from backbearing.alignment.stand.solve import StandQuestions, solve_stands
from backbearing.camera import Camera, Lens
from backbearing.outing.outline import Outline
from backbearing.sky import CORE

if TYPE_CHECKING:
    from backbearing.terrain import Elevation

WHEN = dt.datetime(2027, 6, 6, 5, 30, tzinfo=dt.UTC)
PLACE = {"lat": 36.3726, "lon": -84.3602}
CAMERA = Camera()
UPRIGHT = Camera(orientation="portrait")
WAIST = Outline.of_widths([[0.0, 3.0], [2.0, 1.0], [4.5, 5.0], [7.0, 0.5]], height_m=7.0)


def fisheye(focal_mm: float) -> Lens:
    return Lens(focal_mm, projection="equisolid")


ASKED = {
    "wide": (
        Subject(**PLACE, height_m=6.0), Lens(14.0),
        Framing(share=0.36, base_margin=0.08, eye_height_m=1.4), CAMERA,
    ),
    "portrait": (
        Subject(**PLACE, height_m=6.0), Lens(35.0), Framing(share=0.45), UPRIGHT,
    ),
    "200 mm, aside": (
        Subject(**PLACE, height_m=12.0), Lens(200.0), Framing(share=0.3, offset_deg=-4.0), CAMERA,
    ),
    "fisheye": (Subject(**PLACE, height_m=9.0), fisheye(16.0), Framing(share=0.3), CAMERA),
    "level fisheye": (
        Subject(**PLACE, height_m=9.0), fisheye(16.0), Framing(share=0.3, level=True), CAMERA,
    ),
    "raised, level": (
        Subject(**PLACE, height_m=20.0), Lens(24.0, rise_mm=6.0),
        Framing(share=0.5, level=True), CAMERA,
    ),
    "width of an outline": (
        Subject(**PLACE, height_m=7.0, outline=WAIST), Lens(50.0),
        Framing(share=0.4, share_of="width"), CAMERA,
    ),
    "width, level": (
        Subject(**PLACE, height_m=7.0, width_m=11.0), Lens(28.0),
        Framing(share=0.6, share_of="width", level=True), CAMERA,
    ),
    "measured drop": (
        Subject(**PLACE, height_m=6.0), Lens(50.0), Framing(share=0.36, stand_drop_m=2.25), CAMERA,
    ),
    "on a mound": (
        Subject(**PLACE, height_m=8.0, base_height_m=6.0), Lens(24.0), Framing(share=0.4), CAMERA,
    ),
    "lower than the eye": (
        Subject(**PLACE, height_m=0.5), Lens(60.0),
        Framing(share=0.25, base_margin=0.0, eye_height_m=1.8), CAMERA,
    ),
    "level ground": (
        Subject(**PLACE, height_m=30.0), Lens(85.0), Framing(share=0.7, base_margin=0.05), UPRIGHT,
    ),
    "far off": (
        Subject(lat=36.35, lon=-84.30, height_m=40.0), Lens(120.0), Framing(share=0.2), CAMERA,
    ),
}  # fmt: skip

# Made by the solver of one lens and one minute at a time that commit 577d53f had: latitude,
# longitude, distance, ground, pitch, and how high the core falls in the frame: 4e-6 lower and 9e-6
# higher for "200 mm, aside" and "far off" since the air is that of the stand's own ground.
STOOD = {
    "wide": (
        36.3726973728691, -84.3602291446188,
        11.117090187, 436.153895532, 26.675824299, 0.465336194,
    ),
    "portrait": (
        36.3727164742387, -84.3602348618478,
        13.297899497, 436.229630242, 13.591360789, 0.665900642,
    ),
    "200 mm, aside": (
        36.3755643693854, -84.3608204542562,
        333.622738917, 442.041706129, 1.396466128, 3.854452770,
    ),
    "fisheye": (
        36.3727664178221, -84.3602498104704,
        18.999974140, 436.430623311, 28.152559049, 0.443264475,
    ),
    "level fisheye": (
        36.3727694206441, -84.3602507092462,
        19.342807289, 436.442844927, 0.000000000, 0.768958952,
    ),
    "raised, level": (
        36.3729503537570, -84.3603048645372,
        40.000000000, 437.207938949, 0.000000000, 0.680147531,
    ),
    "width of an outline": (
        36.3727510858660, -84.3602452214579,
        17.249519862, 436.368463907, 3.630070210, 1.243684743,
    ),
    "width, level": (
        36.3727248946392, -84.3602373821580,
        14.259259259, 436.263215921, 0.000000000, 1.001844373,
    ),
    "measured drop": (
        36.3729041575555, -84.3602910374762,
        34.725764228, 433.527600000, 11.940731903, 0.917582685,
    ),
    "on a mound": (
        36.3727526131224, -84.3602456785814,
        17.423887201, 436.374637594, 34.113713908, 0.308540182,
    ),
    "lower than the eye": (
        36.3726391317555, -84.3602117124948,
        4.467684349, 435.926859282, -12.261818118, 2.285668040,
    ),
    "level ground": (
        36.3734724230778, -84.3604611271382,
        99.604844352, 0.000000000, 9.869812904, 1.062759011,
    ),
    "far off": (
        36.3587732594188, -84.3026146996218,
        1001.419269236, 840.606180494, 6.102637844, 2.047323749,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", ASKED)
def test_stands_do_not_move(case: str, elevation: Elevation) -> None:
    subject, lens, framing, camera = ASKED[case]
    ground = None if case == "level ground" else elevation
    (stand,) = find_stands(
        subject, CORE, WHEN, camera, [lens], framing, ground, max_distance_m=3000.0
    )
    lat, lon, distance_m, ground_m, pitch_deg, y = STOOD[case]
    # A millionth of a metre on the ground is 9e-12 degree.
    assert (stand.lat, stand.lon) == pytest.approx((lat, lon), abs=9e-12)
    assert (stand.distance_m, stand.ground_m) == pytest.approx((distance_m, ground_m), abs=1e-6)
    assert (stand.pitch_deg, stand.target_y) == pytest.approx((pitch_deg, y), abs=1e-6)


def test_lenses_with_framings_and_moments_of_their_own_go_into_one_array(
    elevation: Elevation,
) -> None:
    # Of one subject, each with its lens, camera, share, eye, drop and minutes.
    oak = Subject(**PLACE, height_m=6.0, width_m=4.0)
    cases = ("wide", "portrait", "level fisheye", "width, level", "measured drop")
    asked = []
    for i, case in enumerate(cases):
        _, lens, framing, camera = ASKED[case]
        scene = Scene(oak, 436.0, CORE, camera, framing, elevation, reach_m=3000.0)
        minutes = [WHEN + dt.timedelta(minutes=7 * k - 3 * i) for k in range(i + 1)]
        asked.append(LensTimes(scene, lens, minutes))
    together = settle_all(asked)
    assert [len(one.pitch_deg) for one in together] == [1, 2, 3, 4, 5]
    for one, found in zip(asked, together, strict=True):
        alone = settle(one.scene, one.lens, one.times)
        assert found.places.distance_m == pytest.approx(alone.places.distance_m, abs=1e-7)
        assert found.places.lat == pytest.approx(alone.places.lat, abs=1e-12)
        assert found.share_width == pytest.approx(alone.share_width, abs=1e-9)
        assert found.clearance_deg == pytest.approx(alone.clearance_deg, abs=1e-6)
        assert found.in_frame.tolist() == alone.in_frame.tolist()


def questions(level_m: list[float], roots: list[list[float]]) -> StandQuestions:
    """Rows whose subject looks too large before each odd root and too small after it."""
    n = len(level_m)

    def excess(which, distance_m, rise_m):
        out = np.empty(np.broadcast_shapes(which.shape, distance_m.shape))
        for row, at in zip(which.ravel(), np.ndindex(len(which)), strict=True):
            d = np.atleast_2d(distance_m)[at] if distance_m.ndim > 1 else distance_m[at]
            out[at] = -np.prod([np.log(d / root) for root in roots[row]], axis=0)
        return out

    one = np.ones(n)
    return StandQuestions(
        base_m=0.0 * one,
        height_m=one,
        eye_height_m=0.5 * one,
        base_over_eye_m=-0.5 * one,
        level_m=np.array(level_m),
        refraction_k=0.13,
        excess=excess,
    )


def flat(which, distance_m):
    return np.zeros(np.broadcast_shapes(which.shape, distance_m.shape))


def test_the_root_nearest_to_level_ground_is_taken_by_ratio() -> None:
    asked = questions(
        [100.0, 100.0, 100.0, 100.0, 100.0, np.nan],
        [
            [50.0, 80.0, 130.0],  # 130 is nearer by ratio than 50
            [60.0, 90.0, 190.0],  # 60 is nearer
            [95.0, 103.0, 140.0],  # beside the level distance
            [599.0],  # the farthest that is looked for is six times as far
            [601.0],
            [100.0],  # no distance would do on level ground
        ],
    )
    found = asked.distances_m(flat)
    assert found[:4] == pytest.approx([130.0, 60.0, 95.0, 599.0], abs=1e-6)
    assert np.isnan(found[4:]).all()


def test_a_row_is_the_same_to_the_last_bit_in_any_company() -> None:
    rng = np.random.default_rng(11)
    n = 30_000
    height = rng.uniform(1.0, 60.0, n)
    base = rng.choice([-1.6, 4.0], n)

    def asked(rows) -> StandQuestions:
        tall, over = height[rows], base[rows]

        def excess(which, distance_m, rise_m):
            up = rise_m + tall[which]
            return np.arctan2(up, distance_m) - np.arctan2(rise_m, distance_m) - 0.2

        return StandQuestions(
            over, tall, 0.0 * tall, over, 4.5 * tall, refraction_k=0.13, excess=excess
        )

    def hills(rows):
        wave = 0.01 + 0.1 * height[rows]
        return lambda which, distance_m: np.sin(0.05 * distance_m * wave[which])

    together = asked(np.arange(n)).distances_m(hills(np.arange(n)))
    assert np.isfinite(together).mean() > 0.5
    for rows in (np.arange(7), np.arange(4000, 9000), np.arange(n - 1, n - 50, -1)):
        alone = asked(rows).distances_m(hills(rows))
        assert np.array_equal(alone, together[rows], equal_nan=True)


def test_unknown_ground_holds_no_stand_and_is_not_guessed_over() -> None:
    asked = questions([100.0, 100.0], [[103.0], [103.0]])
    asked = asked.rows(
        np.arange(2), lambda which, d, rise: np.where(np.isnan(rise), np.nan, np.log(103.0 / d))
    )

    def ground(which, distance_m):
        hole = np.array([102.9, 90.0])[which]
        return np.where(np.abs(distance_m - hole) < 0.2, np.nan, 0.0) + 0.0 * distance_m

    found = asked.distances_m(ground)
    assert np.isnan(found[0])
    assert found[1] == pytest.approx(103.0, abs=1e-6)


def test_the_azimuth_is_the_wanted_one_at_the_stand() -> None:
    # Wanted: 30 degrees and a hundredth more for each hundredth of a degree to the north.
    asked = questions([5000.0], [[5200.0]])
    places = solve_stands(
        asked,
        lat=np.array([60.0]),
        lon=np.array([10.0]),
        ground_along=lambda back: flat,
        wanted_azimuth_deg=lambda lat, lon: 30.0 + (lat - 60.0),
    )
    assert places.distance_m[0] == pytest.approx(5200.0, abs=1e-6)
    assert places.bearing_deg[0] == pytest.approx(30.0 + places.lat[0] - 60.0, abs=1e-7)
    # Back along 210 degrees: south and west of the subject, some 4.5 and 2.6 km.
    assert places.lat[0] == pytest.approx(60.0 - 4503.0 / 111_400.0, abs=2e-4)
    assert places.lon[0] < 10.0
