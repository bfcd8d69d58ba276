"""Stands: what must hold for any subject, lens and ground."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.alignment import Framing, Subject, find_stands
from backbearing.alignment.stand.solve import level_distance_m
from backbearing.base.errors import CameraError, OutingError, SkyError, TerrainError
from backbearing.camera import Camera, Lens
from backbearing.sky import CORE, Target, direction
from backbearing.terrain import Elevation

NIGHT = dt.datetime(2027, 6, 6, 4, 20, tzinfo=dt.UTC)
CAMERA = Camera(36.0, 24.0, 6000, 4000)
TREE = Subject(lat=36.3726, lon=-84.3602, height_m=6.0)


def slope(degrees: float, *, north: float = 36.45, west: float = -84.45) -> Elevation:
    """Ground that rises to the south by so many degrees."""
    from affine import Affine

    cell = 1 / 1200
    south_m = (np.arange(200) + 0.5) * cell * 110_960.0
    heights = 500.0 + np.tan(np.radians(degrees)) * south_m[:, None] * np.ones((1, 200))
    return Elevation.from_array(heights, Affine(cell, 0, west, 0, -cell, north), "EPSG:4326")


@given(
    angle=st.floats(0.01, 80.0),
    height=st.floats(0.1, 300.0),
    base=st.floats(-200.0, 200.0),
)
def test_level_distance_fills_the_angle(angle: float, height: float, base: float) -> None:
    distance = level_distance_m(angle, height, base)
    if math.isnan(distance):
        return
    seen = math.degrees(math.atan2(base + height, distance) - math.atan2(base, distance))
    assert seen == pytest.approx(angle, abs=1e-6)


@pytest.mark.slow
@given(
    share=st.floats(0.02, 0.6),
    margin=st.floats(0.0, 0.39),
    height=st.floats(0.5, 60.0),
    focal_length_mm=st.floats(10.0, 200.0),
    projection=st.sampled_from(["rectilinear", "equisolid"]),
)
def test_asked_share_and_margin_come_back(
    share: float, margin: float, height: float, focal_length_mm: float, projection: str
) -> None:
    lens = Lens(max(focal_length_mm, 15.0), projection=projection)  # type: ignore[arg-type]
    tree = Subject(lat=36.3726, lon=-84.3602, height_m=height)
    framing = Framing(share=share, base_margin=margin)
    (stand,) = find_stands(tree, CORE, NIGHT, CAMERA, [lens], framing)
    if math.isnan(stand.distance_m):
        # Seen from above its top, a small thing cannot fill a wide angle from anywhere.
        assert height < framing.eye_height_m
        assert "never fills" in stand.cautions[0]
        return
    assert stand.share == pytest.approx(share, abs=1e-7)
    assert stand.base_margin == pytest.approx(margin, abs=1e-7)


def test_a_small_subject_seen_from_above_its_top_is_not_missed() -> None:
    # Found by the property above: it fills the angle on 0.15 m of ground only.
    low = Subject(lat=36.3726, lon=-84.3602, height_m=0.5)
    framing = Framing(share=0.24478642620688115, base_margin=0.0)
    (stand,) = find_stands(low, CORE, NIGHT, CAMERA, [Lens(28.607421875)], framing)
    assert stand.share == pytest.approx(framing.share, abs=1e-7)
    # The mean proportional of 1.1 and 1.6 m is 1.33 m.
    assert 1.32 < stand.distance_m < 1.5


def test_larger_share_stands_nearer() -> None:
    distances = [
        find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(share=s))[0].distance_m
        for s in (0.1, 0.2, 0.4, 0.8)
    ]
    assert distances == sorted(distances, reverse=True)


def test_offset_puts_the_target_beside_the_subject() -> None:
    framing = Framing(offset_deg=5.0)
    (stand,) = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], framing)
    assert stand.target_azimuth_deg - stand.bearing_deg == pytest.approx(5.0, abs=1e-6)
    assert stand.target_x > 0.5


def test_right_behind_means_in_the_middle() -> None:
    for stand in find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(14.0), Lens(50.0)], Framing()):
        assert stand.target_x == pytest.approx(0.5, abs=1e-6)


def test_measured_drop_overrides_the_raster() -> None:
    hill = slope(12.0)
    flat = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(), None)[0]
    by_raster = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(), hill)[0]
    measured = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(stand_drop_m=0.0), hill)
    assert by_raster.ground_source == "raster"
    assert by_raster.ground_m < by_raster.distance_m * 0 + float(
        hill.height_at(lat=TREE.lat, lon=TREE.lon)
    )
    assert measured[0].ground_source == "measured drop"
    assert measured[0].distance_m == pytest.approx(flat.distance_m, rel=1e-9)
    assert abs(by_raster.distance_m - flat.distance_m) > 0.05


def test_a_stand_below_looks_up_more() -> None:
    low = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(stand_drop_m=3.0))[0]
    level = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(stand_drop_m=0.0))[0]
    assert low.pitch_deg > level.pitch_deg


def test_a_ridge_is_said() -> None:
    wall = slope(22.0)
    (stand,) = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(), wall)
    assert stand.clearance_deg < 0.0
    assert any("ridge hides" in caution for caution in stand.cautions)
    assert any("Steep ground" in caution for caution in stand.cautions)


def test_no_raster_means_no_skyline() -> None:
    (stand,) = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing())
    assert math.isnan(stand.skyline_deg)
    assert math.isnan(stand.clearance_deg)
    assert math.isnan(stand.skyline_break_deg)
    assert stand.ground_source == "flat"


def test_unknown_ground_gives_no_place() -> None:
    from affine import Affine

    # Ten cells about the subject and nothing more: a 400 mm lens wants a stand beyond them.
    tiny = Elevation.from_array(
        np.full((4, 4), 400.0), Affine(1e-4, 0, -84.3604, 0, -1e-4, 36.3728), "EPSG:4326"
    )
    (stand,) = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(400.0)], Framing(), tiny)
    assert math.isnan(stand.lat)
    assert not stand.in_frame
    assert "unknown" in stand.cautions[0]


def test_subject_off_the_raster_is_an_error() -> None:
    far = Subject(lat=10.0, lon=10.0, height_m=6.0)
    with pytest.raises(TerrainError, match="outside"):
        find_stands(far, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(), slope(0.0))


def test_a_subject_beside_a_void_is_not_said_to_stand_on_one() -> None:
    z = np.full((40, 40), 250.0)
    z[20, 21] = np.nan
    dem = Elevation.from_array(z, (0.001, 0, -84.02, 0, -0.001, 36.02), "EPSG:4326")
    beside = Subject(lat=35.9994, lon=-83.9992, height_m=6.0)
    on = Subject(lat=35.9994, lon=-83.9986, height_m=6.0)
    for subject, said in ((beside, r"beside a void \(its own cell says 250 m"), (on, "on a void")):
        with pytest.raises(TerrainError, match=said):
            find_stands(subject, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(), dem)


@pytest.mark.parametrize(("width_m", "said"), [(1.5, True), (0.5, True), (0.2, False)])
def test_a_tripod_within_the_subject_or_against_it_is_said(width_m: float, *, said: bool) -> None:
    # 0.7 m high and 0.69 m away: a cairn seen from above its top.
    cairn = Subject(lat=36.0, lon=-84.0, height_m=0.7, width_m=width_m)
    framing = Framing(share=0.6, eye_height_m=0.3)
    (found,) = find_stands(cairn, CORE, NIGHT, CAMERA, [Lens(14.0)], framing)
    assert 0.6 < found.distance_m < 0.75
    assert any("within it or against it" in caution for caution in found.cautions) == said


def test_naive_time_is_an_error() -> None:
    with pytest.raises(SkyError, match="zone"):
        find_stands(TREE, CORE, NIGHT.replace(tzinfo=None), CAMERA, [Lens(35.0)], Framing())


def test_across_the_antimeridian() -> None:
    island = Subject(lat=-16.5, lon=179.99999, height_m=6.0)
    when = dt.datetime(2027, 6, 6, 9, 0, tzinfo=dt.UTC)
    (stand,) = find_stands(island, CORE, when, CAMERA, [Lens(50.0)], Framing())
    assert -180.0 <= stand.lon <= 180.0
    assert stand.target_x == pytest.approx(0.5, abs=1e-6)


def test_near_the_zenith_the_bearing_is_doubted() -> None:
    # The core passes within two degrees of the zenith at 29.26 S (project's check list).
    south = Subject(lat=-29.2567, lon=-70.73, height_m=6.0)
    when = dt.datetime(2026, 7, 1, 3, 45, tzinfo=dt.UTC)
    (stand,) = find_stands(south, CORE, when, CAMERA, [Lens(35.0)], Framing())
    assert any("zenith" in caution for caution in stand.cautions)


def test_the_moon_can_be_the_target() -> None:
    when = dt.datetime(2027, 6, 18, 4, 0, tzinfo=dt.UTC)
    (stand,) = find_stands(TREE, Target.body("moon"), when, CAMERA, [Lens(50.0)], Framing())
    assert stand.target_azimuth_deg == pytest.approx(stand.bearing_deg, abs=1e-6)
    # The Moon falls behind the stars by half a degree an hour: slower than 15.04 cos(dec), and
    # its declination never passes 28.7 degrees.
    assert 12.5 < 60.0 / stand.play_minutes < 14.7


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        ({"lat": 91.0}, OutingError),
        ({"lon": 181.0}, OutingError),
        ({"height_m": 0.0}, OutingError),
        ({"width_m": -1.0}, OutingError),
        ({"height_m": float("nan")}, OutingError),
    ],
)
def test_impossible_subjects(wrong: dict[str, float], error: type[Exception]) -> None:
    with pytest.raises(error):
        Subject(**({"lat": 0.0, "lon": 0.0, "height_m": 1.0} | wrong))


@pytest.mark.parametrize(
    "wrong",
    [
        {"share": 0.0},
        {"share": 1.0},
        {"base_margin": 0.7},
        {"edge_margin": 0.5},
        {"eye_height_m": 0.0},
        {"offset_deg": 90.0},
        {"play_deg": 0.0},
    ],
)
def test_impossible_framings(wrong: dict[str, float]) -> None:
    with pytest.raises(CameraError, match=next(iter(wrong))):
        Framing(**wrong)


def falling(gradient: float) -> Elevation:
    """Ground that falls to the north, away from the subject, so much a metre."""
    from affine import Affine

    cell = 1 / 1200
    south_m = (np.arange(40) - 20.0) * cell * 110_960.0
    heights = 3_000.0 + gradient * south_m[:, None] * np.ones((1, 40))
    transform = Affine(cell, 0, TREE.lon - 20 * cell, 0, -cell, TREE.lat + 20.5 * cell)
    return Elevation.from_array(heights, transform, "EPSG:4326")


@pytest.mark.parametrize(
    ("gradient", "found"),
    [
        (1.8, True),  # 61 degrees: 4.4 times nearer than on the level
        (2.1, True),  # 65 degrees: 5.7 times
        (2.4, False),  # 67 degrees: it would be 7.2 times
    ],
)
def test_stands_are_sought_down_to_a_sixth_of_the_level_distance(
    gradient: float, *, found: bool
) -> None:
    # Seen from h = m d below its foot, a height H at the distance d subtends an angle of tangent
    # t = H d / (d^2 + h (h + H)), on the level t = H / L; so L / d = (1 + m^2) / (1 - m t).
    high = Subject(lat=TREE.lat, lon=TREE.lon, height_m=6.0)
    framing = Framing(share=0.05, eye_height_m=0.01, base_margin=0.0)
    # Due south the back bearing is straight down the fall.
    when = dt.datetime(2027, 6, 6, 6, 23, tzinfo=dt.UTC)
    level = find_stands(high, CORE, when, CAMERA, [Lens(50.0)], framing)[0]
    assert level.bearing_deg == pytest.approx(180.0, abs=2.0)
    (stand,) = find_stands(high, CORE, when, CAMERA, [Lens(50.0)], framing, falling(gradient))
    if not found:
        assert math.isnan(stand.distance_m)
        assert "falls or rises too fast" in stand.cautions[0]
        return
    assert stand.share == pytest.approx(0.05, abs=1e-7)
    nearer = (1.0 + gradient**2) / (1.0 - gradient * 6.0 / level.distance_m)
    assert level.distance_m / stand.distance_m == pytest.approx(nearer, rel=0.01)


@pytest.mark.parametrize(("slope_deg", "steep"), [(19.0, False), (21.0, True)])
def test_ground_is_called_steep_from_twenty_degrees(slope_deg: float, *, steep: bool) -> None:
    (stand,) = find_stands(TREE, CORE, NIGHT, CAMERA, [Lens(35.0)], Framing(), slope(slope_deg))
    assert any("Steep ground" in caution for caution in stand.cautions) is steep


@pytest.mark.parametrize(("lat", "doubted"), [(-8.3, False), (-9.7, True)])
def test_a_bearing_is_doubted_from_seventy_degrees_up(lat: float, *, doubted: bool) -> None:
    # At its highest a target stands 90 degrees less the difference of latitude and declination:
    # Sgr A* at -29.0 culminates 69.3 degrees up at 8.3 south, 70.7 at 9.7 south.
    subject = Subject(lat=lat, lon=0.0, height_m=6.0)
    evening = np.datetime64("2027-06-06T00:00") + np.arange(360) * np.timedelta64(1, "m")
    _, altitude = direction(CORE, lat=lat, lon=0.0, times=evening)
    highest = evening[int(np.argmax(altitude))].astype(dt.datetime).replace(tzinfo=dt.UTC)
    (stand,) = find_stands(subject, CORE, highest, CAMERA, [Lens(14.0)], Framing())
    assert stand.target_altitude_deg == pytest.approx(61.0 - lat, abs=0.1)
    assert any("zenith" in caution for caution in stand.cautions) is doubted


def test_a_subject_straight_overhead_has_no_stand_tipped_over_backwards() -> None:
    """A base far overhead and a margin above the middle ask for a pitch beyond 90 degrees."""
    mast = Subject(lat=46.0, lon=8.0, height_m=0.5, base_height_m=200.0)
    when = dt.datetime(2027, 6, 6, 0, 0, tzinfo=dt.UTC)
    framing, camera = Framing(share=0.0013, base_margin=0.0), Camera(orientation="portrait")
    [stand] = find_stands(mast, Target.star("Vega"), when, camera, [Lens(8.0)], framing)
    assert not stand.in_frame
    assert not abs(stand.pitch_deg) > 90.0


def test_a_stand_on_measured_ground_beyond_the_raster_says_that_nothing_is_known_there() -> None:
    # The core stands in the south: a hundred metres from the raster's north edge the stand is out.
    tree = Subject(lat=36.4495, lon=-84.3602, height_m=6.0)
    framing = Framing(share=0.02, stand_drop_m=0.5)
    (stand,) = find_stands(tree, CORE, NIGHT, CAMERA, [Lens(24.0)], framing, slope(1.0))
    assert stand.lat > 36.45
    assert math.isnan(stand.skyline_deg)
    assert math.isnan(stand.skyline_break_deg)
    assert stand.verdict == "unknown"
    assert any(
        "100 % of the ground" in said or "100% of the ground" in said for said in stand.cautions
    )
